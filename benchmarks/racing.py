"""A group of every kart, brought from closed to racing by calls: what the other benchmarks look at."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from signals.caller import Caller
from signals.cli.options import DEFAULT_VENUE
from signals.mqtt.contract import Entry
from signals.venue.model import Venue

TRIES = 40
HEARD_WITHIN_S = 2.0
"""By then every node has reported; what was not heard when the first call comes counts as lost."""


def everyone_drives(folder: Path) -> Path:
    """Write the demo venue, allowed to mix classes: all its karts can race together."""
    text = DEFAULT_VENUE.read_text(encoding="utf-8")
    written = folder / DEFAULT_VENUE.name
    written.write_text(text.replace("mixed_classes = false", "mixed_classes = true"), encoding="utf-8")
    return written


async def accepted(caller: Caller, call: str, **fields: Any) -> None:
    """Call until it is accepted, as a person would; a refusal that stays ends the benchmark."""
    for _ in range(TRIES):
        answer = await caller.ask({"call": call, **fields})
        if answer is not None and answer.accepted:
            return
        await asyncio.sleep(0.25)
    raise SystemExit(f"{call}: {answer.refusals if answer else 'no answer'}")


async def bring_in(caller: Caller, venue: Venue) -> None:
    """Bring a group of every kart in and have it confirmed."""
    await asyncio.sleep(HEARD_WITHIN_S)
    entries = [
        Entry(number=kart.number, driver=f"Driver {kart.number}", class_=kart.class_) for kart in venue.karts
    ]
    await accepted(caller, "prepare", entries=entries)
    await accepted(caller, "stage")
    for item in venue.checklist:
        await accepted(caller, "confirm", item=item.id)


async def bring_out(caller: Caller, venue: Venue) -> None:
    """Start, and let one kart out after another."""
    await accepted(caller, "arm")
    await accepted(caller, "start")
    for kart in venue.karts:
        await accepted(caller, "let-out", kart=kart.number)
