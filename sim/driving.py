"""How drivers drive: follow, pass, steer, and press pedals.

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
from dataclasses import dataclass, field

from msgspec.structs import replace

from signals.words import Aspect
from sim.drivers import STRETCHES, pace
from sim.ground import Ground
from sim.kart import G_MPS2, brake_mps2, resistance_mps2, thrust_n
from sim.lines import CLEAR_M, PROFILE_EVERY, Lane, Line
from sim.scene import Kart, Mind, Scene
from sim.traffic import Other

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
STANDS_MPS = 0.1
STEER_M, STEER_S, STEER_CLIP_M, TIGHT_M = 3.5, 0.75, 1.0, 2.0
NEAR_M, FAR_M = 0.4, 1.8
"""A driver nearer to his line follows its bends, one farther off those of the road; between, some of both."""
GRIP_ASKED = 0.93
"""Of the tyres' grip that a driver asks for at most."""
LIFTS_MPS2 = -3.0
"""How a driver slows who would need more."""


def idm(gap_m: float, v_mps: float, front_mps: float, kart: Kart) -> float:
    """Give the acceleration that the kart ahead leaves (Intelligent Driver Model, interaction term)."""
    driver = kart.driver
    closing = v_mps * (v_mps - front_mps) / (2.0 * math.sqrt(EAGER_MPS2 * driver.comfort_mps2))
    wanted = driver.jam_m + max(0.0, v_mps * driver.headway_s + closing)
    share = wanted / max(gap_m, 0.1)
    return EAGER_MPS2 * (1.0 - share * share)


@dataclass(slots=True)
class Outlook:
    """What traffic leaves a driver."""

    low_m: float
    high_m: float
    """Between which he has room, metres left of the centreline."""
    lanes: list[float]
    """The acceleration that whoever is ahead on each line leaves."""
    free: list[bool]
    """Whether each line can be taken: nobody beside or close behind on it."""
    blocked: list[bool] = field(default_factory=lambda: [False] * 3)
    """Whether something stands on each line not far ahead."""
    stands: int | None = None
    """The path's sample where the nearest such thing stands."""
    stands_m: float = math.inf
    here: float = math.inf
    """The acceleration that whoever is ahead of him where he is leaves."""
    anywhere: float = math.inf
    """That which all ahead leave, on whatever line: for where nobody may pass."""
    care_mps: float = math.inf
    beside: bool = False
    squeezed: bool = False


def look(ground: Ground, kart: Kart, others: list[Other], sample: int) -> Outlook:
    """See what the karts and things around leave a driver."""
    path, half_m = ground.track.lap, ground.model.width_m / 2
    room_m = half_m + CLEAR_M
    outlook = Outlook(room_m - path.rights[sample], path.lefts[sample] - room_m, [math.inf] * 3, [True] * 3)
    length_m, at_m = path.length_m, kart.at_m
    most = min(length_m / 2, AHEAD_M)
    for other in others:
        if other.number == kart.number:
            continue
        ahead_m = (other.at_m - at_m + BEHIND_M) % length_m - BEHIND_M
        if ahead_m > most:
            continue
        gap_m = abs(ahead_m) - ground.model.length_m / 2 - other.long_m
        closing_mps = kart.v_mps - other.v_mps if ahead_m > 0.0 else other.v_mps - kart.v_mps
        if gap_m < BESIDE_M + CLOSING_S * max(0.0, closing_mps):
            _beside(ground, kart, other, ahead_m, outlook, sample)
        if ahead_m > 0.0:
            _ahead(ground, kart, other, gap_m, outlook)
        elif not other.stands:
            _behind(ground, kart, other, gap_m, outlook, sample)
    return outlook


def _beside(ground: Ground, kart: Kart, other: Other, ahead_m: float, outlook: Outlook, sample: int) -> None:
    """Keep clear of somebody beside: he has his room."""
    outlook.beside = True
    need_m = ground.model.width_m / 2 + other.wide_m + SIDE_ROOM_M
    towards_m = other.left_m + FORESEES_S * other.drift_mps
    if other.left_m >= kart.left_m:
        outlook.high_m = min(outlook.high_m, min(other.left_m, towards_m) - need_m)
    else:
        outlook.low_m = max(outlook.low_m, max(other.left_m, towards_m) + need_m)
    if ahead_m > 0 and abs(other.left_m - kart.left_m) < need_m - SIDE_ROOM_M / 2:
        outlook.squeezed = True
    for lane, line in enumerate(ground.lanes):
        past_m = line.lefts[sample] - other.left_m
        if abs(past_m) < need_m or past_m * (kart.left_m - other.left_m) < 0.0:
            outlook.free[lane] = False


