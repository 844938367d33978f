"""The wiring table: one row a wire, a CSV file that the venue file names.

Read with every mistake at once, each with its row and column. Whether what it says is sound (a
duplicate address, a head without red) is for `signals.wiring.lint`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from enum import StrEnum
from string import ascii_uppercase
from typing import Annotated, Any, Literal

from msgspec import Meta, Struct
from msgspec.structs import FieldInfo, asdict, fields

from signals.errors import Finding
from signals.venue.read import BROKEN, listed, nearest, read

Tag = Annotated[
    str,
    Meta(pattern="^[A-Za-z0-9._-]{1,24}$", extra={"right": "1 to 24 letters, digits, dots, _ or -"}),
]
Name = Annotated[
    str, Meta(pattern="^[a-z0-9-]{1,16}$", extra={"right": "1 to 16 of the characters a-z, 0-9 and -"})
]
Note = Annotated[str, Meta(max_length=80)]
Day = Annotated[
    str,
    Meta(
        pattern="^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$",
        extra={"right": "a day as 2026-05-31"},
    ),
]
NO_WATCHDOG = "none"
"""What the watchdog's cell says of a device that has none."""
ABSENT_MS = 0
"""How a watchdog declared absent is kept."""
ROWS_MAX = 2_000


class Circuit(StrEnum):
    """What a supervised circuit reads."""

    NORMAL = "normal"
    ACTIVE = "active"
    OPEN = "open"
    SHORT = "short"
    ODD = "odd"

    @property
    def means(self) -> str:
        """What it means, for people."""
        return _CIRCUITS[self]


_CIRCUITS = {
    Circuit.NORMAL: "at rest",
    Circuit.ACTIVE: "pressed or open",
    Circuit.OPEN: "an open circuit: a cut wire, or no supply",
    Circuit.SHORT: "a short circuit",
    Circuit.ODD: "a reading that is in no band of the table",
}
BANDED = (Circuit.SHORT, Circuit.ACTIVE, Circuit.NORMAL, Circuit.OPEN)
"""What every loop must tell apart."""
_BAND = "(short|active|normal|open) [0-9]{1,5}-[0-9]{1,5}"
BANDS_RIGHT = "bands such as short 0-200, active 600-1100, normal 1800-2400, open 3600-4095"
Bands = Annotated[str, Meta(pattern=f"^{_BAND}(, *{_BAND})*$", max_length=120, extra={"right": BANDS_RIGHT})]


class Wire(Struct, frozen=True, kw_only=True):
    """One row: a wire from a point of a device to a lamp, its sensor, or a contact."""

    ref: Annotated[Tag, Meta(description="the tag on the wire; unique")]
    description: Annotated[Note, Meta(description="for people")] = ""
    place: Annotated[Name, Meta(description="the head or the input of the venue that it belongs to")]
    aspect: Annotated[
        Name,
        Meta(description="of a head: the lamp, by the venue's name; of an input: `make`, `break`, or `loop`"),
    ]
    direction: Annotated[
        Literal["out", "in"], Meta(description="`out` drives a lamp, `in` reads a sensor or a contact")
    ]
    protocol: Annotated[
        Name, Meta(description="modbus-tcp, modbus-rtu, e131, gpio, virtual, or one installed beside")
    ]
    host: Annotated[
        Note,
        Meta(
            description="address of the device; the serial port of modbus-rtu; `multicast` for e131; "
            "the pin driver of gpio"
        ),
    ] = ""
    port: Annotated[
        Annotated[int, Meta(ge=1, le=4_000_000)] | None,
        Meta(description="its port; bits a second of a serial line"),
    ] = None
    unit: Annotated[
        Annotated[int, Meta(ge=0, le=63_999)] | None, Meta(description="Modbus unit, or E1.31 universe")
    ] = None
    point_type: Annotated[Name, Meta(description="what the point is: coil, discrete, holding, slot …")]
    address: Annotated[
        Annotated[int, Meta(ge=0, le=999_999)],
        Meta(description="of the point, as the device's own papers count"),
    ]
    address_base: Annotated[Literal[0, 1], Meta(description="whether those papers count from 0 or from 1")]
    invert: Annotated[bool, Meta(description="`yes` where current off means lamp on")] = False
    fail_state: Annotated[
        Literal["on", "off"] | None,
        Meta(description="the lamp when the device is left alone; required of every `out`"),
    ] = None
    feedback_ref: Annotated[
        Tag | None, Meta(description="the row of the sensor that proves this lamp; empty: never proven")
    ] = None
    prove_ms: Annotated[
        Annotated[int, Meta(ge=1, le=10_000)] | None,
        Meta(description="how long the sensor, or the second contact, may lag"),
    ] = None
    bands: Annotated[
        Bands | None,
        Meta(description=f"of an input's `loop`: what it reads in each of its four states, {BANDS_RIGHT}"),
    ] = None
    watchdog_ms: Annotated[
        Annotated[int, Meta(ge=0, le=60_000)] | None,
        Meta(description="after how long without a write the device goes to its fail states, or `none`"),
    ] = None
    cable: Note = ""
    core: Note = ""
    terminal: Note = ""
    fuse: Note = ""
    serial: Annotated[Note, Meta(description="of the device")] = ""
    firmware: Annotated[Note, Meta(description="of the device")] = ""
    tested_on: Annotated[Day | None, Meta(description="the day somebody saw this wire work")] = None
    row: int = 0
    """Its line in the file; not a column."""

    @property
    def point(self) -> int:
        """Its address as sent: counted from 0."""
        return self.address - self.address_base

    @property
    def circuits(self) -> tuple[tuple[Circuit, range], ...]:
        """Its bands, as they stand in the table; of a state given twice both."""
        each = (part.strip().split(" ") for part in (self.bands or "").split(",") if part)
        pairs = ((name, band.split("-")) for name, band in each)
        return tuple((Circuit(name), range(int(low), int(high) + 1)) for name, (low, high) in pairs)


