"""A step of the world: drivers decide, karts move, trouble goes on.

Pure: `step` makes the next scene of a scene and of what was heard; the same arguments give the
same scene. Drivers see heads and each other, karts know the limit their limiter took; neither
knows the controller's state.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from signals.words import Aspect
from sim import astray, troubles
from sim.backing import back_off
from sim.driving import LANE_HALF_M, LIFTS_MPS2, on_lap, on_pit_lane, pedals, steer
from sim.ground import Ground
from sim.heeding import heed
from sim.kart import backed, cap_after, capped, drives, hold, moved, must_release, speed_after
from sim.scene import STEP_S, Doing, Heard, Kart, Mind, Scene, Trouble
from sim.traffic import Other, Traffic, traffic

DECIDES_EVERY, TURNS = 6, 3
"""Steps between two decisions of a driver: ten a second. Karts take turns, a third of them at a time."""
CREW_MPS = 1.0
"""How fast the crew rolls a kart between its box and the pit lane."""
ENTERS_MPS = 5.0
"""A driver who comes to the pit entry faster stays out for another lap."""
DECIDES_M = 4.0
"""So far before the track a driver who leaves looks whether it is open."""
HOME_M, HOME_MPS = 0.4, 1.0
"""A kart that comes this close to its box this slowly is home."""
BESIDE_M = 0.05
"""A standing kart farther from the pit lane's middle is still being rolled there."""
CREW_NEEDS_M = 4.0
"""Free metres before and behind on the pit lane for it."""
ROLL_MPS = 4.0
"""How fast a kart that ignores its limit rolls out of the pit."""
INTRUDES_S = 2.0
DRIVES_MPS = 1.0
"""A kart that is slower does not count as driving."""
STRAIGHTENS_PER_M = 1.0
"""How tightly a driver steers in reverse for each radian he stands askew."""
BOOSTS_MPS = 0.05
"""A driver nearer to his limit feels the limiter."""
SLIP_DEG, SLIP_DEG_S = 20.0, 90.0
"""How far the body turns in a slide, and how fast."""
RUN_OFF_M = 0.8
"""Beyond the white line stands the barrier: no kart's middle gets farther."""
SCRAPE = 0.6
"""Share of its speed that a kart loses in a second along a barrier; typical, no source."""


