"""Who stands too close behind what lies there backs off a little, in reverse, to get around it."""

from __future__ import annotations

from sim.course import Course
from sim.driving import ROOM_M
from sim.scene import Kart, waits_s
from sim.speeds import around, both
from sim.traffic import Traffic

AFTER_S, LONGEST_S = 2.0, 3.8
"""How long a driver stands before he does, and how long he does at most: some 4 m at walking pace."""
CLOSE_M, ENOUGH_M = 3.0, 5.5
"""Free metres ahead that are too few to steer past, and enough."""
NEEDS_M, KEEPS_M, PAST_M = 2.0, 0.5, 0.1
"""Free metres behind to begin with, and those that are kept; between sides, to back off past somebody."""


@both
def back_off(course: Course, kart: Kart, traffic: Traffic, now_s: float) -> None:
    """Have a driver press or release his control for reverse."""
    if not kart.reverse and (kart.v_mps > 0.0 or now_s - _stood_since_s(kart, now_s) < AFTER_S):
        return
    ahead_m, behind_m = _free_m(course, kart, traffic)
    close_m, room_m = (ENOUGH_M, KEEPS_M) if kart.reverse else (CLOSE_M, NEEDS_M)
    wants = ahead_m < close_m and behind_m > room_m and kart.limit_mps > 0.0
    if kart.reverse and (not wants or now_s > kart.backs_until_s):
        kart.reverse = False
        kart.backs_until_s = now_s
    elif wants and not kart.reverse:
        kart.reverse = True
        kart.backs_until_s = now_s + LONGEST_S


@both
def _stood_since_s(kart: Kart, now_s: float) -> float:
    return max(now_s - waits_s(kart, now_s), kart.backs_until_s)


@both
def _free_m(course: Course, kart: Kart, traffic: Traffic) -> tuple[float, float]:
    """Give the free metres to what stands in the way ahead, and to whoever is behind."""
    length_m, half_m = course.lap.length_m, course.model.length_m / 2
    ahead_m = behind_m = length_m
    for number in range(traffic.counts[0]):
        other = traffic.lap[number]
        if other.number == kart.number:
            continue
        aside_m = abs(other.left_m - kart.left_m) - course.model.width_m / 2 - other.wide_m
        way_m = around(other.at_m - kart.at_m + length_m / 2, length_m) - length_m / 2
        gap_m = abs(way_m) - half_m - other.long_m
        if way_m < 0.0 and aside_m < PAST_M:
            behind_m = min(behind_m, gap_m)
        elif way_m > 0.0 and aside_m < ROOM_M and other.stands:
            ahead_m = min(ahead_m, gap_m)
    return ahead_m, behind_m
