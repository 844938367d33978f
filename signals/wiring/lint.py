"""What is wrong with a wiring table that can be read: every finding with its row and column.

`lint` looks at the table and at the venue it belongs to; `check` refuses a table with any finding,
for whoever is about to drive lamps by it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from signals.errors import BadInput, Finding
from signals.outputs.base import REFRESH_MS
from signals.outputs.contact import BREAK, LOOP, MAKE
from signals.outputs.lamps import RANK
from signals.outputs.plant import wired_nodes
from signals.outputs.protocols import PointType, Protocol, protocols
from signals.venue.model import Head, Venue
from signals.venue.read import listed, nearest
from signals.venue.wires import ABSENT_MS, Wire, column
from signals.wiring import circuits
from signals.wiring.found import Found, Lint
from signals.words import Aspect, HeadRole

WATCHDOG_LEAST_MS = 2 * REFRESH_MS[0] + 100
"""Two of the usual refreshes of 250 ms."""
HEADS_PER_SECTOR = 2


def lint(venue: Venue) -> list[Finding]:
    """Give every finding about a venue's wiring table, in the table's order."""
    file = venue.wiring.name if venue.wiring else Path(venue.path).name
    if not venue.wiring:
        return [Finding(file, 0, "wiring.table", "", "is missing; name the CSV file of the wiring table")]
    found = {one for each in LINTS for one in each(venue)}
    return sorted(Finding(file, row, column(name), value, right) for row, name, value, right in found)


def check(venue: Venue) -> None:
    """Raise BadInput with every finding, if there is any."""
    if findings := lint(venue):
        raise BadInput(findings)


# --- each wire by itself


def _tags(venue: Venue) -> Iterator[Found]:
    first: dict[str, int] = {}
    for wire in venue.wires:
        if first.setdefault(wire.ref, wire.row) != wire.row:
            yield Found(wire.row, "ref", wire.ref, f"is the tag of row {first[wire.ref]} already")


def _places(venue: Venue) -> Iterator[Found]:
    lamps = {head.id: sorted(_lamps(head)) for head in venue.heads}
    inputs = {each.id: [MAKE, BREAK, LOOP] for each in venue.inputs}
    for wire in venue.wires:
        known = {**lamps, **inputs}.get(wire.place)
        if known is None:
            near = nearest(wire.place, [*lamps, *inputs])
            yield Found(wire.row, "place", wire.place, f"is neither a head nor an input of the venue{near}")
        elif wire.aspect not in known:
            what = "no lamp of" if wire.place in lamps else "no contact of"
            yield Found(wire.row, "aspect", wire.aspect, f"is {what} {wire.place}; give {listed(known)}")
        elif wire.direction == "out" and wire.place in inputs:
            yield Found(wire.row, "direction", "out", f"must be in: {wire.place} is an input")


def _real(venue: Venue) -> Iterator[Found]:
    """Find wires of simulated nodes, which are run elsewhere: two would speak for one head."""
    of = {name: node for node in venue.nodes for name in (*node.heads, *node.inputs)}
    for wire in venue.wires:
        node = of.get(wire.place)
        if node is not None and node.simulated:
            yield Found(wire.row, "place", wire.place, f"hangs on node {node.id}, which is simulated")


def _protocols(venue: Venue) -> Iterator[Found]:
    for wire in venue.wires:
        protocol = protocols().get(wire.protocol)
        if protocol is None:
            right = f"is not known{nearest(wire.protocol, protocols())}; known: {listed(protocols())}"
            yield Found(wire.row, "protocol", wire.protocol, right)
        else:
            yield from _by_protocol(wire, protocol)


def _by_protocol(wire: Wire, protocol: Protocol) -> Iterator[Found]:
    for name in sorted(protocol.needs):
        if not getattr(wire, name) and getattr(wire, name) != 0:
            yield Found(wire.row, name, "", f"is missing; {protocol.name} needs it")
    if wire.unit is not None and protocol.units:
        low, high = protocol.units
        if not low <= wire.unit <= high:
            yield Found(wire.row, "unit", str(wire.unit), f"must be {low} to {high} for {protocol.name}")
    kind = protocol.points.get(wire.point_type)
    if kind is None:
        right = f"is no point of {protocol.name}; known: {listed(protocol.points)}"
        yield Found(wire.row, "point_type", wire.point_type, right)
        return
    if kind.direction != wire.direction:
        way = f"a {wire.point_type} of {protocol.name} goes {kind.direction}"
        yield Found(wire.row, "direction", wire.direction, f"must be {kind.direction}: {way}")
    yield from _address(wire, kind)
    if wire.direction == "out":
        yield from _safe_state(wire, protocol, kind)


def _address(wire: Wire, kind: PointType) -> Iterator[Found]:
    shown = str(wire.address)
    if wire.point < 0:
        yield Found(wire.row, "address", shown, "does not exist where papers count from 1")
    elif kind.prefix and kind.prefix < wire.address <= kind.prefix + 9_999:
        right = f"is old papers' way to say {wire.point_type} {wire.address - kind.prefix}, counted from 1"
        yield Found(wire.row, "address", shown, right)
    elif wire.point > kind.highest:
        last = kind.highest + wire.address_base
        yield Found(wire.row, "address", shown, f"must be {wire.address_base} to {last}")


def _safe_state(wire: Wire, protocol: Protocol, kind: PointType) -> Iterator[Found]:
    if wire.fail_state is None:
        right = "is missing: what is this lamp when the device is left alone, on or off?"
        yield Found(wire.row, "fail_state", "", right)
    elif kind.number and wire.fail_state == "on":
        yield Found(wire.row, "fail_state", "on", "must be off: a display falls dark")
    elif protocol.energised_only and (wire.fail_state == "on") != wire.invert:
        right = f"a pin of {protocol.name} falls de-energised: fail off, or fail on with invert yes"
        yield Found(wire.row, "fail_state", wire.fail_state, right)
    if wire.watchdog_ms is None:
        yield Found(wire.row, "watchdog_ms", "", "is missing: the device's write watchdog in ms, or none")
    elif wire.watchdog_ms and not protocol.can_watch:
        yield Found(wire.row, "watchdog_ms", str(wire.watchdog_ms), f"must be none: {protocol.name} has none")
    elif ABSENT_MS < wire.watchdog_ms < WATCHDOG_LEAST_MS:
        right = f"must be at least {WATCHDOG_LEAST_MS}: two refreshes"
        yield Found(wire.row, "watchdog_ms", str(wire.watchdog_ms), right)


# --- wires beside each other


def _addresses(venue: Venue) -> Iterator[Found]:
    taken: dict[tuple[str, str, int | None, int | None, str, int], Wire] = {}
    for wire in venue.wires:
        protocol = protocols().get(wire.protocol)
        kind = protocol.points.get(wire.point_type) if protocol else None
        space = wire.point_type if wire.protocol.startswith("modbus") else wire.protocol
        for offset in range(kind.size if kind else 0):
            key = (wire.protocol, wire.host, wire.port, wire.unit, space, wire.point + offset)
            first = taken.setdefault(key, wire)
            if first is not wire:
                counts = f", where it is {first.address} counted from {first.address_base}"
                as_there = first.address_base == wire.address_base
                right = f"is taken by row {first.row}{'' if as_there else counts}"
                yield Found(wire.row, "address", str(wire.address), right)


def _bases(venue: Venue) -> Iterator[Found]:
    """Want one way to count in a device, which has one set of papers: else something is off by one."""
    for rows in _devices(venue).values():
        counts = Counter(wire.address_base for wire in rows)
        if len(counts) > 1:
            usual = counts.most_common(1)[0][0]
            for wire in rows:
                if wire.address_base != usual:
                    right = f"is {usual} in the other rows of this device: one of them is off by one"
                    yield Found(wire.row, "address_base", str(wire.address_base), right)


def _watchdogs(venue: Venue) -> Iterator[Found]:
    for rows in _devices(venue).values():
        told = [wire for wire in rows if wire.direction == "out" and wire.watchdog_ms is not None]
        for wire in told:
            if wire.watchdog_ms != told[0].watchdog_ms:
                right = f"differs from row {told[0].row}: a device has one watchdog"
                yield Found(wire.row, "watchdog_ms", str(wire.watchdog_ms or "none"), right)


def _devices(venue: Venue) -> dict[tuple[object, ...], list[Wire]]:
    found: dict[tuple[object, ...], list[Wire]] = {}
    for wire in venue.wires:
        found.setdefault((wire.protocol, wire.host, wire.port, wire.unit), []).append(wire)
    return found


def _feedback(venue: Venue) -> Iterator[Found]:
    rows = {wire.ref: wire for wire in venue.wires}
    first: dict[str, int] = {}
    for wire in venue.wires:
        if wire.feedback_ref is None:
            continue
        sensor = rows.get(wire.feedback_ref)
        if wire.direction == "in":
            yield Found(wire.row, "feedback_ref", wire.feedback_ref, "must be empty: only a lamp is proven")
        elif sensor is None:
            right = f"is no tag of this table{nearest(wire.feedback_ref, rows)}"
            yield Found(wire.row, "feedback_ref", wire.feedback_ref, right)
        elif sensor.direction != "in" or (sensor.place, sensor.aspect) != (wire.place, wire.aspect):
            right = f"must be an input with place {wire.place} and aspect {wire.aspect}"
            yield Found(wire.row, "feedback_ref", wire.feedback_ref, right)
        elif first.setdefault(wire.feedback_ref, wire.row) != wire.row:
            right = f"is shared with row {first[wire.feedback_ref]}: it would prove either of them"
            yield Found(wire.row, "feedback_ref", wire.feedback_ref, right)


def _sensors(venue: Venue) -> Iterator[Found]:
    """Want sensors at all lamps of a head or at none: half a proof says nothing."""
    asked = {wire.feedback_ref for wire in venue.wires}
    heads = {head.id for head in venue.heads}
    for wire in venue.wires:
        if wire.direction == "in" and wire.place in heads and wire.ref not in asked:
            yield Found(wire.row, "ref", wire.ref, "is a sensor that no lamp names as its feedback_ref")
    for head, rows in _outs(venue).items():
        bare = [wire for wire in rows if wire.feedback_ref is None]
        if head in heads and 0 < len(bare) < len(rows):
            for wire in bare:
                yield Found(wire.row, "feedback_ref", "", f"is missing: other lamps of {head} have sensors")


def _universes(venue: Venue) -> Iterator[Found]:
    """Want each universe sent to one place: it is one number in the whole network."""
    first: dict[tuple[str, int | None], Wire] = {}
    for wire in venue.wires:
        protocol = protocols().get(wire.protocol)
        if protocol is None or not protocol.lone_writer:
            continue
        known = first.setdefault((wire.protocol, wire.unit), wire)
        if (known.host, known.port) != (wire.host, wire.port):
            right = f"overlaps: row {known.row} sends universe {wire.unit} to {known.host} already"
            yield Found(wire.row, "unit", str(wire.unit), right)


# --- heads, inputs, sectors


def _heads(venue: Venue) -> Iterator[Found]:
    outs = _outs(venue)
    for head in _wired_heads(venue):
        rows = outs.get(head.id, [])
        row = min((wire.row for wire in rows), default=0)
        lit = Counter(wire.aspect for wire in rows)
        if missing := sorted(_lamps(head) - lit.keys()):
            what = "has no red" if "red" in missing else f"has no row for its lamp {listed(missing)}"
            yield Found(row, "place", head.id, f"{what}; every lamp needs an out")
        for wire in rows:
            if lit[wire.aspect] > 1:
                yield Found(wire.row, "aspect", wire.aspect, f"is driven by {lit[wire.aspect]} rows")
        yield from _left_alone(venue, head, rows)


def _left_alone(venue: Venue, head: Head, rows: list[Wire]) -> Iterator[Found]:
    """Left alone, a head shows what its fail states make: at least as restrictive as its fail aspect."""
    if any(wire.fail_state is None for wire in rows) or not rows:
        return
    shown = aspect_of(head, frozenset(wire.aspect for wire in rows if wire.fail_state == "on"))
    due = venue.choices.fail_aspect[head.role]
    steady = Aspect.YELLOW if due is Aspect.YELLOW_FLASH else due
    if RANK[shown] > RANK[steady]:
        lamp = " and ".join(head.aspects[due])
        right = f"leaves {head.id} {shown} when the device is left alone; let {lamp} fail on, {due} is due"
        yield Found(min(wire.row for wire in rows), "fail_state", "", right)


def _sectors(venue: Venue) -> Iterator[Found]:
    """Want two heads on two nodes for every sector: no single one darkens it."""
    for sector in venue.sectors:
        heads = [head for head in venue.heads if sector.id in head.protects]
        wired = [head for head in heads if head in _wired_heads(venue)]
        on_track = [head for head in heads if head.role in (HeadRole.TRACK, HeadRole.FINISH)]
        if not wired:
            continue
        row = min((wire.row for wire in venue.wires if wire.place == wired[0].id), default=0)
        if len(on_track) < HEADS_PER_SECTOR:
            right = f"sector {sector.id} has {len(on_track) or 'no'} head for drivers in it; it needs two"
            yield Found(row, "place", wired[0].id, right)
        elif len({head.node for head in on_track}) < HEADS_PER_SECTOR:
            right = f"all heads of sector {sector.id} hang on node {on_track[0].node}; it needs two"
            yield Found(row, "place", wired[0].id, right)


LINTS: tuple[Lint, ...] = (
    _tags,
    _places,
    circuits.points,
    _real,
    _protocols,
    _addresses,
    _bases,
    _watchdogs,
    _feedback,
    _sensors,
    _universes,
    _heads,
    circuits.complete,
    _sectors,
)


def aspect_of(head: Head, lit: frozenset[str]) -> Aspect:
    """Give what a head shows with just these lamps lit steadily; the least restrictive where several fit."""
    alike = [aspect for aspect, lamps in head.aspects.items() if lamps and lit.issuperset(lamps)]
    steady = [aspect for aspect in alike if not aspect.endswith("-flash")]
    flashing = {Aspect.YELLOW_FLASH: Aspect.YELLOW}
    return max(steady or [flashing.get(a, a) for a in alike], key=RANK.__getitem__, default=Aspect.DARK)


def _lamps(head: Head) -> set[str]:
    return {lamp for lamps in head.aspects.values() for lamp in lamps}


def _outs(venue: Venue) -> dict[str, list[Wire]]:
    rows = sorted((wire for wire in venue.wires if wire.direction == "out"), key=lambda wire: wire.place)
    return {place: list(group) for place, group in groupby(rows, key=lambda wire: wire.place)}


def _wired_heads(venue: Venue) -> list[Head]:
    names = {name for node in wired_nodes(venue) for name in node.heads}
    return [head for head in venue.heads if head.id in names]
