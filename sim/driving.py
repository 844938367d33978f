"""How drivers decide: follow, pass, keep clear.

Following is the Intelligent Driver Model (Treiber, Hennecke & Helbing 2000, Physical Review E 62, 1805):

    a = A (1 − (s*/s)²),   s* = s0 + max(0, v T + v (v − w) / (2 √(A b)))

with s the gap to a kart driving w; its free-road term is replaced by the speed profile of the line driven
(`lines.profile`). Passing is by lanes as in MOBIL (Kesting, Treiber & Helbing 2007, Transportation Research
Record 1999): a line is taken that promises enough more acceleration and makes nobody behind brake hard.
Beside it stand what lanes on a road do not need: karts side by side keep each other's room, wherever on the
width they are, and a line once taken is kept for a while.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct, field

from signals.words import Aspect
from sim.course import LANES, Course, Now, ahead_m, on_line, sample
from sim.drivers import SKILLS, STRETCHES, pace
from sim.lines import CLEAR_M, PROFILE_EVERY, Lane
from sim.scene import Driver, Kart
from sim.speeds import around, both
from sim.traffic import Other, Traffic, next_ahead, next_behind

AHEAD_M, BEHIND_M = 60.0, 30.0
EAGER_MPS2 = 2.5
"""A of the model."""
HARD_MPS2 = 6.5
"""The hardest a driver brakes for a kart ahead."""
WORTH_MPS2, HOME_MPS2 = 0.5, 0.3
"""What another line must promise more; and the racing line's advantage."""
KEEPS_S = 1.6
"""How long a line is kept: the hysteresis."""
SHUNS_M = 25.0
"""A line on which something stands so near ahead is left at once, and not taken."""
POLITE_MPS2, CLOSE_M = 1.5, 0.5
"""How hard somebody behind may have to brake for a kart that takes a line; nearer he is in the way."""
ROOM_M, LANE_ROOM_M, SIDE_ROOM_M = 0.25, 0.4, 0.45
"""Between sides of karts: to drive past, to count as free, to keep while side by side."""
BESIDE_M, CLOSING_S = 2.0, 0.6
"""So far before and behind a kart, or so soon beside it, another counts as beside."""
FORESEES_S = 0.4
ANTICIPATES_S = 0.15
SETTLES_S = 0.35
CARE_MPS, CARE_M, CARE_MPS2 = 12 / 3.6, 5.0, 2.5
"""How fast a driver passes what stands on the track, how far around it, and how hard he slows for it."""
PIT_MPS, PIT_MPS2 = 2.5, 2.0
"""How fast a driver comes to the pit lane, and how hard he slows for it and in it."""
PIT_SIDE_M = 45.0
YIELDS = 0.7
"""Share of his speed at which a driver lets others pass."""
CAUTIONS = (Aspect.YELLOW, Aspect.YELLOW_FLASH, Aspect.DARK)
LANE_HALF_M = 1.6
"""A kart nearer than this to the middle of the pit lane is in the way there."""
CREEPS_M, CREEP_MPS, THERE_M = 1.5, 0.8, 0.3
"""The last metres to a stop are driven slowly; this near it is reached."""
PRESSES_MPS = 1.0
"""A driver presses on against his limiter, as if it let him go so much faster."""
GRID_HALF_M = 0.9
"""How far from the middle drivers leave the grid: between the karts that stay."""


Keeps = tuple[float, float, float]


@both
def keeps_of(driver: Driver) -> Keeps:
    """Give what a driver keeps from others: his gap at a stand, his headway, and 2 √(A b)."""
    return driver.jam_m, driver.headway_s, 2.0 * math.sqrt(EAGER_MPS2 * driver.comfort_mps2)


@both
def idm(gap_m: float, v_mps: float, front_mps: float, keeps: Keeps) -> float:
    """Give the acceleration that the kart ahead leaves (Intelligent Driver Model, interaction term)."""
    jam_m, headway_s, root_mps2 = keeps
    closing = v_mps * (v_mps - front_mps) / root_mps2
    wanted = jam_m + max(0.0, v_mps * headway_s + closing)
    share = wanted / max(gap_m, 0.1)
    return EAGER_MPS2 * (1.0 - share * share)


