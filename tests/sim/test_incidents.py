"""What befalls the world on request: each event comes, is seen, and ends."""

from __future__ import annotations

import math

import pytest

from signals.mqtt.contract import Inject
from signals.sequence.events import KINDS
from signals.venue.model import Venue
from signals.words import PIT
from sim.incidents import EVENTS, apply
from sim.scene import Doing, Trouble
from sim.troubles import unfold
from tests.sim.roll import Roll


@pytest.fixture
def roll(venue: Venue) -> Roll:
    roll = Roll(venue)
    roll.put(1, 100.0, 8.0)
    roll.put(2, 60.0, 8.0)
    return roll


def test_every_event_that_a_sequence_addresses_to_the_world_is_known_to_it() -> None:
    assert {name for name, kind in KINDS.items() if kind.addressee == "world"} == set(EVENTS)


def test_a_spin_turns_a_kart_round_stops_it_and_ends_looking_forward(roll: Roll) -> None:
    roll.happen("spin", kart=1)
    roll.run(3)
    assert roll.kart(1).v_mps == 0
    assert roll.kart(1).turned_deg == 150
    roll.run(4.9)
    assert roll.kart(1).turned_deg < 20, "it is turned back before its driver goes on"
    roll.run(1)
    assert roll.kart(1).trouble is Trouble.NONE
    assert roll.kart(1).turned_deg == 0


@pytest.mark.parametrize(
    "event", ["stall", "smoke", "hand-raised", "driver-out", "overturned", "medical", "child-in-tears"]
)
def test_a_kart_that_stands_stands_until_it_is_freed(roll: Roll, event: str) -> None:
    roll.happen(event, kart=1)
    roll.run(20)
    assert roll.kart(1).v_mps == 0
    assert abs(roll.kart(1).left_m) > 1.5, "it rolled out toward the edge"
    roll.happen("kart-free", kart=1)
    assert roll.kart(1).trouble is Trouble.NONE
    roll.run(0.1)
    assert roll.scene.people == ()


def test_wrong_way_drives_back_and_turns_round_again(roll: Roll) -> None:
    roll.happen("wrong-way", kart=1)
    roll.run(3)
    assert roll.kart(1).v_mps < 0
    assert roll.kart(1).turned_deg == 180
    roll.run(4)
    assert roll.kart(1).trouble is Trouble.NONE
    assert roll.kart(1).v_mps >= 0


