"""The places a driver looks from: every metre of three lines he may drive on, and how fast he is there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from signals.venue.sight import Floats, Walls
from sim.drivers import SKILLS
from sim.ground import Ground
from sim.lines import PROFILE_EVERY, Lane, Line

PLACE_M = 1.0
KARTS_AHEAD = 3
KART_TOP_M = 1.0
"""How high a kart with its driver reaches: a helmet's crown above the eye; typical, no source."""
JAM_M, HEADWAY_S = 1.4, 0.75
"""How karts follow one another: the middle of the drivers drawn in `sim.drivers`."""


@dataclass(frozen=True, slots=True)
class Places:
    """Places along a lap, and the eyes of who drives there.

    Attributes:
        at_m: metres along the centreline, in driving order.
        eyes: for each of `Lane`'s lines, rows of x, y and driving direction in degrees.
        lefts_m: for each line, metres left of the centreline.
        length_m: of the lap.

    """

    at_m: Floats
    eyes: tuple[Floats, ...]
    lefts_m: tuple[Floats, ...]
    length_m: float

    @property
    def step_m(self) -> float:
        """Metres from one place to the next."""
        return self.length_m / len(self.at_m)


def places(ground: Ground) -> Places:
    """Give the places of a venue's lap, a metre or a little less apart."""
    length_m = ground.track.length_m
    count = math.ceil(length_m / PLACE_M)
    at_m = np.arange(count, dtype=np.float64) * (length_m / count)
    lefts = tuple(_lefts(ground, line, at_m) for line in ground.lanes)
    return Places(at_m, tuple(eyes(ground, at_m, left) for left in lefts), lefts, length_m)


def _lefts(ground: Ground, line: Line, at_m: Floats) -> Floats:
    return np.array([line.lefts[ground.track.lap.sample(float(at))] for at in at_m], float)


def eyes(ground: Ground, at_m: Floats, lefts_m: Floats) -> Floats:
    """Give rows of x, y and driving direction in degrees, of places beside the centreline."""
    poses = (
        ground.track.lap.at(float(at)).aside(float(left)) for at, left in zip(at_m, lefts_m, strict=True)
    )
    return np.array([(pose.x_m, pose.y_m, pose.heading_deg) for pose in poses])


def speeds_mps(ground: Ground, at_m: Floats, *, wet: bool) -> Floats:
    """Give how fast the boldest driver is at each place: on the fastest line, and with a boost."""
    venue = ground.venue
    limits = venue.limits_wet if wet else venue.limits
    top_kmh = max(limits.classes.values()) + (limits.boost if venue.choices.boosts else 0.0)
    profiles = np.array([ground.speeds(len(SKILLS) - 1, lane, wet=wet) for lane in Lane]).max(axis=0)
    samples = [ground.track.lap.sample(at) // PROFILE_EVERY for at in at_m]
    slowed: Floats = np.minimum(profiles[samples], top_kmh / 3.6)
    return slowed


def karts_ahead(ground: Ground, found: Places, lane: Lane, v_mps: Floats) -> Walls:
    """Give what hides from each place of a line when karts drive ahead on it, as close as drivers follow.

    The sides of `KARTS_AHEAD` karts: arrays of shape (2, places, pieces).
    """
    model, starts, ends = ground.model, [], []
    pitch_m = model.length_m + JAM_M + HEADWAY_S * v_mps
    for number in range(1, KARTS_AHEAD + 1):
        at_m = (found.at_m + number * pitch_m) % found.length_m
        left_m = _lefts(ground, ground.lanes[lane], at_m)
        corners = _corners(eyes(ground, at_m, left_m), model.length_m / 2, model.width_m / 2)
        starts += corners
        ends += [*corners[1:], corners[0]]
    tops = np.full((len(found.at_m), len(starts)), KART_TOP_M)
    return Walls(np.stack(starts, axis=-1), np.stack(ends, axis=-1), tops)


def _corners(poses: Floats, long_m: float, wide_m: float) -> list[Floats]:
    """Give the four corners of a kart at each pose, around; each of shape (2, poses)."""
    turn = np.radians(poses[:, 2])
    ahead, aside = np.stack([np.cos(turn), np.sin(turn)]), np.stack([-np.sin(turn), np.cos(turn)])
    middle = poses[:, :2].T
    ways = ((1, 1), (1, -1), (-1, -1), (-1, 1))
    return [middle + fore * long_m * ahead + side * wide_m * aside for fore, side in ways]
