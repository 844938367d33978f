"""A step of the world: drivers decide, karts move, trouble goes on.

`step` makes the next scene of a scene and of what was heard; the same arguments give the same scene. `move`
is the same step for karts that are changed in place, which studies run compiled. Drivers see heads and each
other, karts know the limit their limiter took; neither knows the controller's state.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec.structs import replace

from signals.words import Aspect
from sim import troubles
from sim.astray import recover, stray
from sim.backing import back_off
from sim.course import NOWHERE, Air, Course, Now, Way, ahead_m, beside, nearest, place, sample
from sim.driving import LANE_HALF_M, Outlook, on_lap, on_pit_lane
from sim.ground import Ground
from sim.heeding import heed
from sim.kart import backed, cap_after, moved, must_release
from sim.rolling import Rolling, line_up, roll, take
from sim.scene import ASIDE, STEP_S, Doing, Heard, Item, Kart, Person, Scene, Trouble, forget, stow, twin
from sim.speeds import around, both
from sim.traffic import Traffic, look_around

DECIDES_EVERY, TURNS = 6, 3
"""Steps between two decisions of a driver: ten a second. Karts take turns, a third of them at a time."""
TAKEN_FOR_S, CREEP_AFTER_S = 1.5, 3.0
"""A kart whose radio is lost obeys the lower of its limit and caution, after this long creep."""
PULL_IN_M, PULL_IN_S = 12.0, 3.0
"""Free metres and seconds behind the pit exit that a driver waits for before pulling onto the track."""
NOBODYS = -1
"""Nobody's turn to decide."""
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
STRAIGHTENS_PER_M = 1.0
"""How tightly a driver steers in reverse for each radian he stands askew."""
BOOSTS_MPS = 0.05
"""A driver nearer to his limit feels the limiter."""
RUN_OFF_M = 0.8
"""Beyond the white line stands the barrier: no kart's middle gets farther."""
SCRAPE = 0.6
"""Share of its speed that a kart loses in a second along a barrier; typical, no source."""


def step(ground: Ground, scene: Scene, heard: Heard) -> Scene:
    """Make the scene `STEP_S` later."""
    course, traffic = ground.course, ground.room(len(scene.items) + len(scene.people))
    now = Now(scene.steps, scene.time_s, STEP_S, scene.seed, scene.wet, DECIDES_EVERY, TURNS)
    karts = [twin(kart) for kart in scene.karts]
    air = ground.air(scene, heard, shown=looks(now))
    move(course, now, air, karts, scene.items, scene.people, traffic, ground.outlooks, ground.rolling)
    after = replace(scene, steps=scene.steps + 1, karts=tuple(karts))
    return troubles.unfold(ground, scene, after, heard)


