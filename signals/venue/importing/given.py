"""What was found in a file, what is wanted of it, what was made of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from signals.errors import Finding
from signals.venue.geometry import Row

Direction = Literal["clockwise", "anticlockwise"]
Reach = tuple[float, float]


@dataclass(slots=True)
class Given:
    """Points in metres with what the file says of the road's width.

    Attributes:
        points: (x, y) in driving order, metres.
        reaches: (right, left) at each point, metres; empty where the file has none.
        said: what was taken for granted or left out in reading.

    """

    points: list[tuple[float, float]] = field(default_factory=list)
    reaches: list[Reach] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the lap is to be like."""

    step_m: float = 4.0
    """Between rows, about."""
    width_m: float | None = None
    """Of the road, where the file has none."""
    direction: Direction | None = None
    """The driving direction; as the file has it where not given."""
    start_m: float = 0.0
    """Where along the lap the first row shall lie."""
    moved: bool = False
    """Put the lap's south-west corner near the origin."""


@dataclass(slots=True)
class Mended:
    """A lap that a venue file can name.

    Attributes:
        rows: x, y, reach to the right and left, metres; closed by itself.
        said: every repair, in sentences.
        doubts: what is left to look at.

    """

    rows: tuple[Row, ...] = ()
    said: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    length_m: float = 0.0
    direction: Direction = "clockwise"
    tightest_m: float = math.inf
    """Radius of its tightest bend."""
    off_m: float = 0.0
    """How far the lap passes from the points that were given, at most."""


@dataclass(slots=True)
class Mistakes:
    """The mistakes of one file, told at once."""

    file: str
    findings: list[Finding] = field(default_factory=list)

    def say(self, line: int, key: str, value: object, right: str) -> None:
        """Add one."""
        self.findings.append(Finding(self.file, line, key, str(value)[:60], right))
