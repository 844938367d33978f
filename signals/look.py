"""One look for window, page and reports: colours, sizes, glyph shapes, hatching. Data only.

A signal is told three ways: by place, by shape with letter, by colour. Shapes are polygons in a
unit square (x to the right, y down, both -1 … 1), so that a window, an SVG and a plot can all
draw the same glyph. Shapes come from public road and safety signs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from signals import flash
from signals.words import Aspect, Condition

Points = tuple[tuple[float, float], ...]

GRID_PX = 8
"""Everything stands on multiples of this, at scale 1."""
SMALL_PX, BODY_PX, TITLE_PX, HEAD_PX = 14, 18, 24, 36
"""The type scale at scale 1; nothing is smaller than the first."""
SECOND_MS = 1000
FLASHES_PER_SECOND_MAX = 3
"""WCAG 2.2, 2.3.1: all lamps of a screen added together."""


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours by what they are for, as #rrggbb. Signal colours mean signals and nothing else."""

    ground: str
    surface: str
    hairline: str
    """Parts surfaces; never carries meaning."""
    text: str
    muted: str
    track: str
    """The asphalt of a map."""
    red: str
    yellow: str
    green: str
    blue: str
    number: str
    plate: str
    ink: str
    """Letters on a signal colour."""


DARK = Theme(
    ground="#14171c",
    surface="#1d2229",
    hairline="#3d4652",
    text="#e9edf2",
    muted="#9da8b5",
    track="#343c47",
    red="#ff6b5e",
    yellow="#f2c14e",
    green="#46c98b",
    blue="#6db3ff",
    number="#f7f9fb",
    plate="#000000",
    ink="#14171c",
)
LIGHT = Theme(
    ground="#f6f4ef",
    surface="#ffffff",
    hairline="#c9c5bb",
    text="#1b1f24",
    muted="#5a6470",
    track="#dcd8cf",
    red="#b3261e",
    yellow="#7a5b00",
    green="#0f6b43",
    blue="#1356a8",
    number="#f7f9fb",
    plate="#000000",
    ink="#f6f4ef",
)


class Mark(StrEnum):
    """What a glyph says."""

    STOP = "stop"
    CAUTION = "caution"
    GO = "go"
    FINISH = "finish"
    MOVE_OVER = "move-over"
    PLATE = "plate"
    DARK = "dark"
    FAULT = "fault"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Glyph:
    """A shape: filled parts (polygon, colour's name in `Theme`), outlines, a letter and where it stands.

    `letter` "#" stands for a kart's number; a blue's number stands beside its
    chevrons. `letter_y` moves the letter's middle down (-1 … 1).
    """

    parts: tuple[tuple[Points, str], ...] = ()
    lines: tuple[tuple[Points, str], ...] = ()
    letter: str = ""
    letter_colour: str = "ink"
    letter_y: float = 0.0
    letter_size: float = 1.15
    """Height of the type in units of half the glyph's size."""


def _ring(corners: int, radius: float = 1.0, first_deg: float = 0.0) -> Points:
    turns = (math.radians(first_deg + 360 * corner / corners) for corner in range(corners))
    return tuple((radius * math.cos(turn), radius * math.sin(turn)) for turn in turns)


def _chevron(left: float) -> Points:
    return ((left, -1), (left + 0.42, -1), (left + 0.92, 0), (left + 0.42, 1), (left, 1), (left + 0.5, 0))


_DISC = _ring(48)
_SQUARE: Points = ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9))
_CROSS: tuple[Points, Points] = (((-0.62, -0.62), (0.62, 0.62)), ((-0.62, 0.62), (0.62, -0.62)))

GLYPHS: dict[Mark, Glyph] = {
    Mark.STOP: Glyph(((_ring(8, 1.0, 22.5), "red"),), letter="R"),
    Mark.CAUTION: Glyph(
        ((((0, -1), (1, 0.86), (-1, 0.86)), "yellow"),), letter="Y", letter_y=0.3, letter_size=1.0
    ),
    Mark.GO: Glyph(((_DISC, "green"),), letter="G"),
    Mark.FINISH: Glyph(
        (
            (((-0.9, -0.9), (0.9, -0.9), (-0.9, 0.9)), "red"),
            (((0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)), "yellow"),
        ),
        letter="F",
    ),
    Mark.MOVE_OVER: Glyph(((_chevron(-0.97), "blue"), (_chevron(0.05), "blue"))),
    Mark.PLATE: Glyph(
        ((_SQUARE, "plate"),), (((*_SQUARE, _SQUARE[0]), "number"),), letter="#", letter_colour="number"
    ),
    Mark.DARK: Glyph(lines=(((*_ring(48, 0.84), (0.84, 0.0)), "muted"),)),
    Mark.FAULT: Glyph(
        lines=(((*_ring(48, 0.88), (0.88, 0.0)), "text"), (_CROSS[0], "text"), (_CROSS[1], "text"))
    ),
    Mark.UNKNOWN: Glyph(letter="?", letter_colour="text", letter_size=1.9),
}

OF_ASPECT: dict[Aspect, Mark] = {
    Aspect.RED: Mark.STOP,
    Aspect.YELLOW_FLASH: Mark.CAUTION,
    Aspect.YELLOW: Mark.CAUTION,
    Aspect.RED_YELLOW: Mark.FINISH,
    Aspect.NUMBER: Mark.PLATE,
    Aspect.BLUE_FLASH: Mark.MOVE_OVER,
    Aspect.DARK: Mark.DARK,
    Aspect.GREEN: Mark.GO,
}
FLASHING = frozenset({Aspect.YELLOW_FLASH, Aspect.BLUE_FLASH})


@dataclass(frozen=True, slots=True)
class Hatch:
    """Lines over a colour: the pitch and width at scale 1, and the directions they run in (dx, dy)."""

    pitch_px: int
    width_px: int
    runs: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Dress:
    """How a condition is told: its glyph, colour's name in `Theme`, hatching, and its word."""

    mark: Mark
    colour: str
    hatch: Hatch | None
    word: str


OF_CONDITION: dict[Condition, Dress] = {
    Condition.STOP: Dress(Mark.STOP, "red", Hatch(8, 2, ((1, 1), (1, -1))), "Red"),
    Condition.CAUTION: Dress(Mark.CAUTION, "yellow", Hatch(8, 3, ((1, -1),)), "Yellow"),
    Condition.FINISH: Dress(Mark.FINISH, "yellow", Hatch(10, 4, ((0, 1),)), "Chequered"),
    Condition.CLEAR: Dress(Mark.GO, "green", None, "Green"),
}

IDLE = Dress(Mark.DARK, "hairline", None, "No session")
"""A sector that is clear while nobody may drive: green would say too much."""


def rgb(colour: str) -> tuple[int, int, int]:
    """Give a #rrggbb colour as three bytes."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def lit(now_ms: int, period_ms: int, lit_ms: int) -> bool:
    """Whether flashing lamps are lit: all of a screen share this one phase.

    A rate that would exceed `FLASHES_PER_SECOND_MAX` is shown steady.
    """
    return period_ms * FLASHES_PER_SECOND_MAX < SECOND_MS or flash.lit(now_ms, period_ms, lit_ms)
