"""How a kart in trouble moves: it spins, rolls out, is pushed, goes the wrong way, cuts a corner.

`stray` stands once a step for the driver of a kart in trouble.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.course import Course, Now, ahead_m, sample
from sim.scene import Kart, Trouble, twin
from sim.speeds import around, both, cosine, sine

BRAKE_MPS2 = 5.0
ROLLS_MPS2, ROLLS_MPS = 3.0, 1.4
"""How hard a driver brakes who lets his kart roll out, and how fast it rolls until it is at the edge."""
AIMS_PER_M, EDGE_RAD, SWERVE_RAD, STEERS_RAD_S = 0.5, 0.3, 0.55, 1.5
"""How far a kart steers for a metre it is off its way; at most, to the edge and across a corner; how fast."""
AT_EDGE_M = 0.25
PUSH_MPS = 1.2
WRONG_WAY_MPS = 2.0
SHORTCUT_MPS, SHORTCUT_M, SHORTCUT_BACK_S = 6.0, 3.0, 2.0
"""How fast one cuts a corner, how far beyond the white line, how long before its end it comes back."""
RUNS_MPS, MEETS = 4.0, 0.95
"""How fast, at least, one runs into another; how near they are then, in lengths of a kart."""
IMPACT_MPS2 = 40.0
TURN_DEG_S, BACK_DEG_S, BACK_S = 240.0, 90.0, 2.0
"""How fast a kart spins; how fast it is turned back, in the last seconds of its trouble."""
NOBODY = -1
ROLLS_OUT = frozenset({Trouble.STALL, Trouble.SMOKE, Trouble.HAND_RAISED, Trouble.DRIVER_OUT, Trouble.TEARS})
"""Trouble in which a driver still steers: the kart rolls to the nearer edge."""


@both
def stray(course: Course, now: Now, karts: Sequence[Kart], index: int) -> None:
    """Move a kart in trouble by a step: rolled out at the edge, pushed, or gone the wrong way."""
    kart, step_s = karts[index], now.step_s
    left_s = kart.until_s - now.time_s
    goal_mps, turn_deg = _goal_mps(kart), _turned_deg(kart)
    aside_m = math.copysign(course.edge_m, kart.left_m)
    most_rad, hard_mps2 = EDGE_RAD, BRAKE_MPS2
    if kart.trouble in ROLLS_OUT:
        hard_mps2 = ROLLS_MPS2
        if abs(aside_m - kart.left_m) > AT_EDGE_M:
            goal_mps = min(ROLLS_MPS, kart.v_mps)
    elif kart.trouble == Trouble.SHORTCUT:
        aside_m, most_rad = _cut_m(course, kart, left_s), SWERVE_RAD
    elif kart.trouble == Trouble.CONTACT:
        met = _runs_into(course, karts, index)
        if met == NOBODY:
            hard_mps2 = IMPACT_MPS2
        else:
            goal_mps, turn_deg, aside_m = max(RUNS_MPS, kart.v_mps), 0.0, karts[met].left_m
    if left_s < BACK_S:
        turn_deg = 0.0
    hard = hard_mps2 * step_s
    was_mps = kart.v_mps
    v = was_mps + min(max(goal_mps - was_mps, -hard), hard)
    aims_rad = min(max(AIMS_PER_M * (aside_m - kart.left_m), -most_rad), most_rad)
    course_rad = _slide(kart.course_rad, math.copysign(1.0, v) * aims_rad, STEERS_RAD_S * step_s)
    kart.v_mps = v
    kart.at_m = around(kart.at_m + v * cosine(course_rad) * step_s, course.lap.length_m)
    kart.left_m += v * sine(course_rad) * step_s
    if v:
        kart.course_rad = course_rad
    kart.turned_deg = _slide(kart.turned_deg, turn_deg, (TURN_DEG_S if turn_deg else BACK_DEG_S) * step_s)
    kart.throttle = 0.0
    kart.brake = 1.0 if abs(v) < abs(was_mps) else 0.0


@both
def _goal_mps(kart: Kart) -> float:
    if kart.trouble == Trouble.PUSHED:
        return PUSH_MPS
    if kart.trouble == Trouble.WRONG_WAY:
        return -WRONG_WAY_MPS
    return SHORTCUT_MPS if kart.trouble == Trouble.SHORTCUT else 0.0


@both
def _turned_deg(kart: Kart) -> float:
    if kart.trouble == Trouble.SPIN:
        return 150.0
    if kart.trouble == Trouble.CONTACT:
        return 70.0
    if kart.trouble == Trouble.WRONG_WAY:
        return 180.0
    return 80.0 if kart.trouble == Trouble.OVERTURNED else 0.0


@both
def _runs_into(course: Course, karts: Sequence[Kart], index: int) -> int:
    """Give which kart one runs into, `NOBODY` once it was met (or nobody is there)."""
    kart, best, room_m = karts[index], NOBODY, math.inf
    for number in range(len(karts)):
        if number != index and karts[number].trouble == Trouble.SPIN:
            away_m = ahead_m(course, kart.at_m, karts[number].at_m)
            if away_m < room_m:
                best, room_m = number, away_m
    if kart.turned_deg or best == NOBODY:
        return NOBODY
    return best if course.model.length_m * MEETS < room_m < course.lap.length_m / 2 else NOBODY


@both
def _cut_m(course: Course, kart: Kart, left_s: float) -> float:
    """Give the way across a corner: beyond its white line, and back on the road before its end."""
    number = sample(course.lap, kart.at_m)
    inside = inside_of_bend(course, kart.at_m)
    line_m = course.lap.lefts[number] if inside > 0 else course.lap.rights[number]
    return inside * (line_m + (SHORTCUT_M if left_s > SHORTCUT_BACK_S else -1.0))


@both
def inside_of_bend(course: Course, at_m: float) -> int:
    """Give the inner side of the bend that is driven next: 1 left, -1 right."""
    turned = 0.0
    for step in range(0, 16, 2):
        turned += course.lap.bends[sample(course.lap, at_m + step)]
    return 1 if turned >= 0 else -1


@both
def _slide(value: float, goal: float, most: float) -> float:
    return value + min(max(goal - value, -most), most)


@both
def recover(kart: Kart) -> None:
    """Let a kart whose trouble is over turn round where it must, and drive on."""
    kart.trouble = Trouble.NONE
    kart.until_s = math.inf
    kart.turned_deg = 0.0
    kart.v_mps = max(0.0, kart.v_mps)


def recovered(kart: Kart) -> Kart:
    """Give a kart whose trouble is over."""
    made = twin(kart)
    recover(made)
    return made