def _ahead(ground: Ground, kart: Kart, other: Other, gap_m: float, outlook: Outlook) -> None:
    """Follow whoever is ahead, on the lines that he takes up, and where he is."""
    leaves = idm(gap_m, kart.v_mps, other.v_mps, kart)
    wide_m = ground.model.width_m / 2 + other.wide_m
    for lane, line in enumerate(ground.lanes):
        if (
            leaves < outlook.lanes[lane]
            and abs(line.lefts[other.sample] - other.left_m) < wide_m + LANE_ROOM_M
        ):
            outlook.lanes[lane] = leaves
    if other.stands and gap_m < SHUNS_M:
        if gap_m < outlook.stands_m:
            outlook.stands, outlook.stands_m = other.sample, gap_m
        for lane, line in enumerate(ground.lanes):
            if abs(line.lefts[other.sample] - other.left_m) < wide_m + LANE_ROOM_M:
                outlook.blocked[lane], outlook.free[lane] = True, False
    aside_m = abs(other.left_m - kart.left_m)
    if aside_m < wide_m + ROOM_M:
        outlook.here = min(outlook.here, leaves)
    if other.stands:
        if aside_m < wide_m + 2.0:
            slowing = 2.0 * CARE_MPS2 * max(0.0, gap_m - CARE_M)
            outlook.care_mps = min(outlook.care_mps, math.sqrt(CARE_MPS * CARE_MPS + slowing))
    elif not other.yields:
        outlook.anywhere = min(outlook.anywhere, leaves)


def _behind(ground: Ground, kart: Kart, other: Other, gap_m: float, outlook: Outlook, sample: int) -> None:
    """Whoever is behind on another line must not have to brake hard."""
    if gap_m > CLOSE_M and idm(gap_m, other.v_mps, kart.v_mps, kart) > -POLITE_MPS2:
        return
    wide_m = ground.model.width_m / 2 + other.wide_m + LANE_ROOM_M
    for lane, line in enumerate(ground.lanes):
        if abs(line.lefts[sample] - other.left_m) < wide_m:
            outlook.free[lane] = False


def on_lap(ground: Ground, scene: Scene, kart: Kart, others: list[Other]) -> Mind:
    """Decide on the lap: which line, how hard to press which pedal."""
    sample = ground.track.lap.sample(kart.at_m)
    outlook = look(ground, kart, others, sample)
    nearest = min(range(3), key=lambda lane: abs(ground.lanes[lane].lefts[sample] - kart.left_m))
    most = min(
        outlook.care_mps, _told_mps(ground, scene, kart), max(kart.limit_mps, kart.v_mps) + PRESSES_MPS
    )
    wishes = _wishes(ground, scene, kart, None if outlook.beside else nearest, most)
    lane = _lane(ground, scene, kart, outlook, wishes)
    want = min(wishes[lane], outlook.lanes[lane], outlook.here)
    if may_not_pass(ground, kart):
        want = min(want, outlook.anywhere)
    if outlook.squeezed:
        want = min(want, -1.0)
    low_m, high_m = outlook.low_m, outlook.high_m
    if kart.on_grid:
        low_m, high_m = max(low_m, -GRID_HALF_M), min(high_m, GRID_HALF_M)
    if low_m > high_m:
        low_m = high_m = (low_m + high_m) / 2
    return replace(
        kart.mind,
        lane=lane,
        lane_s=kart.mind.lane_s if lane == kart.mind.lane else scene.time_s,
        low_m=low_m,
        high_m=high_m,
        want_mps2=max(want, -HARD_MPS2),
    )


def may_not_pass(ground: Ground, kart: Kart) -> bool:
    """Whether what a driver knows forbids to overtake."""
    heeds = kart.mind.heeds
    return kart.home or heeds in CAUTIONS or heeds in (Aspect.RED, ground.venue.choices.finish_aspect)


def _wishes(ground: Ground, scene: Scene, kart: Kart, nearest: int | None, most_mps: float) -> list[float]:
    """Give the acceleration a driver would like on each line, were he alone.

    As long as he drives nearest to another line, he is no faster than that one lets him be; with somebody
    beside him, who may keep him off any line, no faster than the slowest.
    """
    path, v = ground.track.lap, kart.v_mps
    soon = path.sample(kart.at_m + ANTICIPATES_S * v) // PROFILE_EVERY
    stretch = int(STRETCHES * kart.at_m / path.length_m)
    even = limp(kart, scene.time_s) * pace(scene.seed, kart.number, kart.laps, stretch)
    speeds = [ground.speeds(kart.driver.skill, lane, wet=scene.wet)[soon] for lane in range(3)]
    most = min(most_mps, even * (min(speeds) if nearest is None else speeds[nearest]))
    return [max((min(even * speed, most) - v) / SETTLES_S, -HARD_MPS2) for speed in speeds]


def _told_mps(ground: Ground, scene: Scene, kart: Kart) -> float:
    """Give how fast signals and the way home let a driver go, as far as he keeps to them by himself."""
    limits, told = ground.venue.limits, math.inf
    if (share := limp(kart, scene.time_s)) < 1.0:
        told = share * kart.limit_mps
    if kart.mind.heeds is Aspect.RED:
        told = limits.stop / 3.6
    elif kart.mind.heeds in CAUTIONS:
        told = limits.caution / 3.6
    if kart.home and not kart.on_grid:
        room_m = ground.track.ahead_m(kart.at_m, ground.venue.pit_entry_m)
        told = min(told, math.sqrt(PIT_MPS * PIT_MPS + 2.0 * PIT_MPS2 * room_m))
    if kart.gives_way_until_s > scene.time_s:
        told = min(told, YIELDS * max(kart.limit_mps, PIT_MPS))
    return told


