"""A device as the outputs see it: its points, counted as they are sent."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from signals.errors import KerblightError
from signals.venue.wires import ABSENT_MS, Circuit, Wire

Image = Mapping[str, int]
"""What every lamp of a device is to be, by ref: 0 off, 1 on, or a display's number (0: dark)."""


class OutputLost(KerblightError, ConnectionError):
    """A device that does not take what it is told; it is tried again, with the whole image."""


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """One point of a device. `address` counts from 0; `fail` is the lamp when the device is left alone.

    A point is itself and no other: images are looked up by it at every write.
    """

    ref: str
    kind: str
    address: int
    invert: bool = False
    fail: bool = False
    number: bool = False
    """Whether it carries a number, a display's or a loop's, and not on or off."""
    feedback: str | None = None
    """The point that senses this lamp."""
    at_rest: int = 0
    """What an input reads while nobody touches it."""

    @property
    def fail_level(self) -> int:
        """What the lamp falls to; a display falls dark."""
        return int(self.fail and not self.number)

    def raw(self, level: int) -> int:
        """Turn a lamp's level into what the point is set to."""
        return level if self.number else level ^ self.invert

    def level(self, raw: int) -> int:
        """Turn what the point is set to into the lamp's level."""
        return raw if self.number else int(bool(raw)) ^ self.invert


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One device behind one address, with all its points.

    `watchdog_ms`: after how long without a write the device itself goes to its points' fail states;
    0 says that it has none. There is no default: whoever wires it must have found out.
    """

    protocol: str
    host: str = ""
    port: int | None = None
    unit: int | None = None
    outs: tuple[Point, ...] = ()
    ins: tuple[Point, ...] = ()
    watchdog_ms: int = ABSENT_MS

    def __str__(self) -> str:
        where = ":".join(str(part) for part in (self.host, self.port) if part)
        return " ".join(part for part in (self.protocol, where, self._unit) if part)

    @property
    def _unit(self) -> str:
        return "" if self.unit is None else f"unit {self.unit}"

    @property
    def fail_image(self) -> dict[str, int]:
        """What its lamps fall to."""
        return {point.ref: point.fail_level for point in self.outs}


def lines_of(wires: Iterable[Wire], numbers: frozenset[tuple[str, str]]) -> tuple[Line, ...]:
    """Gather a table's rows into devices; `numbers` are the (protocol, point type) that take a number."""
    grouped: dict[tuple[str, str, int | None, int | None], list[Wire]] = {}
    for wire in wires:
        grouped.setdefault((wire.protocol, wire.host, wire.port, wire.unit), []).append(wire)
    return tuple(_line(rows, numbers) for rows in grouped.values())


def _line(rows: list[Wire], numbers: frozenset[tuple[str, str]]) -> Line:
    first = rows[0]
    return Line(
        protocol=first.protocol,
        host=first.host,
        port=first.port,
        unit=first.unit,
        outs=tuple(_point(wire, numbers) for wire in rows if wire.direction == "out"),
        ins=tuple(_point(wire, numbers) for wire in rows if wire.direction == "in"),
        watchdog_ms=max((wire.watchdog_ms or ABSENT_MS for wire in rows), default=ABSENT_MS),
    )


def _point(wire: Wire, numbers: frozenset[tuple[str, str]]) -> Point:
    return Point(
        ref=wire.ref,
        kind=wire.point_type,
        address=wire.point,
        invert=wire.invert,
        fail=wire.fail_state == "on",
        number=(wire.protocol, wire.point_type) in numbers,
        feedback=wire.feedback_ref,
        at_rest=at_rest(wire),
    )


def at_rest(wire: Wire) -> int:
    """Give what an input reads while nobody touches it."""
    normal = dict(wire.circuits).get(Circuit.NORMAL)
    if normal is not None:
        return (normal.start + normal.stop) // 2
    return int(wire.direction == "in" and wire.aspect == "break")
