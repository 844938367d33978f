"""How trouble goes on and ends: karts that nobody drives, things and people on the track.

Pure, as the engine that calls it: `course` once a step for each kart in trouble, in place of its
driver, and `unfold` once a step when all karts have moved.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from sim.ground import Ground
from sim.scene import STEP_S, Kart, Scene, Trouble

BRAKE_MPS2 = 5.0
SIDE_MPS = 1.4
PUSH_MPS = 1.2
WRONG_WAY_MPS = 2.0
TURN_DEG_S = 240.0


def unfold(ground: Ground, before: Scene, after: Scene) -> Scene:
    """Let what happened go on: what lies on the track for a time is gone after it."""
    del ground, before
    if all(item.until_s > after.time_s for item in after.items):
        return after
    return replace(after, items=tuple(item for item in after.items if item.until_s > after.time_s))


def course(ground: Ground, scene: Scene, kart: Kart) -> Kart:
    """Give a kart in trouble one step later: rolled out at the edge, pushed, or gone the wrong way."""
    del scene
    edge_m = ground.edge_m if kart.number % 2 else -ground.edge_m
    match kart.trouble:
        case Trouble.PUSHED:
            goal, turn = PUSH_MPS, 0.0
        case Trouble.WRONG_WAY:
            goal, turn = -WRONG_WAY_MPS, 180.0
        case Trouble.SPIN:
            goal, turn = 0.0, 150.0
        case _:
            goal, turn = 0.0, 0.0
    hard = BRAKE_MPS2 * STEP_S
    v = kart.v_mps + min(max(goal - kart.v_mps, -hard), hard)
    most = TURN_DEG_S * STEP_S
    return replace(
        kart,
        v_mps=v,
        at_m=(kart.at_m + v * STEP_S) % ground.track.length_m,
        left_m=_slide(kart.left_m, edge_m, SIDE_MPS),
        turned_deg=kart.turned_deg + min(max(turn - kart.turned_deg, -most), most),
    )


def _slide(left_m: float, to_m: float, v_mps: float) -> float:
    most = min(SIDE_MPS, v_mps) * STEP_S
    return left_m + min(max(to_m - left_m, -most), most)


def recovered(kart: Kart) -> Kart:
    """Give a kart whose trouble is over: it turns round where it must, and drives on."""
    return replace(kart, trouble=Trouble.NONE, until_s=math.inf, turned_deg=0.0, v_mps=max(0.0, kart.v_mps))
