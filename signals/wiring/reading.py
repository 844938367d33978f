"""What every wired input reads now: for whoever sets a loop's bands, or stands at a box with pliers.

Nothing is written to any device, so the lamps stay as they are.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import replace

from msgspec import Struct

from signals.outputs.base import POLL_MS
from signals.outputs.contact import reader_of
from signals.outputs.line import Line, lines_of
from signals.outputs.plant import MakeOutput, make_output, wired_nodes
from signals.outputs.protocols import number_points
from signals.venue.model import Venue
from signals.venue.wires import Circuit
from signals.words import InputKind


class Reading(Struct, frozen=True):
    """One input: what its points read, which circuit that makes (None: it cannot be read), and in words."""

    input: str
    kind: InputKind
    reads: dict[str, int]
    circuit: Circuit | None
    means: str


async def read_inputs(venue: Venue, make: MakeOutput = make_output) -> list[Reading]:
    """Read every wired input once, all devices side by side; the venue's table must be sound."""
    lines = [line for line in lines_of(venue.wires, number_points()) if line.ins]
    sensed = await asyncio.gather(*(_sensed(line, make) for line in lines))
    at = {point.ref: each for line, each in zip(lines, sensed, strict=True) for point in line.ins}
    wired = {name for node in wired_nodes(venue) for name in node.inputs}
    return [_reading(venue, each.id, each.kind, at) for each in venue.inputs if each.id in wired]


async def watch_inputs(venue: Venue, make: MakeOutput = make_output) -> AsyncIterator[Reading]:
    """Read again and again, and give each input first and then whenever its circuit changes."""
    last: dict[str, Reading] = {}
    while True:
        for each in await read_inputs(venue, make):
            if each.input not in last or last[each.input].circuit is not each.circuit:
                yield each
            last[each.input] = each
        await asyncio.sleep(POLL_MS / 1000)


async def _sensed(line: Line, make: MakeOutput) -> dict[str, int] | str:
    """Give what a device's inputs read, or why they cannot be read."""
    output = make(replace(line, outs=()), 0)
    try:
        return dict((await output.peek()).sensed)
    except OSError as reason:
        return f"{line}: {reason or type(reason).__name__}"


def _reading(venue: Venue, name: str, kind: InputKind, at: dict[str, dict[str, int] | str]) -> Reading:
    refs, read = reader_of(wire for wire in venue.wires if wire.place == name)
    sensed = at[refs[0]]
    if isinstance(sensed, str):
        return Reading(name, kind, {}, None, sensed)
    reads = {ref: sensed[ref] for ref in refs}
    circuit = read(reads)
    return Reading(name, kind, reads, circuit, circuit.means)