NOTHING = -1


class Outlook(Struct):
    """What traffic leaves a driver."""

    low_m: float = 0.0
    high_m: float = 0.0
    """Between which he has room, metres left of the centreline."""
    lanes: list[float] = field(default_factory=lambda: [math.inf] * LANES)
    """The acceleration that whoever is ahead on each line leaves."""
    free: list[bool] = field(default_factory=lambda: [True] * LANES)
    """Whether each line can be taken for all that is beside, or stands, on it."""
    blocked: list[bool] = field(default_factory=lambda: [False] * LANES)
    """Whether something stands on each line not far ahead."""
    stands: int = NOTHING
    """The path's sample where the nearest such thing stands."""
    stands_m: float = math.inf
    wishes: list[float] = field(default_factory=lambda: [0.0] * LANES)
    """The acceleration the driver would like on each line, were he alone."""
    here: float = math.inf
    """The acceleration that whoever is ahead of him where he is leaves."""
    anywhere: float = math.inf
    """That which all ahead leave, on whatever line: for where nobody may pass."""
    care_mps: float = math.inf
    beside: bool = False
    squeezed: bool = False


@both
def look(course: Course, kart: Kart, index: int, traffic: Traffic, outlook: Outlook, here: int) -> None:
    """See what the karts and things around leave a driver; `here` is the sample where he is."""
    room_m = course.model.width_m / 2 + CLEAR_M
    outlook.low_m, outlook.high_m = room_m - course.lap.rights[here], course.lap.lefts[here] - room_m
    for lane in range(LANES):
        outlook.lanes[lane] = math.inf
        outlook.free[lane] = True
        outlook.blocked[lane] = False
    outlook.stands, outlook.stands_m = NOTHING, math.inf
    outlook.here = outlook.anywhere = outlook.care_mps = math.inf
    outlook.beside = outlook.squeezed = False
    count, mine = traffic.counts[0], traffic.rank[index]
    most_m, keeps = min(course.lap.length_m / 2, AHEAD_M), keeps_of(kart.driver)
    at = mine
    for _ in range(1, count):
        at = next_ahead(traffic, at)
        other = traffic.lap[traffic.order[at]]
        away_m = _away_m(course, kart, other)
        if away_m < 0.0 or away_m > most_m:
            break
        _minds(course, kart, keeps, other, away_m, outlook, here)
    at = mine
    for _ in range(1, count):
        at = next_behind(traffic, at)
        other = traffic.lap[traffic.order[at]]
        away_m = _away_m(course, kart, other)
        if away_m > 0.0:
            break
        _minds(course, kart, keeps, other, away_m, outlook, here)


@both
def _away_m(course: Course, kart: Kart, other: Other) -> float:
    """Give how far ahead somebody is; a little behind is negative."""
    return around(other.at_m - kart.at_m + BEHIND_M, course.lap.length_m) - BEHIND_M


@both
def _minds(
    course: Course, kart: Kart, keeps: Keeps, other: Other, away_m: float, outlook: Outlook, here: int
) -> None:
    """Mind one of them, so far ahead (negative: behind)."""
    gap_m = abs(away_m) - course.model.length_m / 2 - other.long_m
    closing_mps = kart.v_mps - other.v_mps if away_m > 0.0 else other.v_mps - kart.v_mps
    if gap_m < BESIDE_M + CLOSING_S * max(0.0, closing_mps):
        _beside(course, kart, other, away_m, outlook, here)
    if away_m > 0.0:
        _ahead(course, kart, keeps, other, gap_m, outlook)


@both
def line_left_m(course: Course, lane: int, number: int) -> float:
    """Give how far left of the centreline a line runs at a sample."""
    return course.lines[on_line(number, lane)]


