"""Plain karts: constant pace on the centreline, slowed by nothing but limiter, traffic and trouble.

Pure: `step` makes the next scene of a scene and of what was heard; the same arguments give the
same scene. A kart knows the limit its limiter took and the heads it passed, never the controller's
state. A plain kart does not overtake; it passes what stands at the track's edge with care, and whoever
saw his number in blue or on black keeps to the edge for the others.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from signals.words import Aspect
from sim import troubles
from sim.ground import GAP_M, LENGTH_M, Ground
from sim.scene import ASIDE, STEP_S, Doing, Heard, Kart, Scene, Trouble, gives_way

BRAKE_MPS2 = 5.0
"""A driver's foot; the limiter's own ramps are the venue's."""
SIDE_MPS = 1.4
CARE_MPS, CARE_M = 12 / 3.6, 5.0
"""How fast a driver passes what stands on the track, and so many metres before and after it."""
ROLL_MPS = 4.0
"""How fast a kart that ignores its limit rolls out of the pit."""
GIVES_WAY_S = 15.0
"""How long a driver who saw his number in blue keeps to the edge."""


def braked_mps(floor_mps: float, room_m: float) -> float:
    """Give the speed from which a driver still brakes to `floor_mps` within `room_m`."""
    return math.sqrt(floor_mps**2 + 2 * BRAKE_MPS2 * max(0.0, room_m))


def step(ground: Ground, scene: Scene, heard: Heard) -> Scene:
    """Make the scene `STEP_S` later."""
    now_s = scene.time_s + STEP_S
    traffic = _Traffic(ground, scene)
    karts = tuple(_advance(ground, scene, heard, kart, traffic) for kart in scene.karts)
    if ground.grid and any(kart.doing is Doing.PARKED for kart in karts):
        karts = _to_grid(ground, karts, heard, now_s)
    return troubles.unfold(ground, scene, replace(scene, steps=scene.steps + 1, karts=karts))


def _to_grid(ground: Ground, karts: tuple[Kart, ...], heard: Heard, now_s: float) -> tuple[Kart, ...]:
    """Have the crew put the karts in their slots once all are home and stand."""
    still = (Doing.PARKED, Doing.WAITING)
    if any(
        kart.doing not in still or now_s - kart.parked_s < 1 or ground.limit_mps(kart, heard, now_s) > 0
        for kart in karts
    ):
        return karts
    return tuple(ground.stowed(kart, index) for index, kart in enumerate(karts))


class _Traffic:
    """Who drives where, for one step."""

    def __init__(self, ground: Ground, scene: Scene) -> None:
        self._length_m = ground.track.length_m
        self._now_s = scene.time_s
        moving = [kart for kart in scene.karts if kart.doing not in (Doing.WAITING, Doing.PARKED)]
        self._lap = sorted(
            (kart.at_m, kart.number, kart.v_mps)
            for kart in moving
            if not kart.on_pit_lane and kart.trouble not in ASIDE and not gives_way(kart, scene.time_s)
        )
        self._lane = sorted((kart.at_m, kart.number, kart.v_mps) for kart in moving if kart.on_pit_lane)
        self.spots = [(kart.at_m, kart.number) for kart in moving if kart.trouble in ASIDE]
        self.spots += [(item.at_m, 0) for item in scene.items]

    def ahead(self, kart: Kart) -> tuple[float, float]:
        """Give the free metres to the kart in front, and its speed; infinite where there is none."""
        if self.lets_pass(kart):
            return math.inf, 0.0
        line = self._lane if kart.on_pit_lane else self._lap
        mine = (kart.at_m, kart.number, kart.v_mps)
        if kart.on_pit_lane:
            front = next((other for other in line if other > mine), None)
            room_m = math.inf if front is None else front[0] - kart.at_m
        else:
            front = next((other for other in line if other > mine), line[0] if len(line) > 1 else None)
            room_m = math.inf if front is None else (front[0] - kart.at_m) % self._length_m
            if front is not None and front[1] == kart.number:
                return math.inf, 0.0
        return room_m - LENGTH_M, 0.0 if front is None else front[2]

    def lets_pass(self, kart: Kart) -> bool:
        """Whether a kart keeps to the track's edge for others."""
        return not kart.on_pit_lane and gives_way(kart, self._now_s)

    def spot_ahead_m(self, kart: Kart) -> float:
        """Metres to the nearest thing on the track ahead (negative just behind it); infinite without."""
        rooms = (
            (at_m - kart.at_m + CARE_M) % self._length_m
            for at_m, number in self.spots
            if number != kart.number
        )
        return min(rooms, default=math.inf) - CARE_M


def _advance(ground: Ground, scene: Scene, heard: Heard, kart: Kart, traffic: _Traffic) -> Kart:
    now_s = scene.time_s + STEP_S
    if kart.trouble:
        if now_s >= kart.until_s:
            kart = troubles.recovered(kart)
        elif kart.trouble is not Trouble.INTRUDES:
            return troubles.course(ground, scene, kart)
    limit_mps = ROLL_MPS if kart.trouble else ground.limit_mps(kart, heard, now_s)
    match kart.doing:
        case Doing.WAITING:
            return replace(kart, doing=Doing.LEAVING, until_s=math.inf) if limit_mps > 0 else kart
        case Doing.PARKED:
            return kart if limit_mps > 0 or ground.grid else replace(kart, doing=Doing.WAITING)
        case Doing.LEAVING if kart.on_pit_lane:
            return _leave(ground, scene, heard, _drive(ground, kart, traffic, limit_mps))
        case Doing.COMING_IN if kart.on_pit_lane:
            return _stow(ground, _drive(ground, kart, traffic, limit_mps), now_s)
        case _:
            return _lap(ground, heard, kart, _drive(ground, kart, traffic, limit_mps), now_s)


