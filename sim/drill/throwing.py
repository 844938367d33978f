"""What an instructor lets happen on a track that runs: asked for under a name of its own."""

from __future__ import annotations

import uuid

from signals.mqtt.contract import Inject

TO_NOBODY = "nobody answers for {to}; does the drill run yet?"
"""What is said where nothing came back."""


def event(
    name: str,
    *,
    kart: int | None = None,
    head: str | None = None,
    where: str | None = None,
    wired: str | None = None,
    for_s: float | None = None,
) -> Inject:
    """Give what asks for an event: to which kart or head, in which sector, at which input, for how long."""
    return Inject(
        id=f"by-{uuid.uuid4().hex[:12]}",
        event=name,
        kart=kart,
        head=head,
        where=where,
        input=wired,
        for_ms=None if for_s is None else round(for_s * 1000),
    )
