"""What hangs where: device, serial number and firmware of every place; and the head to be cut off today."""

from __future__ import annotations

from collections.abc import Iterable

from signals.opening.looks import where_of
from signals.opening.rows import Kind, in_track_order, kart_place
from signals.opening.sheet import Device, Sheet
from signals.sequence.observer import Observer
from signals.venue.model import Venue
from signals.venue.wires import Wire


def devices_of(venue: Venue, ears: Observer) -> dict[str, Device]:
    """Give the device at every place, by the wiring table where it has one, and by what nodes say."""
    found = {head.id: _device(venue, ears, head.id, head.node, where_of(venue, head)) for head in venue.heads}
    found |= {each.id: _device(venue, ears, each.id, each.node, each.kind) for each in venue.inputs}
    for kart in venue.karts:
        found[kart_place(kart.number)] = _device(
            venue, ears, "", kart.node, f"kart {kart.number}, {kart.class_}"
        )
    return found


def _device(venue: Venue, ears: Observer, place: str, node: str, where: str) -> Device:
    wire = next((wire for wire in venue.wires if wire.place == place), None)
    status = ears.nodes.get(node)
    says = status.firmware if status else ""
    if wire is None:
        return Device(device=f"node {node}", serial="", firmware=says, where=where)
    return Device(
        device=f"{_address(wire)}, node {node}",
        serial=wire.serial,
        firmware=wire.firmware or says,
        where=where,
    )


def _address(wire: Wire) -> str:
    unit = "" if wire.unit is None else f" unit {wire.unit}"
    return f"{wire.protocol} {wire.host}{f':{wire.port}' if wire.port else ''}{unit}"


def cut_today(venue: Venue, signed: Iterable[Sheet]) -> str:
    """Give the head whose turn it is to be cut off: the one longest not, in the order of the track."""
    last: dict[str, str] = {}
    for sheet in signed:
        for id_, tries in sheet.tries.items():
            head, _, rest = id_.partition("/")
            if rest == Kind.CUT and tries.left.outcome in ("passed", "failed"):
                last[head] = max(last.get(head, ""), sheet.day)
    return min((head.id for head in in_track_order(venue)), key=lambda head: last.get(head, ""))
