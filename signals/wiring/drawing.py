"""A terminal drawing of one head or one input: every wire from the device's point to the lamp or contact.

Lamps are told by letter, never by colour: the drawing is printed on whatever printer is there.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from signals.outputs.contact import BREAK, LOOP
from signals.venue.model import Head, Input, Venue
from signals.venue.wires import ABSENT_MS, Wire
from signals.wiring.svg import BODY, SMALL, THIN, TITLE, box, contact, dot, fuse, line, page, resistor, text

WIDTH, HEIGHT = 1120, 780
"""A4 across, within its margins; many wires make a longer sheet."""
LEFT, RIGHT = 24, 1096
ROW, LOOP_ROW, CAPTION = 46, 132, 30
TOP = 112
DEVICE_X, DEVICE_W = 24, 226
TAG_X, TERMINAL_X, FUSE_X = 262, 436, 600
PLACE_X, PLACE_W = 700, 396
FOOT = 56


def terminal_drawing(venue: Venue, place: Head | Input) -> str:
    """Draw the wires of a head or an input, device by device; sensors are squares, lamps circles."""
    wires = [wire for wire in venue.wires if wire.place == place.id]
    y, shapes = TOP, [*_title(venue, place)]
    for device, rows in groupby(wires, key=_device):
        of_device = list(rows)
        height = sum(_height(wire) for wire in of_device)
        shapes.append(text(LEFT, y + 20, f"{device}{_made(of_device)}, {_watchdog(of_device)}", SMALL))
        y += CAPTION
        shapes += [box(DEVICE_X, y, DEVICE_W, height), box(PLACE_X, y, PLACE_W, height)]
        for wire in of_device:
            shapes += _wire(wire, y + min(_height(wire), ROW) // 2)
            y += _height(wire)
    bottom = max(HEIGHT, y + FOOT + 30)
    shapes += _foot(venue, place, bottom - FOOT)
    return page(WIDTH, bottom, shapes)


def _title(venue: Venue, place: Head | Input) -> Iterator[str]:
    yield text(LEFT, 40, place.id, TITLE, bold=True)
    yield text(RIGHT, 40, venue.name, TITLE, at="end")
    yield text(LEFT, 64, _stands(place))
    yield line((LEFT, 78), (RIGHT, 78))
    for x, title in (
        (DEVICE_X, "Device: point"),
        (TAG_X, "Tag, cable / core"),
        (TERMINAL_X + 12, "Terminal"),
        (FUSE_X, "Fuse"),
        (PLACE_X, "Head: lamp" if isinstance(place, Head) else "Input"),
    ):
        yield text(x, 100, title, BODY, bold=True)


def _stands(place: Head | Input) -> str:
    if isinstance(place, Head):
        where = f"{place.role} head, {place.side} at {place.at_m:g} m, protects {', '.join(place.protects)}"
    else:
        where = f"{place.kind}, {f'acts in {place.sector}' if place.sector else 'acts everywhere'}"
    return f"{where}; node {place.node}"


def _device(wire: Wire) -> str:
    where = ":".join(str(part) for part in (wire.host, wire.port) if part)
    unit = "" if wire.unit is None else f" unit {wire.unit}"
    return f"{wire.protocol} {where}{unit}"


def _made(wires: list[Wire]) -> str:
    """Say a device's serial number, which need not stand in each of its rows."""
    serial = next((wire.serial for wire in wires if wire.serial), "")
    return f", serial {serial}" if serial else ""


def _watchdog(wires: list[Wire]) -> str:
    """Say what a device does when writes stop, and how its papers count."""
    counts = f"counted from {wires[0].address_base}"
    outs = [wire.watchdog_ms for wire in wires if wire.watchdog_ms is not None]
    if not outs:
        return counts
    return f"{'no watchdog' if max(outs) == ABSENT_MS else f'watchdog {max(outs)} ms'}, {counts}"


def _height(wire: Wire) -> int:
    return LOOP_ROW if wire.aspect == LOOP and wire.bands else ROW


