"""Karts that drive in a step: how drivers steer and press pedals, and what their karts make of it.

They stand in columns, one for each quantity, and none is asked about another: compiled, several karts are
worked out at once.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.course import Air, Course, Now, grip, on_line
from sim.kart import (
    G_MPS2,
    brake_mps2,
    capped,
    drives,
    hold,
    moved,
    resistance_mps2,
    speed_after,
    thrust_mps2,
)
from sim.scene import Kart
from sim.speeds import both

STANDS_MPS = 0.1
STEER_M, STEER_S, STEER_CLIP_M, TIGHT_M = 3.5, 0.75, 1.0, 2.0
NEAR_M, FAR_M = 0.4, 1.8
"""A driver nearer to his line follows its bends, one farther off those of the road; between, some of both."""
NEARS_PER_M = 1.0 / (FAR_M - NEAR_M)
GRIP_ASKED = 0.93
"""Of the tyres' grip that a driver asks for at most."""
LIFTS_MPS2 = -3.0
"""How a driver slows who would need more."""
SLIP_DEG, SLIP_DEG_S = 20.0, 90.0
"""How far the body turns in a slide, and how fast."""
DRIVES_MPS = 1.0
"""A kart that is slower does not count as driving."""


class Rolling(NamedTuple):
    """Karts that drive in a step, in room that is used again and again; truths are 0 or 1.

    Attributes:
        counts: how many there are.
        karts: which.
        lefts_m … held: of the kart, of its driver's mind, and of its limiter.
        line_lefts_m … stretches: of his line, and of the path, where he is.
        aheads_m … strained: what comes of it: metres of the path, pedals, curvature held, whether it slides,
            and whether its limiter asks for more than its tyres have left.

    """

    counts: list[int]
    karts: list[int]
    lefts_m: list[float]
    courses_rad: list[float]
    vs_mps: list[float]
    lows_m: list[float]
    highs_m: list[float]
    wants_mps2: list[float]
    limits_mps: list[float]
    caps_mps: list[float]
    falls_mps2: list[float]
    cut: list[float]
    held: list[float]
    line_lefts_m: list[float]
    line_slopes: list[float]
    line_bends: list[float]
    bends: list[float]
    stretches: list[float]
    aheads_m: list[float]
    throttles: list[float]
    brakes: list[float]
    turns: list[float]
    slides: list[float]
    strained: list[float]


AT_ONCE = 4
"""Karts that a processor may work out as quickly as one."""


def ranks(karts: int) -> Rolling:
    """Make room for so many karts, and those that fill up the last rank."""
    room = karts + AT_ONCE
    columns = {name: [0.0] * room for name in Rolling._fields}
    return Rolling(**columns | {"counts": [0], "karts": [0] * room, "stretches": [1.0] * room})  # type: ignore[arg-type]


@both
def line_up(course: Course, air: Air, kart: Kart, index: int, rolling: Rolling) -> None:
    """Put a kart among those that drive in this step."""
    at, mind = rolling.counts[0], kart.mind
    rolling.counts[0] = at + 1
    rolling.karts[at] = index
    rolling.lefts_m[at] = kart.left_m
    rolling.courses_rad[at] = kart.course_rad
    rolling.vs_mps[at] = kart.v_mps
    rolling.lows_m[at] = mind.low_m
    rolling.highs_m[at] = mind.high_m
    rolling.wants_mps2[at] = mind.want_mps2
    rolling.limits_mps[at] = kart.limit_mps
    rolling.caps_mps[at] = kart.cap_mps
    rolling.falls_mps2[at] = air.falls[index]
    rolling.cut[at] = 1.0 if kart.cut else 0.0
    rolling.held[at] = 1.0 if kart.held else 0.0
    if kart.on_pit_lane:
        number = int(kart.at_m * course.pit.per_m + 0.5)
        rolling.line_lefts_m[at] = 0.0
        rolling.line_slopes[at] = 0.0
        rolling.line_bends[at] = course.pit.bends[number]
        rolling.bends[at] = course.pit.bends[number]
        rolling.stretches[at] = course.pit.stretches[number]
    else:
        number = int(kart.at_m * course.lap.per_m + 0.5)
        begins = on_line(number, mind.lane)
        rolling.line_lefts_m[at] = course.lines[begins]
        rolling.line_slopes[at] = course.lines[begins + 1]
        rolling.line_bends[at] = course.lines[begins + 2]
        rolling.bends[at] = course.lap.bends[number]
        rolling.stretches[at] = course.lap.stretches[number]


