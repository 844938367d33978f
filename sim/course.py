"""A venue, a moment and what is in the air, as step functions read them: numbers and tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from signals.venue.model import KartModel
from signals.words import Aspect
from sim.speeds import around, both

NOWHERE = -1.0
"""In a table of places: none."""

Table = Sequence[float]
Numbers = Sequence[int]


class Way(NamedTuple):
    """A path, sampled evenly; see `sim.track.Path`. The last sample of a closed one is its first again."""

    closed: bool
    length_m: float
    per_m: float
    last: int
    """Number of the last sample."""
    xs: Table
    ys: Table
    headings_deg: Table
    bends: Table
    stretches: Table
    rights: Table
    lefts: Table


class Course(NamedTuple):
    """What of a venue never changes."""

    lap: Way
    pit: Way
    model: KartModel
    lines: Table
    """At each of the lap's samples, for each of its three lines: metres left, slope, bend; see `on_line`."""
    speeds: Table
    """Speed profiles: dry and wet, each skill, and at each place each line; see `profile_of`."""
    profile: int
    """How many speeds a profile has."""
    grips: tuple[float, float, float, float]
    """Rolling and sliding, dry; rolling and sliding, wet."""
    narrowest_m: float
    edge_m: float
    pit_entry_m: float
    pit_exit_m: float
    start_line_m: float
    hold_m: float
    box_left_m: float
    pit_side: int
    lane_at_m: Table
    """For each metre of the pit lane, where on the lap it lies; `NOWHERE` where it is clear of it."""
    lane_left_m: Table
    grid: bool
    slots_m: Table
    """Grid slots, kart by kart: metres along the lap, and metres to the left."""
    slots_left_m: Table
    fall_mps2: float
    rise_mps2: float
    reverse_mps: float
    boost_s: float
    stop_kmh: float
    caution_kmh: float
    creep_kmh: float
    finish_aspect: Aspect
    seen_first: Numbers
    """For each place that is looked from: where its heads begin in `seen_heads`; one more at the end."""
    seen_heads: Numbers
    exit_heads: Numbers


class Now(NamedTuple):
    """A moment: which step, and what holds for all of it."""

    steps: int
    time_s: float
    step_s: float
    seed: int
    wet: bool
    every: int
    """Steps between two decisions of a driver."""
    turns: int
    """Into how many turns karts are divided for it."""


class Air(NamedTuple):
    """What reaches limiters and drivers: by kart, and by head, in the venue's order."""

    taken_mps: list[float]
    taken_s: list[float]
    """When a limiter was last told something."""
    falls: list[float]
    rises: list[float]
    boosts: list[int]
    """Boosts a lap that a kart is allowed."""
    boosts_mps: list[float]
    """How much faster one makes it."""
    aspects: list[Aspect]
    numbers: list[int]
    """The number shown; 0 for none."""


@both
def wrap(way: Way, at_m: float) -> float:
    """Bring metres into a path: around a closed one, to the ends of an open one."""
    if way.closed:
        return around(at_m, way.length_m)
    return min(max(at_m, 0.0), way.length_m)


@both
def sample(way: Way, at_m: float) -> int:
    """Give the number of the sample nearest to these metres."""
    return round(wrap(way, at_m) * way.per_m)


@both
def place(way: Way, at_m: float) -> tuple[float, float, float]:
    """Give x, y and heading in degrees at these metres."""
    along = wrap(way, at_m) * way.per_m
    low = min(int(along), way.last - 1)
    part = along - low
    return (
        way.xs[low] + part * (way.xs[low + 1] - way.xs[low]),
        way.ys[low] + part * (way.ys[low + 1] - way.ys[low]),
        (way.headings_deg[low] + part * (way.headings_deg[low + 1] - way.headings_deg[low])) % 360.0,
    )


@both
def beside(way: Way, at_m: float, left_m: float) -> tuple[float, float, float]:
    """Give x, y and heading in degrees of a place `left_m` to the left of these metres."""
    x, y, heading_deg = place(way, at_m)
    turn = math.radians(heading_deg)
    return x - left_m * math.sin(turn), y + left_m * math.cos(turn), heading_deg


@both
def nearest(way: Way, x_m: float, y_m: float, near_m: float, within_m: float) -> tuple[float, float]:
    """Give where a point lies beside a path: metres along it, and metres to its left.

    Only places `within_m` of `near_m` are looked at: a track comes close to itself.
    """
    middle, reach = round(near_m * way.per_m), math.ceil(within_m * way.per_m)
    best, least = 0, math.inf
    for step in range(middle - reach, middle + reach + 1):
        number = step % way.last if way.closed else step
        if 0 <= number <= way.last:
            east, north = way.xs[number] - x_m, way.ys[number] - y_m
            off = east * east + north * north
            if off < least:
                best, least = number, off
    x, y, heading_deg = place(way, best / way.per_m)
    turn = math.radians(heading_deg)
    east, north = x_m - x, y_m - y
    along = east * math.cos(turn) + north * math.sin(turn)
    left = north * math.cos(turn) - east * math.sin(turn)
    return wrap(way, best / way.per_m + along / way.stretches[best]), left


LANES, LINE = 3, 3
"""Lines of a lap, and numbers of a line at a sample."""


@both
def on_line(number: int, lane: int) -> int:
    """Give where the numbers of a line at a sample of the lap begin in `Course.lines`."""
    return (number * LANES + lane) * LINE


@both
def ahead_m(course: Course, behind_m: float, front_m: float) -> float:
    """Metres from one place of the lap forward to another, 0 … length."""
    return around(front_m - behind_m, course.lap.length_m)


@both
def grip(course: Course, now: Now) -> tuple[float, float]:
    """Give the grip of tyres that roll and of tyres that slide."""
    if now.wet:
        return course.grips[2], course.grips[3]
    return course.grips[0], course.grips[1]
