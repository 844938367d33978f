"""The racing line lies between the white lines and is faster than the middle; speeds follow from grip."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import lsq_linear
from scipy.sparse import csr_array

from signals.venue.model import KartModel, Venue
from sim.ground import Ground
from sim.kart import G_MPS2
from sim.lines import PROFILE_EVERY, Lane, Line, batched, bounded, profile
from sim.track import Path

KART = KartModel()


@pytest.fixture(params=["venue", "quarry"])
def ground(request: pytest.FixtureRequest) -> Ground:
    venue: Venue = request.getfixturevalue(request.param)
    return Ground(venue)


def lap_s(line: Line, speeds: list[float], most_mps: float = 99.0) -> float:
    steps = [sum(part) for part in batched(line.steps, PROFILE_EVERY)]
    return sum(step / min(v, most_mps) for step, v in zip(steps, speeds, strict=True))


def middle(path: Path) -> Line:
    zeros = [0.0] * len(path.bends)
    steps = [stretch / path.per_m for stretch in path.stretches]
    return Line(lefts=zeros, slopes=zeros, bends=path.bends, steps=steps)


def test_every_line_leaves_a_kart_within_the_white_lines(ground: Ground) -> None:
    path, half_m = ground.track.lap, ground.model.width_m / 2
    for line in ground.lanes:
        rooms = [
            min(left - at - half_m, right + at - half_m)
            for at, left, right in zip(line.lefts, path.lefts, path.rights, strict=True)
        ]
        assert min(rooms) > 0.3


def test_the_racing_line_is_the_fastest(ground: Ground) -> None:
    lines = [*ground.lanes, middle(ground.track.lap)]
    times = [lap_s(line, profile(line, KART, grip=0.7, brake_mps2=4.5)) for line in lines]
    assert min(times) == times[Lane.RACING]
    assert times[Lane.RACING] < 0.97 * times[3]


def test_a_profile_asks_for_no_more_than_grip_brakes_and_power_give(ground: Ground) -> None:
    line = ground.lanes[Lane.RACING]
    speeds = profile(line, KART, grip=0.7, brake_mps2=4.5)
    steps = [sum(part) for part in batched(line.steps, PROFILE_EVERY)]
    bends = [max(map(abs, part)) for part in batched(line.bends, PROFILE_EVERY)]
    assert all(v * v * bend <= 0.7 * G_MPS2 + 1e-9 for v, bend in zip(speeds, bends, strict=True))
    for here, step in enumerate(steps):
        later = speeds[(here + 1) % len(speeds)]
        gained = (later * later - speeds[here] * speeds[here]) / 2 / step
        assert -4.5 - 1e-9 <= gained <= KART.thrust_n / KART.mass_kg + 1e-9


def test_a_bounded_least_is_the_least() -> None:
    dice = np.random.default_rng(1)
    matrix, target = dice.normal(size=(60, 30)), 3.0 * dice.normal(size=60)
    low, high = -0.3 * np.ones(30), 0.4 * np.ones(30)
    ours = bounded(csr_array(matrix.T @ matrix), matrix.T @ target, low, high)
    assert ours == pytest.approx(lsq_linear(matrix, target, (low, high), method="bvls").x, abs=1e-6)


def test_curvature_is_that_of_the_circle() -> None:
    turns = [math.tau * step / 48 for step in range(48)]
    path = Path([(20 * math.cos(turn), 20 * math.sin(turn)) for turn in turns], closed=True)
    assert path.bends == pytest.approx([1 / 20] * len(path.bends), rel=0.002)
    at_m, left_m = path.nearest(17.0, 0.0, 0.0, 5.0)
    assert (at_m % path.length_m, left_m) == pytest.approx((0.0, 3.0), abs=1e-6)