@both
def roll(course: Course, now: Now, rolling: Rolling) -> None:
    """Let drivers steer and press pedals, and karts do what limiters and tyres make of it."""
    model, grips, step_s = course.model, grip(course, now), now.step_s
    for at in range(_filled_up(rolling)):
        before_mps, want = rolling.vs_mps[at], rolling.wants_mps2[at]
        place = rolling.lefts_m[at], rolling.courses_rad[at]
        path = rolling.bends[at], rolling.stretches[at]
        asked, too_fast = steer(course, rolling, at, grips[0])
        want = min(want, LIFTS_MPS2) if too_fast else want
        throttle, brake = pedals(course, rolling, at, want, grips[0])
        turn, spare, slides = hold(before_mps, asked, grips)
        drive = drives(throttle, brake, rolling.cut[at] > 0.0, rolling.held[at] > 0.0)
        v = speed_after(before_mps, (drive, brake), spare, grips[0], model, step_s)
        cap_mps, fall = rolling.caps_mps[at], rolling.falls_mps2[at]
        strained = fall > spare and before_mps - cap_mps > spare * step_s
        v = capped(v, before_mps, cap_mps, spare if strained else fall, step_s)
        ahead, left_m, course_rad = moved(place, 0.5 * (before_mps + v), turn, path, step_s)
        rolling.aheads_m[at] = ahead
        rolling.lefts_m[at] = left_m
        rolling.courses_rad[at] = course_rad
        rolling.vs_mps[at] = v
        rolling.throttles[at] = throttle
        rolling.brakes[at] = brake
        rolling.turns[at] = turn
        rolling.slides[at] = 1.0 if slides else 0.0
        rolling.strained[at] = 1.0 if strained else 0.0


@both
def _filled_up(rolling: Rolling) -> int:
    """Let karts that stand fill up the last rank; gives how many there are with them."""
    count = rolling.counts[0]
    full = (count + AT_ONCE - 1) // AT_ONCE * AT_ONCE
    for at in range(count, full):
        rolling.vs_mps[at] = 0.0
        rolling.limits_mps[at] = 0.0
    return full


@both
def steer(course: Course, rolling: Rolling, at: int, grip: float) -> tuple[float, bool]:
    """Give the curvature a driver steers, 1/m, and whether he would need more than his tyres give.

    His line's own, and back to it where he is beside it; along the road where somebody keeps him off it.
    """
    v, left_m = rolling.vs_mps[at], rolling.lefts_m[at]
    line_m, road = rolling.line_lefts_m[at], rolling.bends[at]
    aim = min(max(line_m, rolling.lows_m[at]), rolling.highs_m[at])
    off_m = aim - left_m
    along = 0.0 if aim != line_m else min(max((FAR_M - abs(off_m)) * NEARS_PER_M, 0.0), 1.0)
    course_rad = rolling.courses_rad[at] - along * rolling.line_slopes[at]
    bend = along * rolling.line_bends[at] + (1.0 - along) * road / max(0.3, 1.0 - road * left_m)
    reach_m = max(min(STEER_M, TIGHT_M + 0.5 * v), STEER_S * v)
    off_m = min(max(off_m, -STEER_CLIP_M), STEER_CLIP_M)
    turn = bend + 2.0 * (off_m - reach_m * course_rad) / (reach_m * reach_m)
    most = GRIP_ASKED * grip * G_MPS2 / max(v * v, 0.1)
    asked = min(most, 1.0 / course.model.radius_m)
    return min(max(turn, -asked), asked), abs(turn) > most


@both
def pedals(course: Course, rolling: Rolling, at: int, want_mps2: float, grip: float) -> tuple[float, float]:
    """Give throttle and brake for the acceleration a driver wants; off both where his kart may not move."""
    model, v = course.model, rolling.vs_mps[at]
    force = want_mps2 + resistance_mps2(v, model)
    throttle = min(max(force, 0.0) / thrust_mps2(v, model), 1.0)
    brake = min(max(-force, 0.0) / brake_mps2(model, grip), 1.0)
    if rolling.limits_mps[at] <= 0.0 and v < STANDS_MPS:
        return 0.0, 0.0
    return throttle, brake


@both
def take(now: Now, kart: Kart, rolling: Rolling, at: int) -> None:
    """Take over what came of a kart's step."""
    v, throttle, slides = rolling.vs_mps[at], rolling.throttles[at], rolling.slides[at] > 0.0
    if throttle == 0.0 and kart.v_mps == 0.0:
        if kart.throttle != 0.0:
            kart.throttle, kart.brake = 0.0, rolling.brakes[at]
        return
    kart.at_m += rolling.aheads_m[at]
    kart.left_m = rolling.lefts_m[at]
    kart.course_rad = rolling.courses_rad[at]
    kart.v_mps = v
    kart.throttle = throttle
    kart.brake = rolling.brakes[at]
    if v > DRIVES_MPS:
        kart.still_s = now.time_s
    if rolling.strained[at] > 0.0:
        kart.strained_s += now.step_s
    if slides or kart.turned_deg:
        kart.turned_deg = _slipped(kart.turned_deg, rolling.turns[at], slides, now.step_s)


@both
def _slipped(turned_deg: float, turn: float, slides: bool, step_s: float) -> float:  # noqa: FBT001 - a fact
    """Turn the body into a slide, and back after it."""
    goal = math.copysign(SLIP_DEG, turn) if slides else 0.0
    most = SLIP_DEG_S * step_s
    return turned_deg + min(max(goal - turned_deg, -most), most)
