"""Incidents by chance: as many as the rate says, the same for the same seed, none where nobody drives."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from signals.cli.options import incident_rates
from signals.errors import BadInput
from signals.sequence.events import KINDS
from signals.sequence.rates import HOUR_S, MIX, rates
from signals.venue.model import Venue
from sim import seeded
from sim.scene import STEP_S, Scene
from sim.showing import befallen
from tests.sim.roll import Roll

HOURS = 2


@pytest.fixture
def roll(venue: Venue) -> Roll:
    roll = Roll(venue)
    for number in range(1, 7):
        roll.put(number, 30.0 * number, 8.0)
    return roll


def happened(roll: Roll, scene: Scene) -> int:
    """Count what chance brings within `HOURS`, the world standing still in between."""
    count = 0
    for second in range(round(HOURS * HOUR_S)):
        now = replace(scene, steps=second * round(1 / STEP_S))
        after = seeded.step(roll.ground, now)
        count += after is not now and len(befallen(after)) > 0
    return count


def test_as_many_come_as_the_rate_says(roll: Roll) -> None:
    # Binomial with mean 240 and deviation 15: four deviations either way.
    scene = replace(roll.scene, rates=rates("spin=120"), seed=7)
    assert 180 <= happened(roll, scene) <= 300


def test_none_come_without_a_rate_or_where_nobody_drives(venue: Venue, roll: Roll) -> None:
    assert happened(roll, roll.scene) == 0
    home = Roll(venue)
    assert happened(home, replace(home.scene, rates=rates("600"))) == 0


def test_the_same_seed_brings_the_same_and_another_does_not(roll: Roll) -> None:
    def story(seed: int) -> list[frozenset[tuple[str, int]]]:
        scene = replace(roll.scene, rates=rates("3000"), seed=seed)
        seconds = (replace(scene, steps=60 * second) for second in range(60))
        return [befallen(seeded.step(roll.ground, each)) for each in seconds]

    assert story(1) == story(1)
    assert story(1) != story(2)


@pytest.mark.parametrize("event", sorted(MIX))
def test_every_kind_can_come_and_is_an_event_of_the_world(roll: Roll, event: str) -> None:
    assert KINDS[event].addressee == "world"
    scene = replace(roll.scene, rates=((event, HOUR_S),))
    assert befallen(seeded.step(roll.ground, scene))


def test_one_number_is_shared_among_all_kinds() -> None:
    asked = dict(rates("17.1"))
    assert set(asked) == set(MIX)
    assert sum(asked.values()) == pytest.approx(17.1)
    assert asked["spin"] / asked["smoke"] == pytest.approx(MIX["spin"] / MIX["smoke"])
    assert rates("0") == ()
    assert rates("spin=6, stall=2") == (("spin", 6.0), ("stall", 2.0))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("many", "'many' is no number of incidents an hour, 0 to 3600"),
        ("-1", "'-1' is no number of incidents an hour"),
        ("nan", "'nan' is no number"),
        ("3601", "'3601' is no number"),
        ("hail=3", "'hail' is none of contact, debris"),
        ("spin=x,hail=2", "'x' is no number of incidents an hour, 0 to 3600; 'hail' is none of"),
        ("", "'' is no number"),
    ],
)
def test_what_cannot_be_read_is_named_all_at_once(asked: str, said: str) -> None:
    with pytest.raises(ValueError, match=re.escape(said)):
        rates(asked)
    with pytest.raises(BadInput, match=re.escape("--incidents")):
        incident_rates(asked)