def limp(kart: Kart, now_s: float) -> float:
    """Give the share of its speed that a kart makes."""
    return kart.limp if now_s < kart.limp_until_s else 1.0


def _lane(ground: Ground, scene: Scene, kart: Kart, outlook: Outlook, wishes: list[float]) -> int:
    """Choose a line: the one that is due, else the best, where it is worth it and not too soon."""
    mind, now_s = kart.mind, scene.time_s
    if kart.home and ground.track.ahead_m(kart.at_m, ground.venue.pit_entry_m) < PIT_SIDE_M:
        return _if_free(mind.lane, ground.pit_side, outlook)
    if kart.gives_way_until_s > now_s:
        return _if_free(mind.lane, Lane.RIGHT, outlook)
    if outlook.stands is not None:
        return _way_past(ground, kart, outlook, outlook.stands)
    if now_s - mind.lane_s < KEEPS_S:
        return mind.lane
    gains = [min(wish, leaves) for wish, leaves in zip(wishes, outlook.lanes, strict=True)]
    gains[Lane.RACING] += HOME_MPS2
    best = max(range(3), key=gains.__getitem__)
    worth = gains[mind.lane] + (WORTH_MPS2 if best != Lane.RACING else 0.0)
    return _if_free(mind.lane, best, outlook) if gains[best] > worth else mind.lane


def _way_past(ground: Ground, kart: Kart, outlook: Outlook, there: int) -> int:
    """Keep to a line that leads past what stands ahead; from one that does not, take the nearest at once."""
    lane = kart.mind.lane
    free = [each for each in range(3) if outlook.free[each]]
    if not outlook.blocked[lane] or not free:
        return lane
    return min(free, key=lambda each: abs(ground.lanes[each].lefts[there] - kart.left_m))


def _if_free(lane: int, wanted: int, outlook: Outlook) -> int:
    return wanted if outlook.free[wanted] else lane


def on_pit_lane(ground: Ground, kart: Kart, others: list[Other], stop_m: float) -> Mind:
    """Decide on the pit lane: behind whoever is ahead, and up to where to stop."""
    v = kart.v_mps
    want = (max(kart.limit_mps, v) + PRESSES_MPS - v) / SETTLES_S
    room_m = stop_m - kart.at_m
    needed = v * v / (2.0 * max(room_m, 0.01))
    if needed > PIT_MPS2 or room_m < THERE_M:
        want = min(want, -max(needed, PIT_MPS2))
    elif room_m < CREEPS_M:
        want = min(want, (CREEP_MPS - v) / SETTLES_S)
    for other in others:
        gap_m = other.at_m - kart.at_m - ground.model.length_m
        if other.number != kart.number and gap_m > -ground.model.length_m and abs(other.left_m) < LANE_HALF_M:
            want = min(want, idm(gap_m, v, other.v_mps, kart))
    return replace(kart.mind, lane=0, low_m=-math.inf, high_m=math.inf, want_mps2=max(want, -HARD_MPS2))


def steer(ground: Ground, kart: Kart, line: Line, sample: int, grip: float) -> tuple[float, bool]:
    """Give the curvature a driver steers, 1/m, and whether he would need more than his tyres give.

    His line's own, and back to it where he is beside it; along the road where somebody keeps him off it.
    """
    mind, v, left = kart.mind, abs(kart.v_mps), line.lefts[sample]
    aim = min(max(left, mind.low_m), mind.high_m)
    off_m = aim - kart.left_m
    along = 0.0 if aim != left else min(max((FAR_M - abs(off_m)) / (FAR_M - NEAR_M), 0.0), 1.0)
    bend, course = along * line.bends[sample], kart.course_rad - along * line.slopes[sample]
    if along < 1.0:
        road = (ground.pit_lane if kart.on_pit_lane else ground.road).bends[sample]
        bend += (1.0 - along) * road / max(0.3, 1.0 - road * kart.left_m)
    reach_m = max(min(STEER_M, TIGHT_M + 0.5 * v), STEER_S * v)
    off_m = min(max(off_m, -STEER_CLIP_M), STEER_CLIP_M)
    turn = bend + 2.0 * (off_m - reach_m * course) / (reach_m * reach_m)
    most = GRIP_ASKED * grip * G_MPS2 / max(v * v, 0.1)
    asked = min(most, 1.0 / ground.model.radius_m)
    return min(max(turn, -asked), asked), abs(turn) > most


def pedals(ground: Ground, kart: Kart, want_mps2: float, grip: float) -> tuple[float, float]:
    """Give throttle and brake for the acceleration a driver wants; off both where his kart may not move."""
    model, v = ground.model, kart.v_mps
    if kart.limit_mps <= 0.0 and v < STANDS_MPS:
        return 0.0, 0.0
    force = want_mps2 + resistance_mps2(v, model)
    if force >= 0.0:
        return min(1.0, force * model.mass_kg / thrust_n(v, model)), 0.0
    return 0.0, min(1.0, -force / brake_mps2(model, grip))
