"""The heads: whether each is heard, and whether it shows what it was told.

One that shows something LESS restrictive than due is the conflict monitor's matter. One that shows
something MORE restrictive for longer than it may take to obey does not do its work: it counts as lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.controller.echoes import Echo, Health
from signals.controller.nodes import Nodes
from signals.core.state import Event, Picture
from signals.mqtt.contract import Shown
from signals.venue.model import Venue
from signals.words import Aspect

_RANK = {aspect: rank for rank, aspect in enumerate(Aspect)}


@dataclass(slots=True)
class _Head:
    echo: Echo
    shown: Aspect | None = None
    obeyed_s: float = 0.0


class Heads:
    """What the heads report, compared with what is due."""

    def __init__(self, venue: Venue, nodes: Nodes) -> None:
        self._nodes = nodes
        self._obeys_within_s = venue.timing.settle / 1000
        leases = {node.id: node.lease_ms / 1000 for node in venue.nodes}
        self._heads = {head.id: _Head(Echo(head.node, leases[head.node])) for head in venue.heads}

    def hear(self, head: str, shown: Shown, sent_at_s: float | None) -> None:
        """Take a report; `sent_at_s` is when the beat it echoes was sent."""
        self._heads[head].shown = shown.aspect
        self._heads[head].echo.hear(sent_at_s)

    @property
    def shown(self) -> dict[str, Aspect | None]:
        """What each head last said it shows; None for one that was never heard."""
        return {name: head.shown for name, head in self._heads.items()}

    def sweep(self, picture: Picture, now_s: float, *, settling: bool) -> Iterator[Event]:
        """Give what is to be reported of the heads now; one out of service is left alone."""
        for name, head in self._heads.items():
            health, reason = self._judge(head, picture.aspects[name], now_s, settling=settling)
            if health is Health.ILL and picture.heads[name] == "ok":
                yield Event("head-lost", fields={"head": name, "reason": reason})
            elif health is Health.WELL and picture.heads[name] == "lost":
                yield Event("head-back", fields={"head": name})

    def _judge(
        self, head: _Head, due: tuple[Aspect, int | None, str | None], now_s: float, *, settling: bool
    ) -> tuple[Health, str]:
        health, reason = head.echo.judge(self._nodes, now_s, settling=settling)
        aspect, _, lamp = due
        darker = head.shown is not None and lamp is None and _RANK[head.shown] < _RANK[aspect]
        if not darker or health is not Health.WELL:
            head.obeyed_s = now_s
            return health, reason
        if now_s - head.obeyed_s <= self._obeys_within_s:
            return Health.UNSURE, ""
        return Health.ILL, f"shows {head.shown} where {aspect} is due"