@both
def _beside(course: Course, kart: Kart, other: Other, away_m: float, outlook: Outlook, here: int) -> None:
    """Keep clear of somebody beside: he has his room."""
    outlook.beside = True
    need_m = course.model.width_m / 2 + other.wide_m + SIDE_ROOM_M
    towards_m = other.left_m + FORESEES_S * other.drift_mps
    if other.left_m >= kart.left_m:
        outlook.high_m = min(outlook.high_m, min(other.left_m, towards_m) - need_m)
    else:
        outlook.low_m = max(outlook.low_m, max(other.left_m, towards_m) + need_m)
    if away_m > 0 and abs(other.left_m - kart.left_m) < need_m - SIDE_ROOM_M / 2:
        outlook.squeezed = True
    for lane in range(LANES):
        past_m = line_left_m(course, lane, here) - other.left_m
        if abs(past_m) < need_m or past_m * (kart.left_m - other.left_m) < 0.0:
            outlook.free[lane] = False


@both
def _ahead(course: Course, kart: Kart, keeps: Keeps, other: Other, gap_m: float, outlook: Outlook) -> None:
    """Follow whoever is ahead, on the lines that he takes up, and where he is."""
    leaves = idm(gap_m, kart.v_mps, other.v_mps, keeps)
    wide_m = course.model.width_m / 2 + other.wide_m
    for lane in range(LANES):
        past_m = abs(line_left_m(course, lane, other.sample) - other.left_m)
        outlook.lanes[lane] = min(outlook.lanes[lane], leaves if past_m < wide_m + LANE_ROOM_M else math.inf)
    if other.stands and gap_m < SHUNS_M:
        _shuns(course, other, gap_m, wide_m, outlook)
    aside_m = abs(other.left_m - kart.left_m)
    if aside_m < wide_m + ROOM_M:
        outlook.here = min(outlook.here, leaves)
    if other.stands:
        if aside_m < wide_m + 2.0:
            slowing = 2.0 * CARE_MPS2 * max(0.0, gap_m - CARE_M)
            outlook.care_mps = min(outlook.care_mps, math.sqrt(CARE_MPS * CARE_MPS + slowing))
    elif not other.yields:
        outlook.anywhere = min(outlook.anywhere, leaves)


@both
def _shuns(course: Course, other: Other, gap_m: float, wide_m: float, outlook: Outlook) -> None:
    """Take no line on which something stands not far ahead."""
    if gap_m < outlook.stands_m:
        outlook.stands, outlook.stands_m = other.sample, gap_m
    for lane in range(LANES):
        if abs(line_left_m(course, lane, other.sample) - other.left_m) < wide_m + LANE_ROOM_M:
            outlook.blocked[lane] = True
            outlook.free[lane] = False


@both
def _lets_in(course: Course, kart: Kart, index: int, traffic: Traffic, lane: int, here: int) -> bool:
    """Whether nobody behind would have to brake hard for a kart that takes another line."""
    count, keeps, at = traffic.counts[0], keeps_of(kart.driver), traffic.rank[index]
    for _ in range(1, count):
        at = next_behind(traffic, at)
        other = traffic.lap[traffic.order[at]]
        away_m = _away_m(course, kart, other)
        if away_m > 0.0:
            break
        if not other.stands and _is_in_the_way(course, kart, keeps, other, away_m, lane, here):
            return False
    return True


@both
def _is_in_the_way(
    course: Course, kart: Kart, keeps: Keeps, other: Other, away_m: float, lane: int, here: int
) -> bool:
    """Whether somebody behind is on a line, and would have to brake hard."""
    gap_m = -away_m - course.model.length_m / 2 - other.long_m
    if gap_m > CLOSE_M and idm(gap_m, other.v_mps, kart.v_mps, keeps) > -POLITE_MPS2:
        return False
    wide_m = course.model.width_m / 2 + other.wide_m + LANE_ROOM_M
    return abs(line_left_m(course, lane, here) - other.left_m) < wide_m


