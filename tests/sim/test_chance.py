from __future__ import annotations

import statistics

import pytest

from sim.chance import Purpose, normal, uniform
from sim.drivers import SKILLS, draw, pace


def test_a_number_follows_from_its_four_names_alone() -> None:
    one = uniform(3, 7, Purpose.PACE, 41)
    assert [uniform(3, 7, Purpose.PACE, 41) for _ in range(3)] == [one] * 3
    others = {uniform(4, 7, Purpose.PACE, 41), uniform(3, 8, Purpose.PACE, 41)}
    others |= {uniform(3, 7, Purpose.HEED, 41), uniform(3, 7, Purpose.PACE, 42)}
    assert len(others - {one}) == 4


def test_these_numbers_stay_the_same_for_ever() -> None:
    """A kept digest or a drill is worth nothing once these change."""
    assert uniform(1, 1, Purpose.SKILL) == pytest.approx(0.9065064500099063, abs=1e-15)
    assert uniform(2, 12, Purpose.REACTION, 99) == pytest.approx(0.08122748138983454, abs=1e-15)


def test_uniform_numbers_are_uniform_along_every_name() -> None:
    for draws in (
        [uniform(seed, 1, Purpose.SKILL) for seed in range(4000)],
        [uniform(1, kart, Purpose.SKILL) for kart in range(4000)],
        [uniform(1, 1, Purpose.SKILL, counter) for counter in range(4000)],
    ):
        tenths = [sum(int(10 * each) == tenth for each in draws) for tenth in range(10)]
        assert max(abs(count - 400) for count in tenths) < 90
        assert 0.0 < min(draws) < max(draws) < 1.0


def test_normal_numbers_are_normal() -> None:
    draws = [normal(seed, 1, Purpose.SKILL) for seed in range(4000)]
    assert statistics.mean(draws) == pytest.approx(0.0, abs=0.05)
    assert statistics.stdev(draws) == pytest.approx(1.0, abs=0.04)


def test_drivers_differ_within_bounds() -> None:
    drivers = [draw(seed, kart) for seed in range(50) for kart in range(1, 13)]
    assert {0, len(SKILLS) - 1} <= {driver.skill for driver in drivers} <= set(range(len(SKILLS)))
    assert all(0.3 < driver.headway_s < 1.2 for driver in drivers)
    assert all(0.97 <= driver.compliance <= 1.0 for driver in drivers)
    assert 0.4 < statistics.mean(driver.boosts for driver in drivers) < 0.6
    assert all(0.98 <= pace(1, 1, lap, stretch) <= 1.0 for lap in range(9) for stretch in range(8))