@both
def looks(now: Now) -> bool:
    """Whether some drivers look around in a step."""
    return now.steps % (now.every // now.turns) == 0


@both
def move(
    course: Course,
    now: Now,
    air: Air,
    karts: Sequence[Kart],
    items: Sequence[Item],
    people: Sequence[Person],
    traffic: Traffic,
    outlooks: Sequence[Outlook],
    rolling: Rolling,
) -> None:
    """Move every kart by a step; the last three are room to work in: nothing stays in them."""
    look, turn, exit_open = looks(now), NOBODYS, False
    if look:
        look_around(course, now, karts, items, people, traffic)
        turn = now.steps * now.turns // now.every % now.turns
        exit_open = _any_leaves(karts) and _exit_open(course, air, karts)
    rolling.counts[0] = 0
    for index in range(len(karts)):
        _advance(course, now, air, karts, index, traffic, outlooks[0], rolling, turn, exit_open)
    roll(course, now, rolling)
    for at in range(rolling.counts[0]):
        kart = karts[rolling.karts[at]]
        before_m = kart.at_m
        take(now, kart, rolling, at)
        _arrive(course, now, kart, before_m)
    if course.grid:
        _to_grid(course, karts, now.time_s + now.step_s)


@both
def _to_grid(course: Course, karts: Sequence[Kart], now_s: float) -> None:
    """Have the crew put the karts in their slots once all are home and stand."""
    home = 0
    for index in range(len(karts)):
        kart = karts[index]
        if kart.doing == Doing.PARKED:
            home += 1
        elif kart.doing != Doing.WAITING:
            return
        if now_s - kart.parked_s < 1 or kart.limit_mps > 0:
            return
    if home:
        for index in range(len(karts)):
            stow(course, karts[index], index)


@both
def _advance(
    course: Course,
    now: Now,
    air: Air,
    karts: Sequence[Kart],
    index: int,
    traffic: Traffic,
    outlook: Outlook,
    rolling: Rolling,
    turn: int,
    exit_open: bool,  # noqa: FBT001 - a fact of the step
) -> None:
    """Let a kart wait, or stray, or see to its limiter and let its driver decide before it rolls."""
    kart, next_s = karts[index], now.time_s + now.step_s
    limit_mps = told_mps(course, air.taken_mps[index], next_s - air.taken_s[index])
    if kart.trouble != Trouble.NONE:
        if next_s >= kart.until_s:
            recover(kart)
        elif kart.trouble != Trouble.INTRUDES:
            stray(course, now, karts, index)
            return
        else:
            limit_mps = ROLL_MPS
    if kart.doing == Doing.WAITING:
        _wait(kart, limit_mps)
        return
    if kart.doing == Doing.PARKED:
        _park(course, kart, limit_mps, now.step_s)
        return
    _limit(now, air, kart, index, limit_mps)
    mine = turn != NOBODYS and kart.number % now.turns == turn
    leaving = kart.on_pit_lane and kart.doing == Doing.LEAVING
    if leaving and kart.v_mps == 0.0 and abs(kart.left_m) > BESIDE_M:
        _roll_out(course, kart, traffic, turn != NOBODYS, now.step_s)
        return
    if mine and kart.on_pit_lane:
        stop_m = _exit_stop_m(course, kart, exit_open) if leaving else kart.box_m
        on_pit_lane(course, kart, traffic.lane, traffic.counts[1], stop_m)
    elif mine:
        _on_lap(course, now, air, kart, index, traffic, outlook)
    if kart.v_mps < 0.0 or (kart.reverse and kart.v_mps == 0.0):
        before_m = kart.at_m
        _reverse(course, kart, now.step_s)
        _arrive(course, now, kart, before_m)
    else:
        line_up(course, air, kart, index, rolling)


@both
def _on_lap(
    course: Course, now: Now, air: Air, kart: Kart, index: int, traffic: Traffic, outlook: Outlook
) -> None:
    """Let a driver on the lap look at signals, others, and what his kart can do."""
    next_s = now.time_s + now.step_s
    heed(course, now, air, kart)
    on_lap(course, now, kart, index, traffic, outlook)
    back_off(course, kart, traffic, next_s)
    if kart.driver.boosts and not kart.boosted and air.boosts[index] > 0:
        _boost(course, kart, next_s)


@both
def _arrive(course: Course, now: Now, kart: Kart, before_m: float) -> None:
    """See to where a kart has come to."""
    if kart.on_pit_lane:
        _pit_lane(course, now, kart)
    else:
        _lap(course, now, kart, before_m)


@both
def told_mps(course: Course, taken_mps: float, silent_s: float) -> float:
    """Give what a limiter was told; without its radio the fail limits of the venue's caps."""
    if silent_s > TAKEN_FOR_S:
        taken_mps = min(taken_mps, course.caution_kmh / 3.6)
    if silent_s > TAKEN_FOR_S + CREEP_AFTER_S:
        taken_mps = min(taken_mps, course.creep_kmh / 3.6)
    return taken_mps


@both
def _wait(kart: Kart, limit_mps: float) -> None:
    if limit_mps > 0.0:
        kart.doing = Doing.LEAVING
        kart.until_s = math.inf
    kart.limit_mps = limit_mps


@both
def _park(course: Course, kart: Kart, limit_mps: float, step_s: float) -> None:
    """Have the crew roll a kart aside into its box; with its limit back at 0 it waits for its next driver."""
    if kart.left_m != course.box_left_m:
        kart.left_m = _rolled(kart.left_m, course.box_left_m, step_s)
    elif limit_mps <= 0.0 and not course.grid:
        kart.doing = Doing.WAITING
    kart.limit_mps = limit_mps


@both
def _rolled(left_m: float, to_m: float, step_s: float) -> float:
    most = CREW_MPS * step_s
    return left_m + min(max(to_m - left_m, -most), most)


@both
def _limit(now: Now, air: Air, kart: Kart, index: int, limit_mps: float) -> None:
    """Let limiter and electronics take note: limit, ramp, button, boost."""
    now_s = now.time_s + now.step_s
    boosting = now_s < kart.boost_until_s and air.boosts[index] > 0
    pressed = now_s < kart.button_until_s
    same = kart.cap_mps == limit_mps and limit_mps == kart.limit_mps and limit_mps > 0.0
    if same and not (boosting or kart.held or kart.cut or pressed):
        return  # as it was, which is most of the time
    most = limit_mps + air.boosts_mps[index] if boosting else limit_mps
    ramp = air.falls[index], air.rises[index]
    kart.cap_mps = cap_after(kart.cap_mps, kart.v_mps, most, ramp, now.step_s)
    kart.held = must_release(kart.held, limit_mps, kart.throttle)
    let_go = kart.limit_mps <= 0.0 and limit_mps > 0.0
    kart.cut = pressed or (kart.cut and not let_go)
    if let_go:
        kart.still_s = now_s
    kart.limit_mps = limit_mps


@both
def _boost(course: Course, kart: Kart, now_s: float) -> None:
    """Have a driver use his boost, once a lap, where his limiter holds him up."""
    if kart.throttle < 1.0 or kart.v_mps < kart.limit_mps - BOOSTS_MPS or kart.mind.heeds != Aspect.GREEN:
        return
    kart.boosted = True
    kart.boost_until_s = now_s + course.boost_s


@both
def _way(course: Course, kart: Kart) -> Way:
    return course.pit if kart.on_pit_lane else course.lap


@both
def _reverse(course: Course, kart: Kart, step_s: float) -> None:
    """Drive back at walking pace, along the road, as long as its control is pressed and its limit lets it."""
    way = _way(course, kart)
    may = kart.reverse and kart.cap_mps > 0.0 and not kart.cut
    v = backed(kart.v_mps, min(course.reverse_mps, kart.cap_mps), course.rise_mps2, step_s) if may else 0.0
    number = sample(way, kart.at_m)
    path = way.bends[number], way.stretches[number]
    most = 1.0 / course.model.radius_m
    turn = way.bends[number] + min(max(kart.course_rad * STRAIGHTENS_PER_M, -most), most)
    ahead, left_m, course_rad = moved((kart.left_m, kart.course_rad), v, turn, path, step_s)
    kart.at_m += ahead
    kart.left_m = left_m
    kart.course_rad = course_rad
    kart.v_mps = v
    kart.throttle = 0.0


@both
def _lap(course: Course, now: Now, kart: Kart, before_m: float) -> None:
    """See to what a kart drove over: the start line, the pit entry."""
    length_m = course.lap.length_m
    moved_m = kart.at_m - before_m
    kart.doing = Doing.COMING_IN if kart.home else Doing.LAPPING
    kart.at_m = around(kart.at_m, length_m)
    if abs(kart.left_m) > course.narrowest_m + RUN_OFF_M:
        number = sample(course.lap, kart.at_m)
        _scrape(
            kart, -course.lap.rights[number] - RUN_OFF_M, course.lap.lefts[number] + RUN_OFF_M, now.step_s
        )
    if moved_m <= 0:
        return
    if around(course.start_line_m - before_m, length_m) < moved_m:
        kart.on_grid = False
        kart.laps += 1
        kart.boosted = False
    enters = kart.home and not kart.on_grid and kart.v_mps < ENTERS_MPS
    if enters and ahead_m(course, before_m, course.pit_entry_m) < moved_m:
        _across(course, kart)


@both
def _scrape(kart: Kart, low_m: float, high_m: float, step_s: float) -> None:
    """Let a barrier stop a kart from going farther, and take of its speed."""
    left_m = min(max(kart.left_m, low_m), high_m)
    if left_m != kart.left_m:
        kart.left_m = left_m
        kart.course_rad = 0.0
        kart.v_mps *= 1.0 - SCRAPE * step_s


@both
def _across(course: Course, kart: Kart) -> None:
    """Take a kart from the lap to the pit lane, or back, where it is and as it drives."""
    old, new = _way(course, kart), course.lap if kart.on_pit_lane else course.pit
    near_m = course.pit_exit_m if kart.on_pit_lane else 0.0
    x_m, y_m, heading_deg = beside(old, kart.at_m, kart.left_m)
    kart.at_m, kart.left_m = nearest(new, x_m, y_m, near_m, 6.0)
    turned = math.radians(heading_deg - place(new, kart.at_m)[2])
    kart.course_rad = _least_turn(kart.course_rad + turned)
    kart.on_pit_lane = not kart.on_pit_lane
    kart.mind.lane = 0
    kart.mind.low_m = -math.inf
    kart.mind.high_m = math.inf


@both
def _least_turn(turn: float) -> float:
    """Give the same direction as an angle from -pi to pi."""
    while turn > math.pi:
        turn -= math.tau
    while turn < -math.pi:
        turn += math.tau
    return turn


@both
def _pit_lane(course: Course, now: Now, kart: Kart) -> None:
    """See to what a kart on the pit lane has come to: the track, or its box."""
    leaving = kart.doing == Doing.LEAVING
    if leaving and kart.at_m >= course.pit.length_m:
        _across(course, kart)
        kart.doing = Doing.LAPPING
        kart.until_s = now.time_s + INTRUDES_S if kart.trouble != Trouble.NONE else math.inf
        kart.boosted = False
    elif not leaving and kart.at_m > kart.box_m - HOME_M and kart.v_mps < HOME_MPS:
        _pull_up(kart, now.time_s + now.step_s)


@both
def _exit_stop_m(course: Course, kart: Kart, exit_open: bool) -> float:  # noqa: FBT001 - a fact
    """Give where a leaving driver has to stop: before the track, until it is open."""
    near = kart.at_m > course.hold_m - DECIDES_M
    past = kart.at_m > course.hold_m + course.model.length_m / 2
    if past or kart.trouble != Trouble.NONE or (near and exit_open):
        return math.inf
    return course.hold_m


@both
def _any_leaves(karts: Sequence[Kart]) -> bool:
    for index in range(len(karts)):  # noqa: SIM110 - alike in both forms
        if karts[index].doing == Doing.LEAVING:
            return True
    return False


@both
def _exit_open(course: Course, air: Air, karts: Sequence[Kart]) -> bool:
    """Whether a driver at the pit exit pulls out: no red, not all dark, and room on the track."""
    lit = len(course.exit_heads) == 0
    for number in range(len(course.exit_heads)):
        aspect = air.aspects[course.exit_heads[number]]
        if aspect == Aspect.RED:
            return False
        lit = lit or aspect != Aspect.DARK
    if not lit:
        return False
    exit_m = course.pit_exit_m
    for metre in range(int(course.hold_m) + 1, len(course.lane_at_m)):
        if course.lane_at_m[metre] != NOWHERE:
            exit_m = course.lane_at_m[metre]
            break
    reach_m = ahead_m(course, exit_m, course.pit_exit_m) + 2 * course.model.length_m
    for index in range(len(karts)):
        kart = karts[index]
        if kart.on_pit_lane or kart.on_grid or kart.trouble in ASIDE:
            continue
        if ahead_m(course, kart.at_m, exit_m) < max(PULL_IN_M, PULL_IN_S * kart.v_mps):
            return False
        if ahead_m(course, exit_m, kart.at_m) < reach_m:
            return False
    return True


@both
def _roll_out(course: Course, kart: Kart, traffic: Traffic, look: bool, step_s: float) -> None:  # noqa: FBT001
    """Have the crew roll a kart from its box onto the pit lane, once there is room."""
    if kart.left_m == course.box_left_m and kart.trouble == Trouble.NONE:
        if not look:
            return
        for number in range(traffic.counts[1]):
            other = traffic.lane[number]
            near = -2 * CREW_NEEDS_M < other.at_m - kart.at_m < CREW_NEEDS_M
            if near and other.number != kart.number and abs(other.left_m) < LANE_HALF_M:
                return
    kart.left_m = _rolled(kart.left_m, 0.0, step_s)


@both
def _pull_up(kart: Kart, now_s: float) -> None:
    """Stop at the box; the crew does the rest."""
    kart.at_m = kart.box_m
    kart.v_mps = 0.0
    kart.course_rad = 0.0
    kart.throttle = 0.0
    kart.doing = Doing.PARKED
    kart.home = False
    kart.gives_way_until_s = -1.0
    kart.parked_s = now_s
    forget(kart)
