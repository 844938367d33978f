"""Curves over weeks: what is drawn of somebody's progress, in a page and in the window alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date

from msgspec import Struct

from signals.look import LIGHT
from sim.drill import svg
from sim.drill.matter import CALL_S
from sim.drill.progress import Week
from sim.drill.score import PASSED

Fit = Callable[[float, float], tuple[float, float]]
"""From days and values to the picture."""
WIDE, HIGH, LEFT, EDGE, HEAD, FOOT = 470.0, 230.0, 44.0, 24.0, 30.0, 28.0
TICKS = 5
"""Steps of a scale at most."""
STEPS = tuple(part * 10.0**power for power in range(-1, 4) for part in (1, 2, 5))
PERCENT = (0.0, 25.0, 50.0, 75.0, 100.0)
LABELS = 5
"""Dates below a panel at most."""


class Point(Struct, frozen=True):
    """A value in a week; `low` to `high` is its 95 % interval, where it has one."""

    days: int
    """Since the first week."""
    value: float
    low: float | None = None
    high: float | None = None


class Curve(Struct, frozen=True):
    """One curve of a panel. Filled points are squares, the others rings."""

    name: str
    filled: bool
    points: tuple[Point, ...]


class Panel(Struct, frozen=True):
    """One picture: its curves, the range of its values, and a line to compare with."""

    title: str
    ticks: tuple[float, ...]
    """Its scale: from the first to the last of them."""
    curves: tuple[Curve, ...]
    line: float | None = None
    line_says: str = ""
    nothing: str = ""
    """What is said in its place where there is nothing to draw."""

    @property
    def empty(self) -> bool:
        """Whether there is nothing to draw."""
        return not any(curve.points for curve in self.curves)

    @property
    def low(self) -> float:
        """The lower end of its scale."""
        return self.ticks[0]

    @property
    def high(self) -> float:
        """The upper end of its scale."""
        return self.ticks[-1]

    @property
    def caption(self) -> str:
        """Say which points are what, or why there are none."""
        if self.empty:
            return self.nothing
        named = (f"{'squares' if each.filled else 'rings'}: {each.name}" for each in self.curves)
        text = ", ".join(named)
        return f"{text[0].upper()}{text[1:]}."


def panels(found: Sequence[Week]) -> tuple[Panel, ...]:
    """Give what is drawn of weeks: reaction times, what was noticed, d′ and c, marks."""
    called = (_curve("median", found, "called_s"), _curve("90 %", found, "called_p90_s", filled=False))
    apart = (_curve("d′", found, "d_prime"), _curve("c", found, "criterion", filled=False))
    marks = (_curve("mean of the runs", found, "percent"),)
    target = CALL_S, f"target {CALL_S:g} s", "Nothing was called rightly yet."
    return (
        Panel("From visible to called, s", scale(0.0, _most(called, CALL_S + 1.0)), called, *target),
        Panel(
            "Noticed, %, with its 95 % interval",
            PERCENT,
            (_noticed(found),),
            nothing="There was nothing to notice yet.",
        ),
        Panel("Telling what matters from what does not", scale(_least(apart), _most(apart, 1.0)), apart),
        Panel("Marks, %", PERCENT, marks, PASSED * 100, "passed from here"),
    )


def scale(low: float, high: float) -> tuple[float, ...]:
    """Give round values of a scale that holds everything from `low` to `high`, and 0."""
    low, high = min(low, 0.0), max(high, 0.0)
    step = next(step for step in STEPS if (high - low) / step <= TICKS)
    return tuple(each * step for each in range(math.floor(low / step), math.ceil(high / step) + 1))


def days(found: Sequence[Week]) -> list[int]:
    """Give when each week begins, in days since the first."""
    begins = [date.fromisoformat(week.begins) for week in found]
    return [(each - begins[0]).days for each in begins]


def labelled(found: Sequence[Week]) -> list[tuple[int, str]]:
    """Give the dates that stand below a panel, evenly picked: days since the first week, and the date."""
    every = max(1, -(-len(found) // LABELS))
    return [(at, week.begins[5:]) for at, week in list(zip(days(found), found, strict=True))[::every]]


def _curve(name: str, found: Sequence[Week], field: str, *, filled: bool = True) -> Curve:
    values = [(at, getattr(week, field)) for at, week in zip(days(found), found, strict=True)]
    return Curve(name, filled, tuple(Point(at, value) for at, value in values if value is not None))


def _noticed(found: Sequence[Week]) -> Curve:
    points = (
        Point(at, week.hits / week.signals * 100, week.hit_low * 100, week.hit_high * 100)
        for at, week in zip(days(found), found, strict=True)
        if week.signals
    )
    return Curve("noticed", filled=True, points=tuple(points))


def _most(curves: Sequence[Curve], least: float) -> float:
    return max([least, *(point.value for curve in curves for point in curve.points)])


def _least(curves: Sequence[Curve]) -> float:
    return min(point.value for curve in curves for point in curve.points)


def drawn(found: Sequence[Week]) -> list[str]:
    """Draw every panel as inline SVG."""
    return [_picture(panel, found) for panel in panels(found)]


def _picture(panel: Panel, found: Sequence[Week]) -> str:
    title = svg.text(0, 14, panel.title, bold=True)
    high, parts = (HEAD, []) if panel.empty else (HIGH, _parts(panel, found))
    return svg.picture(panel.title, high, [title, *parts], wide=WIDE, defs="")


def _parts(panel: Panel, found: Sequence[Week]) -> list[str]:
    """Draw a panel's scale and curves."""
    lasts = max(1, days(found)[-1])
    span = panel.high - panel.low

    def spot(at: float, value: float) -> tuple[float, float]:
        across = (WIDE - LEFT - 2 * EDGE) * at / lasts
        return LEFT + EDGE + across, HIGH - FOOT - (value - panel.low) / span * (HIGH - HEAD - FOOT)

    def level(value: float) -> tuple[tuple[float, float], tuple[float, float]]:
        y = spot(0, value)[1]
        return (LEFT, y), (WIDE, y)

    parts = []
    for value in panel.ticks:
        parts += [svg.line(level(value), muted=True)]
        parts += [svg.text(LEFT - 8, spot(0, value)[1] + 4, f"{round(value, 1):g}", anchor="end", muted=True)]
    if panel.line is not None:
        parts += [svg.line(level(panel.line), dashed=True)]
        parts += [svg.text(WIDE, spot(0, panel.line)[1] - 5, panel.line_says, anchor="end")]
    for curve in panel.curves:
        parts += [svg.line([spot(point.days, point.value) for point in curve.points], muted=not curve.filled)]
        parts += [part for point in curve.points for part in _point(curve, point, spot)]
    parts += [
        svg.text(spot(at, 0)[0], HIGH - 8, text, anchor="middle", muted=True) for at, text in labelled(found)
    ]
    return parts


def _point(curve: Curve, point: Point, spot: Fit) -> list[str]:
    """Draw a value, with its interval."""
    x, y = spot(point.days, point.value)
    shape = svg.square(x, y, 9) if curve.filled else svg.ring(x, y, 4, LIGHT.text, "#fff")
    if point.low is None or point.high is None:
        return [shape]
    ends = spot(point.days, point.low), spot(point.days, point.high)
    return [svg.line(ends), shape]
