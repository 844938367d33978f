"""How a kart in trouble moves: it spins, rolls out, is pushed, goes the wrong way, cuts a corner.

Pure: `course` stands once a step for the driver of a kart in trouble.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from sim.ground import Ground
from sim.scene import STEP_S, Kart, Scene, Trouble

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
TURNED_DEG = {
    Trouble.SPIN: 150.0,
    Trouble.CONTACT: 70.0,
    Trouble.WRONG_WAY: 180.0,
    Trouble.OVERTURNED: 80.0,
}
ROLLS_OUT = frozenset({Trouble.STALL, Trouble.SMOKE, Trouble.HAND_RAISED, Trouble.DRIVER_OUT, Trouble.TEARS})
"""Trouble in which a driver still steers: the kart rolls to the nearer edge."""
GOAL_MPS = {
    Trouble.PUSHED: PUSH_MPS,
    Trouble.WRONG_WAY: -WRONG_WAY_MPS,
    Trouble.SHORTCUT: SHORTCUT_MPS,
}


def course(ground: Ground, scene: Scene, kart: Kart) -> Kart:
    """Give a kart in trouble one step later: rolled out at the edge, pushed, or gone the wrong way."""
    left_s = kart.until_s - scene.time_s
    goal_mps, turn_deg = GOAL_MPS.get(kart.trouble, 0.0), TURNED_DEG.get(kart.trouble, 0.0)
    aside_m, most_rad, hard_mps2 = _edge_m(ground, kart), EDGE_RAD, BRAKE_MPS2
    if kart.trouble in ROLLS_OUT:
        hard_mps2 = ROLLS_MPS2
        if abs(aside_m - kart.left_m) > AT_EDGE_M:
            goal_mps = min(ROLLS_MPS, kart.v_mps)
    elif kart.trouble is Trouble.SHORTCUT:
        aside_m, most_rad = _cut_m(ground, kart, left_s), SWERVE_RAD
    elif kart.trouble is Trouble.CONTACT:
        ahead = _runs_into(ground, scene, kart)
        if ahead is None:
            hard_mps2 = IMPACT_MPS2
        else:
            goal_mps, turn_deg, aside_m = max(RUNS_MPS, kart.v_mps), 0.0, ahead.left_m
    if left_s < BACK_S:
        turn_deg = 0.0
    hard = hard_mps2 * STEP_S
    v = kart.v_mps + min(max(goal_mps - kart.v_mps, -hard), hard)
    aims_rad = min(max(AIMS_PER_M * (aside_m - kart.left_m), -most_rad), most_rad)
    course_rad = _slide(kart.course_rad, math.copysign(1.0, v) * aims_rad, STEERS_RAD_S)
    return replace(
        kart,
        v_mps=v,
        at_m=(kart.at_m + v * math.cos(course_rad) * STEP_S) % ground.track.length_m,
        left_m=kart.left_m + v * math.sin(course_rad) * STEP_S,
        course_rad=course_rad if v else kart.course_rad,
        turned_deg=_slide(kart.turned_deg, turn_deg, TURN_DEG_S if turn_deg else BACK_DEG_S),
        throttle=0.0,
        brake=1.0 if abs(v) < abs(kart.v_mps) else 0.0,
    )


def _runs_into(ground: Ground, scene: Scene, kart: Kart) -> Kart | None:
    """Give the kart that one runs into, None once it was met (or nobody is there)."""
    others = [other for other in scene.karts if other.number != kart.number and other.trouble is Trouble.SPIN]
    ahead_m = ground.track.ahead_m
    other = min(others, key=lambda each: ahead_m(kart.at_m, each.at_m), default=None)
    if kart.turned_deg or other is None:
        return None
    room_m = ahead_m(kart.at_m, other.at_m)
    return other if ground.model.length_m * MEETS < room_m < ground.track.length_m / 2 else None


def _edge_m(ground: Ground, kart: Kart) -> float:
    return math.copysign(ground.edge_m, kart.left_m)


def _cut_m(ground: Ground, kart: Kart, left_s: float) -> float:
    """Give the way across a corner: beyond its white line, and back on the road before its end."""
    right_m, left_m = ground.track.edges_m(kart.at_m)
    inside = inside_of_bend(ground, kart.at_m)
    line_m = left_m if inside > 0 else right_m
    return inside * (line_m + (SHORTCUT_M if left_s > SHORTCUT_BACK_S else -1.0))


def inside_of_bend(ground: Ground, at_m: float) -> int:
    """Give the inner side of the bend that is driven next: 1 left, -1 right."""
    lap = ground.track.lap
    ahead = (lap.bends[lap.sample(at_m + step)] for step in range(0, 16, 2))
    return 1 if sum(ahead) >= 0 else -1


def _slide(value: float, goal: float, a_second: float) -> float:
    most = a_second * STEP_S
    return value + min(max(goal - value, -most), most)


def recovered(kart: Kart) -> Kart:
    """Give a kart whose trouble is over: it turns round where it must, and drives on."""
    return replace(kart, trouble=Trouble.NONE, until_s=math.inf, turned_deg=0.0, v_mps=max(0.0, kart.v_mps))