def _drive(ground: Ground, kart: Kart, traffic: _Traffic, limit_mps: float) -> Kart:
    """Move a kart along its path, as fast as limiter, pace and traffic let it."""
    ramp = ground.venue.ramp
    goal = min(kart.pace_mps, limit_mps)
    v = kart.v_mps
    v += min(max(goal - v, -ramp.fall * STEP_S), ramp.rise * STEP_S)
    room_m, front_mps = traffic.ahead(kart)
    allowed = braked_mps(front_mps, room_m - GAP_M)
    side_m = -ground.edge_m if traffic.lets_pass(kart) else 0.0
    if not kart.on_pit_lane and traffic.spots:
        spot_m = traffic.spot_ahead_m(kart)
        allowed = min(allowed, braked_mps(CARE_MPS, spot_m - CARE_M))
        side_m = -ground.edge_m / 2 if spot_m < 3 * CARE_M else side_m
    elif kart.on_pit_lane and kart.doing is Doing.COMING_IN:
        allowed = min(allowed, braked_mps(0.3, kart.box_m - kart.at_m))
        side_m = ground.box_left_m if kart.box_m - kart.at_m < CARE_M else 0.0
    if v > allowed:
        v = max(allowed, v - BRAKE_MPS2 * STEP_S)
    ahead_m = min(v * STEP_S, max(0.0, room_m - 0.2))
    return replace(kart, at_m=kart.at_m + ahead_m, v_mps=v, left_m=_slide(kart.left_m, side_m, v))


def _slide(left_m: float, to_m: float, v_mps: float) -> float:
    most = min(SIDE_MPS, v_mps) * STEP_S
    return left_m + min(max(to_m - left_m, -most), most)


def _leave(ground: Ground, scene: Scene, heard: Heard, kart: Kart) -> Kart:
    """Wait at the pit exit for the track; pull out where it is open."""
    length_m = ground.track.pit.length_m
    if kart.at_m < length_m - LENGTH_M:
        return kart
    if kart.trouble is not Trouble.INTRUDES and not ground.exit_open(scene, heard):
        return replace(kart, at_m=length_m - LENGTH_M, v_mps=0.0)
    if kart.at_m < length_m:
        return kart
    at_m = (ground.venue.pit_exit_m + kart.at_m - length_m) % ground.track.length_m
    until_s = scene.time_s + 2.0 if kart.trouble else math.inf
    return replace(kart, at_m=at_m, on_pit_lane=False, doing=Doing.LAPPING, until_s=until_s)


def _stow(ground: Ground, kart: Kart, now_s: float) -> Kart:
    """Stop in the box."""
    if kart.at_m < kart.box_m - 0.05:
        return kart
    return replace(
        kart,
        at_m=kart.box_m,
        v_mps=0.0,
        left_m=ground.box_left_m,
        doing=Doing.PARKED,
        home=False,
        gives_way_until_s=-1.0,
        parked_s=now_s,
    )


def _lap(ground: Ground, heard: Heard, before: Kart, kart: Kart, now_s: float) -> Kart:
    """See to what a kart drove over: heads, the start line, the pit entry."""
    track, venue = ground.track, ground.venue
    moved_m = kart.at_m - before.at_m
    kart = replace(kart, at_m=kart.at_m % track.length_m, doing=_on_lap(kart))
    if moved_m <= 0:
        return kart
    for head, at_m in ground.heads:
        if track.ahead_m(before.at_m, at_m) < moved_m:
            kart = _saw(ground, kart, ground.sees(head, heard, now_s), now_s)
    if kart.on_grid and track.ahead_m(before.at_m, venue.start_line_m) < moved_m:
        kart = replace(kart, on_grid=False)
    if kart.home and not kart.on_grid and track.ahead_m(before.at_m, venue.pit_entry_m) < moved_m:
        over_m = track.ahead_m(venue.pit_entry_m, kart.at_m)
        return replace(kart, at_m=over_m, on_pit_lane=True, doing=Doing.COMING_IN)
    return kart


def _on_lap(kart: Kart) -> Doing:
    return Doing.COMING_IN if kart.home else Doing.LAPPING


def _saw(ground: Ground, kart: Kart, seen: tuple[Aspect, int | None], now_s: float) -> Kart:
    """Act on a head: chequered, or the own number, sends home; the own number in blue, to the edge."""
    aspect, number = seen
    if aspect is ground.venue.choices.finish_aspect:
        return replace(kart, home=True)
    if aspect is Aspect.NUMBER and number == kart.number:
        return replace(kart, home=True, gives_way_until_s=math.inf)
    if aspect is Aspect.BLUE_FLASH and number == kart.number:
        return replace(kart, gives_way_until_s=max(kart.gives_way_until_s, now_s + GIVES_WAY_S))
    return kart
