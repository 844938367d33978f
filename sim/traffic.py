"""Who and what is on the track in a step, as drivers see it: places, sizes, ways, in driving order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct

from sim.course import NOWHERE, Course, Now, sample
from sim.scene import ASIDE, Doing, Item, Kart, Person, Walk, waits_s
from sim.speeds import both, cosine, sine

PIT_SLANT = 0.4
"""Sine of the angle at which a pit lane meets the track, about."""
PERSON_M = 0.9
"""Room that drivers leave around the middle of somebody on foot."""
STOOD_S = 3.0
"""Who has stood for so long though he may drive is passed like an obstacle."""


class Other(Struct):
    """Somebody or something on a path."""

    at_m: float = 0.0
    left_m: float = 0.0
    v_mps: float = 0.0
    drift_mps: float = 0.0
    """Its speed to the left."""
    long_m: float = 0.0
    """Half its length."""
    wide_m: float = 0.0
    """Half its width."""
    stands: bool = False
    """It is no traffic but an obstacle: passed with care, also where nobody may overtake."""
    yields: bool = False
    """It keeps to the edge and lets pass, also where nobody may overtake."""
    number: int = 0
    """The kart's; 0 for anything else."""
    sample: int = 0
    """The path's sample nearest to it."""
    index: int = 0
    """The kart's among karts; -1 for anything else."""


class Traffic(NamedTuple):
    """All there is in a step, in room that is used again and again.

    Attributes:
        lap: who is on the lap; as many as `counts` says.
        lane: who is on the pit lane.
        order: numbers of `lap` in driving order.
        rank: for each kart by index, its place in `order`.
        courses_rad, across, along: for each kart its course against its path, and that one's sine and cosine.
        counts: how many are on the lap, on the lane, and how many `order` holds.

    """

    lap: Sequence[Other]
    lane: Sequence[Other]
    order: list[int]
    rank: list[int]
    courses_rad: list[float]
    across: list[float]
    along: list[float]
    counts: list[int]


def room(karts: int, others: int) -> Traffic:
    """Make room for so many karts, and so many things and people."""
    most = 2 * karts + others
    return Traffic(
        lap=[Other() for _ in range(most)],
        lane=[Other() for _ in range(most)],
        order=[0] * most,
        rank=[0] * karts,
        courses_rad=[0.0] * karts,
        across=[0.0] * karts,
        along=[0.0] * karts,
        counts=[0, 0, 0],
    )


@both
def next_ahead(traffic: Traffic, at: int) -> int:
    """Give the place in `order` of who is next ahead on the lap; the last one's is the first's."""
    return at + 1 if at + 1 < traffic.counts[0] else 0


@both
def next_behind(traffic: Traffic, at: int) -> int:
    """Give the place in `order` of who is next behind on the lap."""
    return at - 1 if at > 0 else traffic.counts[0] - 1


@both
def look_around(
    course: Course,
    now: Now,
    karts: Sequence[Kart],
    items: Sequence[Item],
    people: Sequence[Person],
    traffic: Traffic,
) -> None:
    """See who is where: on the lap, and on the pit lane."""
    _face(karts, traffic)
    on_lap, on_lane = 0, 0
    for index in range(len(karts)):
        kart = karts[index]
        if kart.doing == Doing.WAITING or kart.doing == Doing.PARKED:  # noqa: PLR1714 - alike in both forms
            continue
        if not kart.on_pit_lane:
            _put_kart(course, now, traffic, traffic.lap[on_lap], kart, index, kart.at_m, kart.left_m)
            on_lap += 1
            continue
        _put_kart(course, now, traffic, traffic.lane[on_lane], kart, index, kart.at_m, kart.left_m)
        on_lane += 1
        metre = int(kart.at_m)
        if course.lane_at_m[metre] != NOWHERE and abs(kart.left_m) < course.model.width_m:
            left_m = course.lane_left_m[metre] + kart.left_m
            at_m = course.lane_at_m[metre]
            _put_kart(course, now, traffic, traffic.lap[on_lap], kart, index, at_m, left_m)
            traffic.lap[on_lap].index = -1
            on_lap += 1
    for index in range(len(items)):
        item = items[index]
        if item.until_s > now.time_s:
            _put_thing(course, traffic.lap[on_lap], item.at_m, item.left_m, item.reach_m)
            on_lap += 1
    for index in range(len(people)):
        person = people[index]
        if person.doing == Walk.GONE:
            continue
        if person.in_pit:
            _put_thing(course, traffic.lane[on_lane], person.at_m, person.left_m, PERSON_M)
            on_lane += 1
        else:
            _put_thing(course, traffic.lap[on_lap], person.at_m, person.left_m, PERSON_M)
            on_lap += 1
    traffic.counts[0], traffic.counts[1] = on_lap, on_lane
    _arrange(traffic)


@both
def _face(karts: Sequence[Kart], traffic: Traffic) -> None:
    """See how karts face; at once for several where that is possible."""
    for index in range(len(karts)):
        traffic.courses_rad[index] = karts[index].course_rad
    for index in range(len(karts)):
        traffic.across[index] = sine(traffic.courses_rad[index])
        traffic.along[index] = cosine(traffic.courses_rad[index])


@both
def _put_kart(
    course: Course,
    now: Now,
    traffic: Traffic,
    other: Other,
    kart: Kart,
    index: int,
    at_m: float,
    left_m: float,
) -> None:
    across = traffic.across[index]
    slant = PIT_SLANT if kart.on_pit_lane else abs(across)
    other.at_m = at_m
    other.left_m = left_m
    other.v_mps = kart.v_mps * traffic.along[index]
    other.drift_mps = kart.v_mps * across
    other.long_m = course.model.length_m / 2
    other.wide_m = (course.model.width_m + course.model.length_m * slant) / 2
    other.stands = kart.trouble in ASIDE or waits_s(kart, now.time_s) > STOOD_S
    other.yields = kart.gives_way_until_s > now.time_s
    other.number = kart.number
    other.sample = sample(course.lap, at_m)
    other.index = index


@both
def _put_thing(course: Course, other: Other, at_m: float, left_m: float, reach_m: float) -> None:
    other.at_m = at_m
    other.left_m = left_m
    other.v_mps = 0.0
    other.drift_mps = 0.0
    other.long_m = reach_m
    other.wide_m = reach_m
    other.stands = True
    other.yields = False
    other.number = 0
    other.sample = sample(course.lap, at_m)
    other.index = -1


@both
def _arrange(traffic: Traffic) -> None:
    """Sort who is on the lap by place, from the order of last time: little has changed since."""
    lap, order, count = traffic.lap, traffic.order, traffic.counts[0]
    if traffic.counts[2] != count:
        traffic.counts[2] = count
        for number in range(count):
            order[number] = number
    for end in range(1, count):
        mine, at = order[end], end
        while at > 0 and _before(lap, mine, order[at - 1]):
            order[at] = order[at - 1]
            at -= 1
        order[at] = mine
    for at in range(count):
        index = lap[order[at]].index
        if index >= 0:
            traffic.rank[index] = at


@both
def _before(lap: Sequence[Other], one: int, other: int) -> bool:
    if lap[one].at_m != lap[other].at_m:
        return lap[one].at_m < lap[other].at_m
    return one < other
