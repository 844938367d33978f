"""A terminal drawing of one head: every wire from the device's point to the lamp. SVG, black on white.

Lamps are told by letter, never by colour: the drawing is printed on whatever printer is there.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from signals.venue.model import Head, Venue
from signals.venue.wires import ABSENT_MS, Wire

WIDTH = 1200
ROW = 46
TOP = 132
DEVICE_X, TERMINAL_X, HEAD_X = 40, 470, 830
DEVICE_W, HEAD_W = 250, 330
FONT = "font-family='Liberation Sans, Arial, sans-serif'"
INK = "stroke='black' stroke-width='1.5'"
SMALL, USUAL, LARGE = 11, 13, 20


def terminal_drawing(venue: Venue, head: Head) -> str:
    """Draw a head's wires, in the table's order; sensors are squares, lamps circles."""
    wires = [wire for wire in venue.wires if wire.place == head.id]
    height = TOP + ROW * len(wires) + 70
    body = [*_title(venue, head), *_boxes(wires)]
    for number, wire in enumerate(wires):
        body += _wire(wire, TOP + ROW * number + ROW // 2)
    foot = f"wiring table {venue.wiring.name if venue.wiring else ''}, venue digest {venue.digest[:12]}"
    body.append(_text(DEVICE_X, height - 20, foot, SMALL))
    return "\n".join(
        (
            f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {height}' "
            f"width='{WIDTH}' height='{height}'>",
            f"<rect width='{WIDTH}' height='{height}' fill='white'/>",
            *body,
            "</svg>",
            "",
        )
    )


def _title(venue: Venue, head: Head) -> Iterator[str]:
    stands = f"{head.role} head, {head.side} at {head.at_m:g} m, protects {', '.join(head.protects)}"
    yield _text(DEVICE_X, 44, f"{venue.name} · {head.id}", LARGE, bold=True)
    yield _text(DEVICE_X, 66, f"{stands}, node {head.node}", USUAL)
    for x, title in (
        (DEVICE_X, "Device"),
        (DEVICE_X + DEVICE_W + 8, "Tag, cable and core, terminal, fuse"),
        (HEAD_X, "Head"),
    ):
        yield _text(x, TOP - 14, title, USUAL, bold=True)


def _boxes(wires: list[Wire]) -> Iterator[str]:
    """Frame each device's rows together, with its name, and the head's."""
    begin = 0
    for number, wire in enumerate(wires):
        last = number + 1 == len(wires) or _device(wires[number + 1]) != _device(wire)
        if last:
            yield _frame(DEVICE_X, TOP + ROW * begin, DEVICE_W, ROW * (number + 1 - begin))
            begin = number + 1
    yield _frame(HEAD_X, TOP, HEAD_W, ROW * len(wires))
    names = sorted({_device(wire) for wire in wires})
    yield _text(DEVICE_X, 88, "; ".join([*names, _watchdog(wires)]), USUAL)


def _device(wire: Wire) -> str:
    where = ":".join(str(part) for part in (wire.host, wire.port) if part)
    unit = "" if wire.unit is None else f" unit {wire.unit}"
    made = f", serial {wire.serial}" if wire.serial else ""
    return f"{wire.protocol} {where}{unit}{made}"


def _watchdog(wires: list[Wire]) -> str:
    """Say what the head's devices do when writes stop."""
    times = sorted({wire.watchdog_ms for wire in wires if wire.watchdog_ms is not None})
    return ", ".join("no watchdog" if ms == ABSENT_MS else f"watchdog {ms} ms" for ms in times)


def _wire(wire: Wire, y: int) -> Iterator[str]:
    yield f"<line x1='{DEVICE_X + DEVICE_W}' y1='{y}' x2='{HEAD_X}' y2='{y}' {INK}/>"
    fails = f", fails {wire.fail_state}" if wire.fail_state else ""
    inverted = ", inverted" if wire.invert else ""
    yield _text(DEVICE_X + 10, y - 4, f"{wire.point_type} {wire.address}", USUAL, bold=True)
    note = f"counted from {wire.address_base}{fails}{inverted}"
    yield _text(DEVICE_X + 10, y + 13, note, SMALL)
    yield _text(DEVICE_X + DEVICE_W + 8, y - 6, wire.ref, USUAL)
    cable = "/".join(part for part in (wire.cable, wire.core) if part)
    yield _text(DEVICE_X + DEVICE_W + 8, y + 15, f"cable {cable}" if cable else "cable –", SMALL)
    yield from _terminal(wire, y)
    yield from _lamp(wire, y)


def _terminal(wire: Wire, y: int) -> Iterator[str]:
    yield f"<circle cx='{TERMINAL_X + 20}' cy='{y}' r='5' fill='white' {INK}/>"
    yield _text(TERMINAL_X + 32, y - 6, wire.terminal or "terminal –", USUAL)
    if wire.fuse:
        x = TERMINAL_X + 190
        yield f"<rect x='{x}' y='{y - 6}' width='34' height='12' fill='white' {INK}/>"
        yield f"<line x1='{x}' y1='{y}' x2='{x + 34}' y2='{y}' {INK}/>"
        yield _text(x, y - 12, wire.fuse, SMALL)


def _lamp(wire: Wire, y: int) -> Iterator[str]:
    x = HEAD_X + 28
    letter = wire.aspect[:1].upper()
    if wire.direction == "out":
        yield f"<circle cx='{x}' cy='{y}' r='15' fill='white' {INK}/>"
    else:
        yield f"<rect x='{x - 13}' y='{y - 13}' width='26' height='26' fill='white' {INK}/>"
    yield _text(x, y + 5, letter, USUAL, bold=True, middle=True)
    what = wire.aspect if wire.direction == "out" else f"sensor of {wire.aspect}"
    yield _text(HEAD_X + 54, y - 4, what, USUAL, bold=True)
    proven = f"proven by {wire.feedback_ref}" if wire.feedback_ref else "not proven"
    tested = f"tested {wire.tested_on}" if wire.tested_on else "tested on ____________"
    yield _text(HEAD_X + 54, y + 13, f"{proven}; {tested}" if wire.direction == "out" else tested, SMALL)


def _frame(x: int, y: int, width: int, height: int) -> str:
    return f"<rect x='{x}' y='{y}' width='{width}' height='{height}' fill='none' {INK}/>"


def _text(x: int, y: int, text: str, size: int, *, bold: bool = False, middle: bool = False) -> str:
    weight = " font-weight='bold'" if bold else ""
    anchor = " text-anchor='middle'" if middle else ""
    return f"<text x='{x}' y='{y}' font-size='{size}' {FONT}{weight}{anchor}>{escape(text)}</text>"