def step(ground: Ground, scene: Scene, heard: Heard) -> Scene:
    """Make the scene `STEP_S` later."""
    seen = traffic(ground, scene) if scene.steps % (DECIDES_EVERY // TURNS) == 0 else None
    karts = tuple(_advance(ground, scene, heard, kart, seen) for kart in scene.karts)
    if ground.grid and any(kart.doing is Doing.PARKED for kart in karts):
        karts = _to_grid(ground, karts, scene.time_s + STEP_S)
    return troubles.unfold(ground, scene, replace(scene, steps=scene.steps + 1, karts=karts), heard)


def _to_grid(ground: Ground, karts: tuple[Kart, ...], now_s: float) -> tuple[Kart, ...]:
    """Have the crew put the karts in their slots once all are home and stand."""
    still = (Doing.PARKED, Doing.WAITING)
    if any(kart.doing not in still or now_s - kart.parked_s < 1 or kart.limit_mps > 0 for kart in karts):
        return karts
    return tuple(ground.stowed(kart, index) for index, kart in enumerate(karts))


def _advance(ground: Ground, scene: Scene, heard: Heard, kart: Kart, seen: Traffic | None) -> Kart:
    now_s = scene.time_s + STEP_S
    limit_mps = ground.limit_mps(kart, heard, now_s)
    if kart.trouble:
        if now_s >= kart.until_s:
            kart = astray.recovered(kart)
        elif kart.trouble is not Trouble.INTRUDES:
            return astray.course(ground, scene, kart)
        else:
            limit_mps = ROLL_MPS
    match kart.doing:
        case Doing.WAITING:
            return _wait(kart, limit_mps)
        case Doing.PARKED:
            return _park(ground, kart, limit_mps)
    kart = _limit(ground, heard, kart, limit_mps, now_s)
    if kart.on_pit_lane:
        return _pit_lane(ground, scene, heard, kart, seen)
    if seen and _has_its_turn(scene, kart):
        kart = heed(ground, scene, heard, kart)
        kart = back_off(ground, now_s, replace(kart, mind=on_lap(ground, scene, kart, seen.lap)), seen.lap)
        if kart.driver.boosts and not kart.boosted and heard.boosts.get(kart.number, 0) > 0:
            kart = _boost(ground, kart, now_s)
    return _lap(ground, kart, _drive(ground, scene, heard, kart))


def _has_its_turn(scene: Scene, kart: Kart) -> bool:
    return kart.number % TURNS == scene.steps * TURNS // DECIDES_EVERY % TURNS


def _wait(kart: Kart, limit_mps: float) -> Kart:
    if limit_mps > 0.0:
        return replace(kart, doing=Doing.LEAVING, until_s=math.inf, limit_mps=limit_mps)
    return kart if kart.limit_mps == limit_mps else replace(kart, limit_mps=limit_mps)


def _park(ground: Ground, kart: Kart, limit_mps: float) -> Kart:
    """Have the crew roll a kart aside into its box; with its limit back at 0 it waits for its next driver."""
    if kart.left_m != ground.box_left_m:
        return replace(kart, left_m=_rolled(kart.left_m, ground.box_left_m), limit_mps=limit_mps)
    if limit_mps > 0.0 or ground.grid:
        return kart if kart.limit_mps == limit_mps else replace(kart, limit_mps=limit_mps)
    return replace(kart, doing=Doing.WAITING, limit_mps=limit_mps)


def _rolled(left_m: float, to_m: float) -> float:
    most = CREW_MPS * STEP_S
    return left_m + min(max(to_m - left_m, -most), most)


def _limit(ground: Ground, heard: Heard, kart: Kart, limit_mps: float, now_s: float) -> Kart:
    """Let limiter and electronics take note: limit, ramp, button, boost."""
    boosting = now_s < kart.boost_until_s and heard.boosts.get(kart.number, 0) > 0
    latched = boosting or kart.held or kart.cut or now_s < kart.button_until_s
    if kart.cap_mps == limit_mps == kart.limit_mps > 0.0 and not latched:
        return kart  # as it was, which is most of the time
    ramp = heard.ramps.get(kart.number, ground.ramp)
    boost_mps = heard.boosts_mps.get(kart.number, ground.boost_mps)
    most = limit_mps + boost_mps if boosting else limit_mps
    cap_mps = cap_after(kart.cap_mps, kart.v_mps, most, ramp, STEP_S)
    held = must_release(kart.held, limit_mps, kart.throttle)
    cut = now_s < kart.button_until_s or (kart.cut and not kart.limit_mps <= 0.0 < limit_mps)
    if (limit_mps, cap_mps, held, cut) == (kart.limit_mps, kart.cap_mps, kart.held, kart.cut):
        return kart
    still_s = now_s if kart.limit_mps <= 0.0 < limit_mps else kart.still_s
    return replace(kart, limit_mps=limit_mps, cap_mps=cap_mps, held=held, cut=cut, still_s=still_s)


def _boost(ground: Ground, kart: Kart, now_s: float) -> Kart:
    """Have a driver use his boost, once a lap, where his limiter holds him up."""
    if kart.throttle < 1.0 or kart.v_mps < kart.limit_mps - BOOSTS_MPS or kart.mind.heeds is not Aspect.GREEN:
        return kart
    return replace(kart, boosted=True, boost_until_s=now_s + ground.venue.timing.boost / 1000)


def _drive(ground: Ground, scene: Scene, heard: Heard, kart: Kart) -> Kart:
    """Let a driver steer and press pedals, and his kart do what limiter and tyres make of it."""
    if kart.v_mps < 0.0 or (kart.reverse and kart.v_mps == 0.0):
        return _reverse(ground, kart)
    path = ground.track.pit if kart.on_pit_lane else ground.track.lap
    line = ground.pit_lane if kart.on_pit_lane else ground.lanes[kart.mind.lane]
    sample = int(kart.at_m * path.per_m + 0.5)
    grip = ground.grip[scene.wet]
    asked, too_fast = steer(ground, kart, line, sample, grip[0])
    want = min(kart.mind.want_mps2, LIFTS_MPS2) if too_fast else kart.mind.want_mps2
    throttle, brake = pedals(ground, kart, want, grip[0])
    if throttle == 0.0 and kart.v_mps == 0.0:
        return kart if kart.throttle == 0.0 else replace(kart, throttle=0.0, brake=brake)
    turn, spare, slides = hold(kart.v_mps, asked, grip)
    drive = drives(throttle, brake, cut=kart.cut, held=kart.held)
    v = speed_after(kart.v_mps, (drive, brake), spare, grip[0], ground.model, STEP_S)
    v = capped(v, kart.v_mps, kart.cap_mps, heard.ramps.get(kart.number, ground.ramp)[0], STEP_S)
    ahead, left, course = moved(
        (kart.left_m, kart.course_rad),
        0.5 * (kart.v_mps + v),
        turn,
        (path.bends[sample], path.stretches[sample]),
        STEP_S,
    )
    return replace(
        kart,
        at_m=kart.at_m + ahead,
        left_m=left,
        course_rad=course,
        v_mps=v,
        throttle=throttle,
        brake=brake,
        still_s=scene.time_s if v > DRIVES_MPS else kart.still_s,
        turned_deg=_slipped(kart.turned_deg, turn, slides=slides) if slides or kart.turned_deg else 0.0,
    )


def _reverse(ground: Ground, kart: Kart) -> Kart:
    """Drive back at walking pace, along the road, as long as its control is pressed and its limit lets it."""
    may = kart.reverse and kart.cap_mps > 0.0 and not kart.cut
    v = backed(kart.v_mps, min(ground.reverse_mps, kart.cap_mps), ground.ramp[1], STEP_S) if may else 0.0
    path = ground.track.pit if kart.on_pit_lane else ground.track.lap
    sample = path.sample(kart.at_m)
    place = (kart.left_m, kart.course_rad)
    most = 1.0 / ground.model.radius_m
    turn = path.bends[sample] + min(max(kart.course_rad * STRAIGHTENS_PER_M, -most), most)
    ahead, left, course = moved(place, v, turn, (path.bends[sample], path.stretches[sample]), STEP_S)
    return replace(kart, at_m=kart.at_m + ahead, left_m=left, course_rad=course, v_mps=v, throttle=0.0)


def _slipped(turned_deg: float, turn: float, *, slides: bool) -> float:
    """Turn the body into a slide, and back after it."""
    goal = math.copysign(SLIP_DEG, turn) if slides else 0.0
    most = SLIP_DEG_S * STEP_S
    return turned_deg + min(max(goal - turned_deg, -most), most)


def _lap(ground: Ground, before: Kart, kart: Kart) -> Kart:
    """See to what a kart drove over: the start line, the pit entry."""
    track, venue = ground.track, ground.venue
    moved_m = kart.at_m - before.at_m
    doing = Doing.COMING_IN if kart.home else Doing.LAPPING
    at_m = kart.at_m % track.length_m
    if abs(kart.left_m) > ground.narrowest_m + RUN_OFF_M:
        right_m, left_m = track.edges_m(at_m)
        kart = _scrape(kart, -right_m - RUN_OFF_M, left_m + RUN_OFF_M)
    if doing is not kart.doing or at_m != kart.at_m:
        kart = replace(kart, at_m=at_m, doing=doing)
    if moved_m <= 0:
        return kart
    if (venue.start_line_m - before.at_m) % track.length_m < moved_m:
        kart = replace(kart, on_grid=False, laps=kart.laps + 1, boosted=False)
    at_entry = track.ahead_m(before.at_m, venue.pit_entry_m) < moved_m
    if at_entry and kart.home and not kart.on_grid and kart.v_mps < ENTERS_MPS:
        return _across(ground, kart)
    return kart


def _scrape(kart: Kart, low_m: float, high_m: float) -> Kart:
    """Let a barrier stop a kart from going farther, and take of its speed."""
    left_m = min(max(kart.left_m, low_m), high_m)
    if left_m == kart.left_m:
        return kart
    return replace(kart, left_m=left_m, course_rad=0.0, v_mps=kart.v_mps * (1.0 - SCRAPE * STEP_S))


def _across(ground: Ground, kart: Kart) -> Kart:
    """Take a kart from the lap to the pit lane, or back, where it is and as it drives."""
    old, new = (
        (ground.track.pit, ground.track.lap) if kart.on_pit_lane else (ground.track.lap, ground.track.pit)
    )
    near_m = ground.venue.pit_exit_m if kart.on_pit_lane else 0.0
    spot = old.at(kart.at_m).aside(kart.left_m)
    at_m, left_m = new.nearest(spot.x_m, spot.y_m, near_m, 6.0)
    turned = math.radians(spot.heading_deg - new.at(at_m).heading_deg)
    return replace(
        kart,
        at_m=at_m,
        left_m=left_m,
        course_rad=math.remainder(kart.course_rad + turned, math.tau),
        on_pit_lane=not kart.on_pit_lane,
        mind=replace(kart.mind, lane=0, low_m=-math.inf, high_m=math.inf),
    )


def _pit_lane(ground: Ground, scene: Scene, heard: Heard, kart: Kart, seen: Traffic | None) -> Kart:
    """Drive along the pit lane: out of the box and to the exit, or in and to the box."""
    leaving = kart.doing is Doing.LEAVING
    if leaving and kart.v_mps == 0.0 and abs(kart.left_m) > BESIDE_M:
        return _roll_out(ground, kart, seen)
    if seen and _has_its_turn(scene, kart):
        stop_m = _exit_stop_m(ground, scene, heard, kart) if leaving else kart.box_m
        kart = replace(kart, mind=on_pit_lane(ground, kart, seen.lane, stop_m))
    kart = _drive(ground, scene, heard, kart)
    if leaving and kart.at_m >= ground.track.pit.length_m:
        until_s = scene.time_s + INTRUDES_S if kart.trouble else math.inf
        return replace(_across(ground, kart), doing=Doing.LAPPING, until_s=until_s, boosted=False)
    if not leaving and kart.at_m > kart.box_m - HOME_M and kart.v_mps < HOME_MPS:
        return _stow(kart, scene.time_s + STEP_S)
    return kart


def _exit_stop_m(ground: Ground, scene: Scene, heard: Heard, kart: Kart) -> float:
    """Give where a leaving driver has to stop: before the track, until it is open."""
    near = kart.at_m > ground.hold_m - DECIDES_M
    past = kart.at_m > ground.hold_m + ground.model.length_m / 2
    if past or kart.trouble or (near and ground.exit_open(scene, heard)):
        return math.inf
    return ground.hold_m


def _roll_out(ground: Ground, kart: Kart, seen: Traffic | None) -> Kart:
    """Have the crew roll a kart from its box onto the pit lane, once there is room."""
    in_box = kart.left_m == ground.box_left_m and not kart.trouble
    if in_box and (seen is None or any(_in_the_way(kart, other) for other in seen.lane)):
        return kart
    return replace(kart, left_m=_rolled(kart.left_m, 0.0))


def _in_the_way(kart: Kart, other: Other) -> bool:
    near = -2 * CREW_NEEDS_M < other.at_m - kart.at_m < CREW_NEEDS_M
    return near and other.number != kart.number and abs(other.left_m) < LANE_HALF_M


def _stow(kart: Kart, now_s: float) -> Kart:
    """Stop at the box; the crew does the rest."""
    return replace(
        kart,
        at_m=kart.box_m,
        v_mps=0.0,
        course_rad=0.0,
        throttle=0.0,
        doing=Doing.PARKED,
        home=False,
        gives_way_until_s=-1.0,
        parked_s=now_s,
        mind=Mind(),
    )
