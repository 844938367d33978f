from __future__ import annotations

import pytest

from signals.mqtt.contract import Inject
from signals.sequence.events import KINDS
from signals.venue.model import Venue
from signals.words import PIT
from sim.incidents import EVENTS, apply
from tests.sim.test_karts import Drive


@pytest.fixture
def drive(venue: Venue) -> Drive:
    drive = Drive(venue)
    for number, at_m in ((1, 100.0), (2, 60.0)):
        drive.place(number, at_m=at_m, v_mps=8.0, pace_mps=8.0)
    drive.limits = {1: 45.0, 2: 45.0}
    return drive


def happen(drive: Drive, event: str, **more: object) -> str:
    scene, said = apply(drive.ground, drive.scene, Inject(id="e1", event=event, **more))  # type: ignore[arg-type]
    assert scene is not None, said
    drive.scene = scene
    return said


def test_every_event_that_a_sequence_addresses_to_the_world_is_known_to_it() -> None:
    assert {name for name, kind in KINDS.items() if kind.addressee == "world"} == set(EVENTS)


def test_a_spin_turns_a_kart_round_stops_it_and_ends(drive: Drive) -> None:
    happen(drive, "spin", kart=1)
    drive.run(3)
    assert drive.kart(1).v_mps == 0
    assert drive.kart(1).turned_deg == 150
    drive.run(8)
    assert drive.kart(1).v_mps > 0
    assert drive.kart(1).turned_deg == 0


@pytest.mark.parametrize("event", ["stall", "smoke", "hand-raised"])
def test_a_kart_that_stands_stands_until_it_is_freed(drive: Drive, event: str) -> None:
    happen(drive, event, kart=1)
    drive.run(20)
    assert drive.kart(1).v_mps == 0
    assert abs(drive.kart(1).left_m) == pytest.approx(drive.ground.edge_m)
    happen(drive, "kart-free", kart=1)
    drive.run(5)
    assert drive.kart(1).v_mps > 2


def test_wrong_way_drives_back_and_turns_round_again(drive: Drive) -> None:
    happen(drive, "wrong-way", kart=1)
    drive.run(4)
    assert drive.kart(1).v_mps < 0
    drive.run(6)
    assert drive.kart(1).v_mps > 0


def test_a_pushed_kart_moves_though_its_limit_is_0(drive: Drive) -> None:
    drive.limits[1] = 0
    drive.run(8)
    stood_m = drive.kart(1).at_m
    happen(drive, "kart-pushed", kart=1)
    drive.run(5)
    assert 4 < drive.kart(1).at_m - stood_m < 6.5


def test_a_kart_enters_against_red_and_against_its_limit(drive: Drive) -> None:
    drive.limits[5] = 0
    happen(drive, "kart-enters", kart=5)
    drive.run(4)
    assert drive.ground.sector(drive.kart(5)) != PIT
    drive.run(8)
    assert drive.kart(5).v_mps == 0, "on the track it obeys its limiter again"


def test_a_kart_that_leaves_is_in_its_box(drive: Drive) -> None:
    happen(drive, "stall", kart=1)
    happen(drive, "kart-leaves", kart=1)
    assert drive.ground.sector(drive.kart(1)) == PIT
    assert drive.kart(1).at_m == drive.kart(1).box_m


def test_a_button_is_pressed_for_its_time(drive: Drive) -> None:
    happen(drive, "kart-button", kart=1, for_ms=500)
    assert drive.kart(1).button_until_s == pytest.approx(drive.scene.time_s + 0.5)


@pytest.mark.parametrize("event", ["debris", "smoke"])
def test_what_lies_on_the_track_slows_whoever_passes_until_it_is_swept(drive: Drive, event: str) -> None:
    happen(drive, event, where="s3")
    middle_m = drive.scene.items[0].at_m
    assert drive.ground.track.sector_at(middle_m) == "s3"
    drive.place(1, at_m=middle_m - 20, v_mps=8.0)
    slowest = min(drive.kart(1).v_mps for _ in range(60) if drive.run(0.1))
    assert slowest * 3.6 == pytest.approx(12.0, abs=1.0)
    happen(drive, "swept", where="s3")
    assert drive.scene.items == ()


@pytest.mark.parametrize(
    ("event", "more", "said"),
    [
        ("spin", {"kart": 5}, "Kart 5 is in the pit"),
        ("spin", {"kart": 99}, "spin needs a kart of this venue; got 99"),
        ("stall", {}, "stall needs a kart of this venue; got None"),
        ("kart-enters", {"kart": 1}, "Kart 1 is on the track already"),
        ("kart-leaves", {"kart": 5}, "Kart 5 is in the pit"),
        ("kart-free", {"kart": 1}, "Kart 1 is in no trouble"),
        ("debris", {"where": "s9"}, "debris needs where, one of s1, s2, s3, s4, s5, s6; got 's9'"),
        ("debris", {"where": "pit"}, "debris needs where, one of s1, s2, s3, s4, s5, s6; got 'pit'"),
        ("swept", {}, "Nothing lies there"),
        ("hail", {}, "The world knows no event 'hail'"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    drive: Drive, event: str, more: dict[str, object], said: str
) -> None:
    scene, sentence = apply(drive.ground, drive.scene, Inject(id="e1", event=event, **more))  # type: ignore[arg-type]
    assert scene is None
    assert sentence.startswith(said)