def _wire(wire: Wire, y: int) -> Iterator[str]:
    yield line((DEVICE_X + DEVICE_W, y), (PLACE_X, y))
    yield text(DEVICE_X + 12, y + 1, f"{wire.point_type} {wire.address}", BODY, bold=True)
    fails = f"fails {wire.fail_state}" if wire.fail_state else ""
    inverted = "inverted" if wire.invert else ""
    yield text(DEVICE_X + 12, y + 15, ", ".join(part for part in (fails, inverted) if part), SMALL)
    yield text(TAG_X, y - 6, wire.ref)
    yield text(TAG_X, y + 16, " / ".join(part for part in (wire.cable, wire.core) if part) or "–", SMALL)
    yield dot(TERMINAL_X, y, 5)
    yield text(TERMINAL_X + 12, y - 6, wire.terminal or "–")
    if wire.fuse:
        yield fuse(FUSE_X, y)
        yield text(FUSE_X, y - 11, wire.fuse, SMALL)
    yield from _end(wire, y)


def _end(wire: Wire, y: int) -> Iterator[str]:
    """Draw what is at the wire's end."""
    if wire.bands:
        yield from _loop(wire, y)
    elif wire.place and wire.aspect in ("make", BREAK):
        yield line((PLACE_X, y), (PLACE_X + 76, y))
        yield contact(PLACE_X + 18, y, closed=wire.aspect == BREAK)
        yield from _said(
            wire, y, f"{wire.aspect}: {'opens' if wire.aspect == BREAK else 'closes'} when active"
        )
    else:
        yield from _lamp(wire, y)


def _lamp(wire: Wire, y: int) -> Iterator[str]:
    x = PLACE_X + 44
    is_lamp = wire.direction == "out"
    yield line((PLACE_X, y), (x - 15, y))
    yield dot(x, y, 15) if is_lamp else box(x - 14, y - 14, 28, 28)
    yield text(x, y + 5, wire.aspect[:1].upper(), BODY, bold=True, at="middle")
    proven = f", proven by {wire.feedback_ref}" if wire.feedback_ref else ", not proven"
    yield from _said(wire, y, f"{wire.aspect}{proven}" if is_lamp else f"sensor of {wire.aspect}")


def _said(wire: Wire, y: int, what: str) -> Iterator[str]:
    """Say what is there, and leave room for the day it was seen."""
    yield text(PLACE_X + 88, y + 5, what, BODY)
    yield from _tick(wire, y)


def _tick(wire: Wire, y: int) -> Iterator[str]:
    x = RIGHT - 104
    yield box(x, y - 8, 16, 16, stroke=THIN)
    if wire.tested_on:
        yield text(x + 22, y + 5, wire.tested_on, SMALL)
    else:
        yield line((x + 22, y + 7), (RIGHT - 10, y + 7), width=THIN)


def _loop(wire: Wire, y: int) -> Iterator[str]:
    """Draw a box with its two resistors, the return core, and what each state reads."""
    near, far, below, back = PLACE_X + 20, PLACE_X + 168, y + 46, y + 86
    yield line((PLACE_X, y), (near, y), (near, below), (far, below), (far, back), (PLACE_X, back))
    yield line((near, y), (far, y), (far, below))
    yield contact(near + 10, y, closed=False)
    yield resistor(near + 76, y)
    yield resistor(near + 52, below)
    yield from (dot(near, y, 2.5, "black"), dot(far, below, 2.5, "black"))
    yield text(near + 46, below + 22, "end of line", SMALL)
    yield line((DEVICE_X + DEVICE_W, back), (PLACE_X, back))
    yield text(DEVICE_X + 12, back + 5, "its common", SMALL)
    yield dot(TERMINAL_X, back, 5)
    for number, part in enumerate((wire.bands or "").split(",")):
        state, band = part.split()
        yield text(far + 16, y + 5 + 18 * number, f"{state} {band}", SMALL)
    yield from _tick(wire, y)


def _foot(venue: Venue, place: Head | Input, y: int) -> Iterator[str]:
    """Close the sheet: what it was drawn from, and who has held it against the wires."""
    table = venue.wiring.name if venue.wiring else ""
    yield box(LEFT, y, RIGHT - LEFT, FOOT - 16, stroke=THIN)
    yield line((LEFT + 470, y), (LEFT + 470, y + FOOT - 16), width=THIN)
    yield text(LEFT + 12, y + 25, f"Drawn from {table}, venue {venue.digest[:12]}; sheet {place.id}", SMALL)
    yield text(
        LEFT + 482,
        y + 25,
        "Held against the wires by ______________________________ on ______________",
        SMALL,
    )
