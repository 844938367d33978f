"""Who and what is on the track in a step, as drivers see it: places, sizes, ways."""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.ground import Ground
from sim.scene import ASIDE, Doing, Kart, Scene, waits_s

PIT_SLANT = 0.4
"""Sine of the angle at which a pit lane meets the track, about."""
PERSON_M = 0.9
"""Room that drivers leave around the middle of somebody on foot."""


STOOD_S = 3.0
"""Who has stood for so long though he may drive is passed like an obstacle."""


class Other(NamedTuple):
    """Somebody or something on a path."""

    at_m: float
    left_m: float
    v_mps: float
    drift_mps: float
    """Its speed to the left."""
    long_m: float
    """Half its length."""
    wide_m: float
    """Half its width."""
    stands: bool
    """It is no traffic but an obstacle: passed with care, also where nobody may overtake."""
    yields: bool
    """It keeps to the edge and lets pass, also where nobody may overtake."""
    number: int
    """The kart's; 0 for anything else."""
    sample: int
    """The path's sample nearest to it."""


class Traffic(NamedTuple):
    """All there is in a step."""

    lap: list[Other]
    lane: list[Other]


def traffic(ground: Ground, scene: Scene) -> Traffic:
    """See who is where: on the lap, and on the pit lane."""
    lap: list[Other] = []
    lane: list[Other] = []
    for kart in scene.karts:
        if kart.doing in (Doing.WAITING, Doing.PARKED):
            continue
        if not kart.on_pit_lane:
            lap.append(_other(ground, kart, kart.at_m, kart.left_m, scene.time_s))
            continue
        lane.append(_other(ground, kart, kart.at_m, kart.left_m, scene.time_s))
        place = ground.on_lap[int(kart.at_m)]
        if place is not None and abs(kart.left_m) < ground.model.width_m:
            lap.append(_other(ground, kart, place[0], place[1] + kart.left_m, scene.time_s))
    path = ground.track.lap
    for item in scene.items:
        sample = path.sample(item.at_m)
        lap.append(
            Other(item.at_m, item.left_m, 0.0, 0.0, item.reach_m, item.reach_m, True, False, 0, sample)
        )
    for person in scene.people:
        sample = 0 if person.in_pit else path.sample(person.at_m)
        where = lane if person.in_pit else lap
        where.append(Other(person.at_m, person.left_m, 0.0, 0.0, PERSON_M, PERSON_M, True, False, 0, sample))
    return Traffic(lap, lane)


def _other(ground: Ground, kart: Kart, at_m: float, left_m: float, now_s: float) -> Other:
    path, model, across = ground.track.lap, ground.model, math.sin(kart.course_rad)
    slant = PIT_SLANT if kart.on_pit_lane else abs(across)
    return Other(
        at_m,
        left_m,
        kart.v_mps * math.cos(kart.course_rad),
        kart.v_mps * across,
        model.length_m / 2,
        (model.width_m + model.length_m * slant) / 2,
        kart.trouble in ASIDE or waits_s(kart, now_s) > STOOD_S,
        kart.gives_way_until_s > now_s,
        kart.number,
        path.sample(at_m),
    )