COLUMNS = tuple(each.name for each in fields(Wire) if each.name != "row")
_FIELDS: dict[str, FieldInfo] = {each.name: each for each in fields(Wire) if each.name != "row"}
_NUMBERS = frozenset({"port", "unit", "address", "address_base", "prove_ms", "watchdog_ms"})
_YES_NO = {"yes": True, "no": False}

Say = Callable[[int, str, str, str], None]
"""Report a mistake: row, column, the cell, what would be right."""


def column(name: str) -> str:
    """Name a column for people who look at a spreadsheet: "fail_state (column N)"."""
    return f"{name} (column {ascii_uppercase[COLUMNS.index(name)]})" if name in COLUMNS else name


def read_wires(text: str, file: str) -> tuple[tuple[Wire, ...], list[Finding]]:
    """Read a table's text: its sound rows, and every mistake with row and column."""
    found: list[Finding] = []

    def say(row: int, name: str, value: str, right: str) -> None:
        found.append(Finding(file, row, column(name), value, right))

    rows = list(_rows(text))
    if len(rows) > ROWS_MAX:
        say(0, "rows", str(len(rows)), f"must be at most {ROWS_MAX}")
        return (), found
    header = [cell.strip() for cell in rows[0][1]] if rows else []
    if not _header_is_right(header, say):
        return (), found
    wires = (_wire(row, header, cells, say) for row, cells in rows[1:])
    return tuple(wire for wire in wires if wire is not None), found


def write_wires(wires: Iterable[Wire]) -> str:
    """Write a table as it is read."""
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(COLUMNS)
    for wire in wires:
        cells = asdict(wire)
        writer.writerow([_cell(name, cells[name]) for name in COLUMNS])
    return written.getvalue()


def _cell(name: str, value: Any) -> str:
    if name == "watchdog_ms" and value == ABSENT_MS:
        return NO_WATCHDOG
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Give every row that is not empty, with the line it begins on."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")))
    begins = 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield begins, cells
        begins = reader.line_num + 1


def _header_is_right(header: list[str], say: Say) -> bool:
    """Whether the first line names every column once; their order is free."""
    if len(header) == 1 and ";" in header[0]:
        say(1, "columns", header[0][:60], "must be separated by commas")
        return False
    missing = [name for name in COLUMNS if name not in header]
    for name in header:
        if name not in COLUMNS:
            say(1, "columns", name or '""', f"is no column{nearest(name, COLUMNS)}")
    for name in {name for name in header if header.count(name) > 1 and name in COLUMNS}:
        say(1, "columns", name, "is there twice")
    if missing:
        say(1, "columns", "", f"missing: {', '.join(missing)}; the first line must name every column")
    return not missing and sorted(header) == sorted(COLUMNS)


def _wire(row: int, header: list[str], cells: list[str], say: Say) -> Wire | None:
    if len(cells) > len(header):
        say(row, "row", f"{len(cells)} cells", f"must have {len(header)}: quote a cell that holds a comma")
        return None
    raw = {name: cell.strip() for name, cell in zip(header, cells, strict=False) if cell.strip()}
    sound = True

    def wrong(path: tuple[str | int, ...], value: str, right: str) -> None:
        nonlocal sound
        sound = False
        say(row, str(path[-1]), value, right)

    values: dict[str, Any] = {"row": row}
    for name, text in raw.items():
        values[name] = _value(name, text, wrong)
    wire = read({key: value for key, value in values.items() if value is not BROKEN}, Wire, (), wrong)
    return wire if sound and wire is not BROKEN else None


def _value(name: str, text: str, wrong: Callable[[tuple[str | int, ...], str, str], None]) -> Any:
    """Turn a cell into what its column takes, as far as a text tells; the reader checks the rest."""
    if name == "watchdog_ms" and text == NO_WATCHDOG:
        return ABSENT_MS
    if name == "watchdog_ms" and text == "0":
        wrong((name,), text, f"write {NO_WATCHDOG} where the device has no watchdog")
    if name == "invert":
        if text not in _YES_NO:
            wrong((name,), text, f"must be {listed(_YES_NO)}")
        return _YES_NO.get(text, False)
    if name in _NUMBERS:
        try:
            return int(text)
        except ValueError:
            return text
    return text
