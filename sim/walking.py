"""How somebody walks along a track and across it: along the verge until abreast, then over the road."""

from __future__ import annotations

from sim.course import Course, sample
from sim.scene import Kart, Person
from sim.speeds import around, both

WALK_MPS, RUN_MPS = 1.4, 2.8
"""Across the road, and along the verge; typical, no source."""
VERGE_M = 1.8
"""How far beyond the white line people walk along the track."""
REACH_M, ARM_M = 0.6, 1.2
"""How near counts as there; how far from a kart's middle somebody stands who pushes it."""


@both
def toward(value: float, goal: float, mps: float, step_s: float) -> float:
    """Go toward a goal, at most so fast."""
    most = mps * step_s
    return value + min(max(goal - value, -most), most)


@both
def along_m(course: Course, from_m: float, to_m: float) -> float:
    """Give the shorter way along the lap: positive forward."""
    length_m = course.lap.length_m
    return around(to_m - from_m + length_m / 2, length_m) - length_m / 2


@both
def verge_m(course: Course, at_m: float, side: int) -> float:
    """Give how far left of the centreline the verge is on a side."""
    number = sample(course.lap, at_m)
    return side * ((course.lap.lefts[number] if side > 0 else course.lap.rights[number]) + VERGE_M)


@both
def on_road(course: Course, person: Person) -> bool:
    """Whether karts drive where somebody is, on the lap."""
    number = sample(course.lap, person.at_m)
    return -course.lap.rights[number] <= person.left_m <= course.lap.lefts[number]


@both
def along_verge(course: Course, person: Person, goal_m: float, step_s: float) -> None:
    """Run along the verge toward a place; first leave the road."""
    beside_m = verge_m(course, person.at_m, person.side)
    person.left_m = toward(person.left_m, beside_m, WALK_MPS, step_s)
    if abs(person.left_m - beside_m) > REACH_M:
        return
    way_m, most = along_m(course, person.at_m, goal_m), RUN_MPS * step_s
    person.at_m = (person.at_m + min(max(way_m, -most), most)) % course.lap.length_m


@both
def walks_out(course: Course, person: Person, goal_m: float, goal_left_m: float, step_s: float) -> bool:
    """Walk along the verge until abreast of a goal, then across the road to it; whether there."""
    if abs(along_m(course, person.at_m, goal_m)) > REACH_M:
        along_verge(course, person, goal_m, step_s)
        return False
    stand_m = goal_left_m + person.side * ARM_M
    person.left_m = toward(person.left_m, stand_m, WALK_MPS, step_s)
    return abs(person.left_m - stand_m) <= REACH_M


@both
def follows(course: Course, person: Person, kart: Kart, step_s: float) -> None:
    """Keep behind a kart that is pushed."""
    behind_m = (kart.at_m - ARM_M) % course.lap.length_m
    way_m = along_m(course, person.at_m, behind_m)
    person.at_m = (person.at_m + toward(0.0, way_m, RUN_MPS, step_s)) % course.lap.length_m
    person.left_m = toward(person.left_m, kart.left_m, WALK_MPS, step_s)


@both
def walks_home(course: Course, person: Person, post_m: float, step_s: float) -> bool:
    """Walk back to a post; whether there."""
    along_verge(course, person, post_m, step_s)
    return abs(along_m(course, person.at_m, post_m)) < REACH_M and not on_road(course, person)
