"""What is wrong with how a wiring table watches its inputs: by two contacts each, or by a loop with bands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from signals.outputs.contact import BREAK, LOOP, MAKE
from signals.outputs.plant import wired_nodes
from signals.outputs.protocols import protocols
from signals.venue.model import Venue
from signals.venue.read import listed
from signals.venue.wires import BANDED, BANDS_RIGHT, Circuit, Wire
from signals.wiring.found import Found

GAPS = 50
"""Between two bands of a loop lies at least such a part of all it can read; typical, no source."""


def points(venue: Venue) -> Iterator[Found]:
    """Want a loop on a point that reads numbers, with bands; nothing else there, and no bands elsewhere."""
    names = {each.id for each in venue.inputs}
    for wire in venue.wires:
        is_loop = wire.place in names and wire.aspect == LOOP
        if wire.direction == "in":
            yield from _point(wire, is_loop=is_loop)
        if is_loop:
            yield from _bands(wire)
        elif wire.bands:
            yield Found(wire.row, "bands", wire.bands, "must be empty: only the loop of an input has bands")


def _point(wire: Wire, *, is_loop: bool) -> Iterator[Found]:
    protocol = protocols().get(wire.protocol)
    kind = protocol.points.get(wire.point_type) if protocol else None
    if protocol is None or kind is None or kind.direction != "in" or kind.number == is_loop:
        return
    able = [
        name for name, each in protocol.points.items() if each.direction == "in" and each.number == is_loop
    ]
    what = "a loop reads a number" if is_loop else "a contact reads on or off"
    right = f"{what}: {f'give {listed(able)}' if able else f'{wire.protocol} has no such point'}"
    yield Found(wire.row, "point_type", wire.point_type, right)


def _bands(wire: Wire) -> Iterator[Found]:
    given, shown = wire.circuits, wire.bands or ""
    count = Counter(circuit for circuit, _ in given)
    if unclear := [circuit for circuit in BANDED if count[circuit] != 1]:
        right = f"must name each state once ({', '.join(unclear)}); give {BANDS_RIGHT}"
        yield Found(wire.row, "bands", shown, right)
    backwards = [circuit for circuit, band in given if not band]
    if backwards:
        yield Found(wire.row, "bands", shown, f"{listed(backwards)} ends before it begins")
    if not unclear and not backwards:
        yield from _apart(wire, sorted(given, key=lambda each: each[1].start))


def _apart(wire: Wire, bands: list[tuple[Circuit, range]]) -> Iterator[Found]:
    """Want cut and short at the ends, and room between bands: what reads there is no state but a fault."""
    shown = wire.bands or ""
    if {bands[0][0], bands[-1][0]} != {Circuit.SHORT, Circuit.OPEN}:
        right = "must have short and open at its ends: nothing reads beyond a cut or a shorted wire"
        yield Found(wire.row, "bands", shown, right)
    least = max(1, (bands[-1][1].stop - bands[0][1].start) // GAPS)
    for (below, low), (above, high) in pairwise(bands):
        gap = high.start - low.stop
        if gap < least:
            what = "overlap" if gap < 0 else f"are {gap} apart"
            right = f"{below} and {above} {what}; leave at least {least} between them, to mean a fault"
            yield Found(wire.row, "bands", shown, right)


def complete(venue: Venue) -> Iterator[Found]:
    """Want each input that a wired node has to be watched by two contacts on one device, or by a loop."""
    names = {name for node in wired_nodes(venue) for name in node.inputs}
    for each in (each for each in venue.inputs if each.id in names):
        rows = [wire for wire in venue.wires if wire.place == each.id]
        row = min((wire.row for wire in rows), default=0)
        count = Counter(wire.aspect for wire in rows)
        for contact in (LOOP,) if count[LOOP] else (MAKE, BREAK):
            if count[contact] != 1:
                why = "with one contact a cut wire looks like rest"
                yield Found(row, "place", each.id, f"has {count[contact] or 'no'} row for {contact}; {why}")
        if count[LOOP] and (count[MAKE] or count[BREAK]):
            yield Found(row, "place", each.id, "has a loop and contacts; give the loop, or make and break")
        if len({(wire.protocol, wire.host, wire.port, wire.unit) for wire in rows}) > 1:
            yield Found(row, "place", each.id, "has its contacts on two devices; they must be read together")