@both
def on_lap(course: Course, now: Now, kart: Kart, index: int, traffic: Traffic, outlook: Outlook) -> None:
    """Decide on the lap: which line, how hard to press which pedal."""
    here = sample(course.lap, kart.at_m)
    look(course, kart, index, traffic, outlook, here)
    most = min(outlook.care_mps, _told_mps(course, now, kart), max(kart.limit_mps, kart.v_mps) + PRESSES_MPS)
    nearest = -1 if outlook.beside else _nearest(course, kart, here)
    _wish(course, now, kart, nearest, most, outlook)
    lane = _lane(course, now, kart, index, traffic, outlook, here)
    want = min(outlook.wishes[lane], outlook.lanes[lane], outlook.here)
    if may_not_pass(course, kart):
        want = min(want, outlook.anywhere)
    if outlook.squeezed:
        want = min(want, -1.0)
    low_m, high_m = outlook.low_m, outlook.high_m
    if kart.on_grid:
        low_m, high_m = max(low_m, -GRID_HALF_M), min(high_m, GRID_HALF_M)
    if low_m > high_m:
        low_m = high_m = (low_m + high_m) / 2
    mind = kart.mind
    if lane != mind.lane:
        mind.lane_s = now.time_s
        mind.lane = lane
    mind.low_m, mind.high_m = low_m, high_m
    mind.want_mps2 = max(want, -HARD_MPS2)


@both
def _nearest(course: Course, kart: Kart, here: int) -> int:
    """Give the line nearest to a kart."""
    best, least_m = 0, math.inf
    for lane in range(LANES):
        off_m = abs(line_left_m(course, lane, here) - kart.left_m)
        if off_m < least_m:
            best, least_m = lane, off_m
    return best


@both
def may_not_pass(course: Course, kart: Kart) -> bool:
    """Whether what a driver knows forbids to overtake."""
    heeds = kart.mind.heeds
    return kart.home or heeds in CAUTIONS or heeds == Aspect.RED or heeds == course.finish_aspect  # noqa: PLR1714


@both
def profile_of(course: Course, skill: int, wet: bool) -> int:  # noqa: FBT001 - a fact
    """Give where the speed profiles of a skill begin in the course's table, all lines side by side."""
    return (skill + (len(SKILLS) if wet else 0)) * course.profile * LANES


@both
def _wish(course: Course, now: Now, kart: Kart, nearest: int, most_mps: float, outlook: Outlook) -> None:
    """Work out the acceleration a driver would like on each line, were he alone.

    As long as he drives nearest to another line, he is no faster than that one lets him be; with somebody
    beside him, who may keep him off any line (`nearest` is then -1), no faster than the slowest.
    """
    v, lap = kart.v_mps, course.lap
    soon = sample(lap, kart.at_m + ANTICIPATES_S * v) // PROFILE_EVERY
    stretch = int(STRETCHES * kart.at_m / lap.length_m)
    even = limp(kart, now.time_s) * pace(now.seed, kart.number, kart.laps, stretch)
    slowest, there = math.inf, profile_of(course, kart.driver.skill, now.wet) + soon * LANES
    for lane in range(LANES):
        speed = course.speeds[there + lane]
        outlook.wishes[lane] = speed
        slowest = min(slowest, speed)
    most = min(most_mps, even * (slowest if nearest < 0 else outlook.wishes[nearest]))
    for lane in range(LANES):
        outlook.wishes[lane] = max((min(even * outlook.wishes[lane], most) - v) / SETTLES_S, -HARD_MPS2)