def test_a_pushed_kart_moves_at_walking_pace(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.run(8)
    stood_m = roll.kart(1).at_m
    roll.happen("kart-pushed", kart=1)
    roll.run(5)
    assert 4 < roll.kart(1).at_m - stood_m < 6.5


def test_a_contact_is_one_kart_that_runs_into_the_next_and_both_stand(roll: Roll) -> None:
    roll.put(2, 85.0, 9.0)
    assert roll.happen("contact", kart=2) == "Kart 2 runs into kart 1"
    touched = [roll.ground.contacts(roll.step()) for _ in range(60 * 6)]
    assert any((1, 2) in pairs for pairs in touched)
    assert roll.kart(1).v_mps == roll.kart(2).v_mps == 0
    assert roll.kart(1).turned_deg == 150
    assert roll.kart(2).turned_deg == 70
    roll.run(14)
    assert {roll.kart(number).trouble for number in (1, 2)} == {Trouble.NONE}


def test_a_shortcut_leaves_the_white_lines_and_comes_back(roll: Roll) -> None:
    roll.put(1, 165.0, 6.0)
    roll.happen("shortcut", kart=1)
    aside = []
    for _ in range(60 * 4 - 1):
        roll.step()
        right_m, left_m = roll.ground.track.edges_m(roll.kart(1).at_m)
        aside.append(max(roll.kart(1).left_m - left_m, -right_m - roll.kart(1).left_m))
    assert max(aside) > roll.ground.model.width_m / 2
    assert aside[-1] < 0


@pytest.mark.parametrize(
    ("event", "field"),
    [
        ("slow-kart", "limp_until_s"),
        ("loose-clothing", "scarf_until_s"),
        ("ignored-signal", "deaf_until_s"),
    ],
)
def test_what_lasts_ends_when_freed(roll: Roll, event: str, field: str) -> None:
    roll.happen(event, kart=1)
    assert getattr(roll.kart(1), field) > roll.scene.time_s + 20
    roll.happen("kart-free", kart=1)
    assert getattr(roll.kart(1), field) < roll.scene.time_s


def test_a_kart_that_leaves_is_in_its_box(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.happen("kart-leaves", kart=1)
    assert roll.ground.sector(roll.kart(1)) == PIT
    assert roll.kart(1).at_m == roll.kart(1).box_m


def test_a_button_is_pressed_for_its_time(roll: Roll) -> None:
    roll.happen("kart-button", kart=1, for_ms=500)
    assert roll.kart(1).button_until_s == pytest.approx(roll.scene.time_s + 0.5)


@pytest.mark.parametrize("event", ["debris", "smoke", "wet-patch", "barrier-moved"])
def test_what_lies_on_the_track_lies_until_it_is_swept(roll: Roll, event: str) -> None:
    roll.happen(event, where="s3")
    assert roll.ground.track.sector_at(roll.scene.items[0].at_m) == "s3"
    roll.run(5)
    roll.happen("swept", where="s3")
    assert roll.scene.items == ()


def test_what_lies_for_a_time_is_gone_after_it(roll: Roll) -> None:
    roll.happen("debris", where="s3", for_ms=2000)
    roll.run(1.9)
    assert roll.scene.items
    roll.run(0.2)
    assert not roll.scene.items


@pytest.mark.parametrize(
    ("event", "more", "said"),
    [
        ("spin", {"kart": 5}, "Kart 5 is in the pit"),
        ("spin", {"kart": 99}, "spin needs a kart of this venue; got 99"),
        ("stall", {}, "stall needs a kart of this venue; got None"),
        ("kart-enters", {"kart": 1}, "Kart 1 is on the track already"),
        ("kart-leaves", {"kart": 5}, "Kart 5 is in the pit"),
        ("kart-free", {"kart": 1}, "Kart 1 is in no trouble"),
        ("contact", {"kart": 5}, "Kart 5 is in the pit"),
        ("contact", {"kart": 1}, "No kart is near ahead of kart 1"),
        ("driver-out", {"kart": 5}, "Kart 5 is in the pit"),
        ("slow-kart", {"kart": 5}, "Kart 5 is in the pit"),
        ("marshal-out", {}, "Nothing there needs a marshal"),
        ("marshal-back", {}, "No marshal is out"),
        ("debris", {"where": "s9"}, "debris needs where, one of s1, s2, s3, s4, s5, s6; got 's9'"),
        ("debris", {"where": "pit"}, "debris needs where, one of s1, s2, s3, s4, s5, s6; got 'pit'"),
        ("swept", {}, "Nothing lies there"),
        ("dries", {}, "The track is dry"),
        ("hail", {}, "The world knows no event 'hail'"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    roll: Roll, event: str, more: dict[str, object], said: str
) -> None:
    scene, sentence = apply(roll.ground, roll.scene, Inject(id="e1", event=event, **more))  # type: ignore[arg-type]
    assert scene is None
    assert sentence.startswith(said)


def test_rain_wets_the_track_until_it_is_dried_or_its_time_is_over(roll: Roll) -> None:
    assert roll.happen("rain") == "It rains: the track is wet"
    roll.run(5)
    assert roll.scene.wet
    roll.happen("dries")
    assert not roll.scene.wet
    roll.happen("rain", for_ms=2000)
    roll.run(1.9)
    assert roll.scene.wet
    roll.run(0.2)
    assert not roll.scene.wet
    roll.happen("rain")
    roll.run(3)
    assert roll.scene.wet, "an earlier end has no say"


def test_a_kart_that_comes_home_is_mended_and_its_driver_heeds_again(roll: Roll) -> None:
    roll.happen("slow-kart", kart=1)
    roll.happen("loose-clothing", kart=1)
    before = roll.scene
    roll.change(1, doing=Doing.PARKED, on_pit_lane=True, v_mps=0.0)
    roll.scene = unfold(roll.ground, before, roll.scene, roll.heard())
    assert math.isclose(roll.kart(1).limp, 1.0)
    assert roll.kart(1).scarf_until_s < roll.scene.time_s