@both
def _told_mps(course: Course, now: Now, kart: Kart) -> float:
    """Give how fast signals and the way home let a driver go, as far as he keeps to them by himself."""
    told = math.inf
    share = limp(kart, now.time_s)
    if share < 1.0:
        told = share * kart.limit_mps
    if kart.mind.heeds == Aspect.RED:
        told = course.stop_kmh / 3.6
    elif kart.mind.heeds in CAUTIONS:
        told = course.caution_kmh / 3.6
    if kart.home and not kart.on_grid:
        room_m = ahead_m(course, kart.at_m, course.pit_entry_m)
        told = min(told, math.sqrt(PIT_MPS * PIT_MPS + 2.0 * PIT_MPS2 * room_m))
    if kart.gives_way_until_s > now.time_s:
        told = min(told, YIELDS * max(kart.limit_mps, PIT_MPS))
    return told


@both
def limp(kart: Kart, now_s: float) -> float:
    """Give the share of its speed that a kart makes."""
    return kart.limp if now_s < kart.limp_until_s else 1.0


@both
def _lane(
    course: Course, now: Now, kart: Kart, index: int, traffic: Traffic, outlook: Outlook, here: int
) -> int:
    """Choose a line: the one that is due, else the best, not too soon; where nobody is in the way."""
    lane, now_s = kart.mind.lane, now.time_s
    wanted = lane
    if kart.home and ahead_m(course, kart.at_m, course.pit_entry_m) < PIT_SIDE_M:
        wanted = course.pit_side
    elif kart.gives_way_until_s > now_s:
        wanted = Lane.RIGHT
    elif outlook.stands != NOTHING:
        return _way_past(course, kart, index, traffic, outlook, here)
    elif now_s - kart.mind.lane_s >= KEEPS_S:
        wanted = _best(lane, outlook)
    if wanted == lane or not outlook.free[wanted]:
        return lane
    return wanted if _lets_in(course, kart, index, traffic, wanted, here) else lane


@both
def _best(lane: int, outlook: Outlook) -> int:
    """Give the line that promises most, where it is worth leaving this one."""
    best, most = 0, -math.inf
    for each in range(LANES):
        gain = min(outlook.wishes[each], outlook.lanes[each])
        if each == Lane.RACING:
            gain += HOME_MPS2
        if gain > most:
            best, most = each, gain
    worth = min(outlook.wishes[lane], outlook.lanes[lane])
    if lane == Lane.RACING:
        worth += HOME_MPS2
    if best != Lane.RACING:
        worth += WORTH_MPS2
    return best if most > worth else lane


@both
def _way_past(course: Course, kart: Kart, index: int, traffic: Traffic, outlook: Outlook, here: int) -> int:
    """Keep to a line that leads past what stands ahead; from one that does not, take the nearest at once."""
    lane = kart.mind.lane
    if not outlook.blocked[lane]:
        return lane
    best, least_m = lane, math.inf
    for each in range(LANES):
        off_m = abs(line_left_m(course, each, outlook.stands) - kart.left_m)
        near = outlook.free[each] and off_m < least_m
        if near and _lets_in(course, kart, index, traffic, each, here):
            best, least_m = each, off_m
    return best


@both
def on_pit_lane(course: Course, kart: Kart, others: Sequence[Other], count: int, stop_m: float) -> None:
    """Decide on the pit lane: behind whoever is ahead, and up to where to stop."""
    v = kart.v_mps
    want = (max(kart.limit_mps, v) + PRESSES_MPS - v) / SETTLES_S
    room_m = stop_m - kart.at_m
    needed = v * v / (2.0 * max(room_m, 0.01))
    if needed > PIT_MPS2 or room_m < THERE_M:
        want = min(want, -max(needed, PIT_MPS2))
    elif room_m < CREEPS_M:
        want = min(want, (CREEP_MPS - v) / SETTLES_S)
    keeps = keeps_of(kart.driver)
    for number in range(count):
        other = others[number]
        gap_m = other.at_m - kart.at_m - course.model.length_m
        if other.number != kart.number and gap_m > -course.model.length_m and abs(other.left_m) < LANE_HALF_M:
            want = min(want, idm(gap_m, v, other.v_mps, keeps))
    mind = kart.mind
    mind.lane = 0
    mind.low_m, mind.high_m = -math.inf, math.inf
    mind.want_mps2 = max(want, -HARD_MPS2)
