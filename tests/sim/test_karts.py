"""Karts obey their limiter, drivers what they see, and nothing else; the same seed makes the same world."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from signals.mqtt.contract import Inject
from signals.venue.model import Barrier, Head, Venue
from signals.words import PIT, Aspect
from sim.ground import Ground
from sim.incidents import apply
from sim.referee import Referee
from sim.scene import STEP_S, Doing, Driver, Item, Kart, Trouble
from tests.sim.drive import Drive

SLOW, FAST = Driver(skill=0), Driver(skill=12)


@pytest.fixture
def drive(venue: Venue) -> Drive:
    return Drive(venue)


def numbered(drive: Drive, after_m: float) -> Head:
    """Give the first head with a number display after a place."""
    heads = [head for head in drive.venue.heads if head.number and head.at_m > after_m]
    return min(heads, key=lambda head: head.at_m)


def kmh(kart: Kart) -> float:
    return kart.v_mps * 3.6


def test_the_same_seed_makes_the_same_world(venue: Venue) -> None:
    digests = []
    for seed in (7, 7, 8):
        drive = Drive(venue, seed=seed, limits={1: 45, 2: 45, 3: 45})
        drive.run(30)
        digests.append(drive.scene.digest())
    assert digests[0] == digests[1] != digests[2]


def test_a_kart_without_a_limit_stays_in_its_box(drive: Drive) -> None:
    before = drive.scene.karts
    drive.run(5)
    assert drive.scene.karts == before


def test_a_kart_let_out_drives_onto_the_track_and_as_fast_as_bends_and_limit_let_it(drive: Drive) -> None:
    drive.limits[1] = 45
    drive.until(lambda: drive.ground.sector(drive.kart(1)) != PIT)
    drive.until(lambda: drive.kart(1).laps == 1)
    speeds = [kmh(drive.kart(1)) for _ in range(400) if drive.run(0.1)]
    assert max(speeds) == pytest.approx(45, abs=0.1)
    assert 12 < min(speeds) < 30


def test_speed_falls_and_rises_along_the_venues_ramps(drive: Drive) -> None:
    drive.place(1, at_m=378.0, v_mps=10.0)
    drive.limits[1] = 0
    drive.run(2.0)
    assert drive.kart(1).v_mps == pytest.approx(10.0 - 2.0 * drive.venue.ramp.fall, abs=0.05)
    drive.run(5.0)
    assert drive.kart(1).v_mps == 0.0
    drive.limits[1] = 45
    drive.run(3.0)
    assert drive.kart(1).v_mps == pytest.approx(3.0 * drive.venue.ramp.rise, abs=0.25)


@settings(max_examples=15, deadline=None)
@given(
    limits=st.lists(st.sampled_from([0.0, 5.0, 12.0, 15.0, 28.0, 45.0]), min_size=1, max_size=6),
    seed=st.integers(0, 9),
)
def test_no_kart_ever_exceeds_what_ramp_and_limit_allow(venue: Venue, limits: list[float], seed: int) -> None:
    drive = Drive(venue, seed=seed)
    for index, number in enumerate((1, 2, 3)):
        drive.place(number, at_m=50.0 + 30.0 * index, v_mps=8.0)
    most = {1: 8.0, 2: 8.0, 3: 8.0}
    for limit in limits:
        drive.limits = dict.fromkeys(most, limit)
        for _ in range(40):
            drive.step()
            most = {number: max(limit / 3.6, v - venue.ramp.fall * STEP_S) for number, v in most.items()}
            assert all(drive.kart(number).v_mps <= v + 1e-9 for number, v in most.items())


def test_a_faster_driver_passes_a_slower_one_under_green_without_touching_him(drive: Drive) -> None:
    drive.place(1, at_m=60.0, v_mps=5.0, driver=FAST)
    drive.place(2, at_m=75.0, v_mps=5.0, driver=SLOW)
    drive.limits = {1: 45.0, 2: 25.0}
    for _ in range(1800):
        drive.step()
        assert not drive.ground.contacts(drive.scene)
    assert drive.ground.track.ahead_m(drive.kart(2).at_m, drive.kart(1).at_m) < 200


def test_nobody_passes_under_yellow_though_he_could(drive: Drive) -> None:
    drive.show(Aspect.YELLOW_FLASH)
    drive.place(1, at_m=60.0, v_mps=3.0, driver=FAST)
    drive.place(2, at_m=70.0, v_mps=2.0)
    drive.limits = {1: 15.0, 2: 8.0}
    drive.run(5)
    for _ in range(60):
        drive.run(1.0)
        assert 1.9 < drive.ground.track.ahead_m(drive.kart(1).at_m, drive.kart(2).at_m) < 60


def test_laps_wrap_around_and_are_counted(drive: Drive) -> None:
    drive.place(1, at_m=drive.ground.track.length_m - 5.0, v_mps=10.0)
    drive.limits[1] = 45
    drive.run(1.5)
    assert 8 < drive.kart(1).at_m < 14
    assert drive.kart(1).laps == 1


@pytest.mark.parametrize(
    ("aspect", "leaves"),
    [(Aspect.RED, False), (Aspect.DARK, False), (Aspect.GREEN, True), (Aspect.YELLOW_FLASH, True)],
)
def test_a_driver_stops_at_a_red_or_dark_pit_exit(drive: Drive, aspect: Aspect, leaves: bool) -> None:
    drive.limits[12] = 8
    drive.show(aspect, None, *drive.ground.pit_exit_heads)
    drive.run(30)
    assert (drive.ground.sector(drive.kart(12)) != PIT) is leaves
    if not leaves:
        assert drive.ground.on_lap[int(drive.kart(12).at_m)] is None, "it stands clear of the track"


def test_one_dark_twin_does_not_hide_the_other(drive: Drive) -> None:
    drive.limits[12] = 8
    drive.show(Aspect.DARK, None, drive.ground.pit_exit_heads[0])
    drive.run(30)
    assert drive.ground.sector(drive.kart(12)) != PIT


def test_a_driver_waits_at_the_pit_exit_for_a_kart_that_passes(drive: Drive) -> None:
    drive.limits |= {12: 8.0, 1: 0.0}
    drive.place(1, at_m=drive.venue.pit_exit_m - 3.0)
    drive.run(30)
    assert drive.ground.sector(drive.kart(12)) == PIT


def test_chequered_sends_everyone_home_to_his_box(drive: Drive) -> None:
    drive.place(1, at_m=200.0, v_mps=5.0)
    drive.limits[1] = 15
    drive.show(drive.venue.choices.finish_aspect)
    drive.until(lambda: drive.kart(1).doing is Doing.PARKED)
    kart = drive.kart(1)
    assert (kart.at_m, kart.v_mps, kart.on_pit_lane) == (kart.box_m, 0.0, True)
    drive.run(5)
    assert drive.kart(1).left_m == drive.ground.box_left_m, "rolled aside"
    assert drive.kart(1).doing is Doing.PARKED, "still limited above 0: it must not drive out again"
    drive.limits[1] = 0
    drive.run(1)
    assert drive.kart(1).doing is Doing.WAITING


def test_green_keeps_a_kart_lapping_past_the_pit_entry(drive: Drive) -> None:
    drive.place(1, at_m=300.0, v_mps=10.0)
    drive.limits[1] = 45
    drive.run(15)
    assert not drive.kart(1).on_pit_lane
    assert not drive.kart(1).home


def test_only_the_kart_whose_number_is_shown_comes_in_and_it_keeps_aside(drive: Drive) -> None:
    for number, at_m in ((1, 190.0), (2, 170.0)):
        drive.place(number, at_m=at_m, v_mps=5.0)
    drive.limits |= {1: 12.0, 2: 45.0}
    head = numbered(drive, after_m=190.0)
    drive.show(Aspect.NUMBER, 1, head.id)
    drive.until(lambda: drive.kart(1).home, 20)
    drive.run(8)
    assert not drive.kart(2).home
    assert drive.kart(1).left_m < -1.5
    assert 0 < drive.ground.track.ahead_m(drive.kart(1).at_m, drive.kart(2).at_m) < 150, "the other passed"


def test_blue_moves_a_kart_aside_for_a_while(drive: Drive) -> None:
    head = numbered(drive, after_m=150.0)
    drive.place(1, at_m=head.at_m - 15.0, v_mps=4.0)
    drive.limits[1] = 20
    drive.show(Aspect.BLUE_FLASH, 1, head.id)
    drive.run(6)
    assert drive.kart(1).left_m < -1.5
    drive.show(Aspect.GREEN)
    drive.run(18)
    assert drive.kart(1).mind.lane == 0
    assert not drive.kart(1).home


def test_a_signal_is_acted_on_after_a_human_time_and_not_before(venue: Venue) -> None:
    waits = []
    for seed in range(12):
        drive = Drive(venue, seed=seed)
        drive.place(1, at_m=30.0, v_mps=8.0)
        drive.limits[1] = 45
        drive.show(Aspect.YELLOW)
        begun_s = drive.scene.time_s
        drive.until(lambda drive=drive: drive.kart(1).mind.heeds is Aspect.YELLOW, 4)  # type: ignore[misc]
        waits.append(drive.scene.time_s - begun_s)
    assert 0.5 < min(waits) < max(waits) < 2.2
    assert len(set(waits)) > 4, "people differ"


def test_who_ignores_a_signal_is_slowed_by_his_limiter_alone(drive: Drive) -> None:
    drive.place(1, at_m=330.0, v_mps=8.0, driver=Driver(compliance=0.0))
    drive.show(drive.venue.choices.finish_aspect)
    drive.limits[1] = 15
    drive.run(20)
    assert not drive.kart(1).home
    assert kmh(drive.kart(1)) <= 15 + 1e-9


def test_who_overlooks_a_signal_on_one_head_may_notice_it_on_the_next(venue: Venue) -> None:
    """Nobody laps for ever because he overlooked the chequered head once."""
    overlooked = 0
    for seed in range(6):
        drive = Drive(venue, seed=seed)
        drive.place(1, at_m=20.0, v_mps=4.0, driver=Driver(compliance=0.3))
        drive.limits[1] = 15.0
        drive.run(1)
        drive.show(venue.choices.finish_aspect)
        drive.run(2)
        overlooked += not drive.kart(1).home
        drive.until(lambda drive=drive: drive.kart(1).home, 240.0)  # type: ignore[misc]
    assert overlooked >= 2


def test_a_wall_in_the_line_of_sight_hides_a_head(venue: Venue) -> None:
    head = next(head for head in venue.heads if head.id == "h3")
    x, y = head.x_m, head.y_m
    around = ((x - 1, y - 1), (x + 1, y - 1), (x + 1, y + 1), (x - 1, y + 1), (x - 1, y - 1))
    walled = replace(venue, barriers=(*venue.barriers, Barrier(points_m=around, height_m=4.0)))
    assert any("h3" in heads for heads in Ground(venue).seen)
    assert not any("h3" in heads for heads in Ground(walled).seen)


def test_a_lost_radio_slows_to_caution_then_to_creep(drive: Drive) -> None:
    limits = drive.venue.limits
    drive.place(1, at_m=378.0, v_mps=11.0)
    drive.limits[1] = 45
    drive.run(1)
    drive.silent.add(1)
    drive.run(1.4)
    assert kmh(drive.kart(1)) > limits.caution
    seen = [kmh(drive.kart(1)) for _ in range(120) if drive.run(0.1)]
    assert seen[-1] == pytest.approx(limits.creep)
    assert all(later <= earlier + 1e-9 for earlier, later in pairwise(seen))


def test_a_kart_that_was_never_heard_does_not_move(drive: Drive) -> None:
    drive.place(1, at_m=50.0)
    drive.run(3)
    assert drive.kart(1).at_m == 50.0


def test_a_button_cuts_the_drive_until_the_limit_was_at_0_and_is_raised_again(drive: Drive) -> None:
    drive.place(1, at_m=378.0, v_mps=8.0)
    drive.limits[1] = 45
    drive.change(1, button_until_s=drive.scene.time_s + 0.5)
    drive.run(2.0)
    assert drive.kart(1).cut
    assert drive.kart(1).v_mps < 8.0, "it rolls out"
    drive.limits[1] = 0
    drive.run(8.0)
    drive.limits[1] = 45
    drive.run(2.0)
    assert not drive.kart(1).cut
    assert drive.kart(1).v_mps > 1.0


def lying(drive: Drive, at_m: float) -> None:
    """Let parts lie in the middle of the road."""
    drive.scene = replace(drive.scene, items=(Item(what="debris", at_m=at_m),))


def test_who_stands_too_close_reverses_at_walking_pace_and_never_at_a_limit_of_0(drive: Drive) -> None:
    lying(drive, 155.0)
    drive.place(1, at_m=151.5, v_mps=0.0)
    drive.limits[1] = 0
    drive.run(5)
    assert drive.kart(1).at_m == 151.5
    drive.limits[1] = 45
    drive.until(lambda: drive.kart(1).v_mps < 0.0, 5.0)
    assert drive.kart(1).reverse
    drive.run(1.5)
    assert kmh(drive.kart(1)) == pytest.approx(-drive.venue.limits.reverse)
    drive.limits[1] = 0
    drive.run(0.1)
    assert drive.kart(1).v_mps == 0.0


def test_who_stands_too_close_gets_past_what_lies_there_without_touching_it(drive: Drive) -> None:
    lying(drive, 155.0)
    drive.place(1, at_m=151.5, v_mps=0.0)
    drive.limits[1] = 45
    nearest_m = 9.0
    while drive.kart(1).at_m < 160.0:
        drive.step()
        kart = drive.kart(1)
        assert drive.scene.time_s < 40
        if abs(kart.at_m - 155.0) < drive.ground.model.length_m / 2:
            nearest_m = min(nearest_m, abs(kart.left_m) - drive.ground.model.width_m / 2)
    assert nearest_m > 0.5, "the parts reach half a metre"


def test_nobody_backs_off_into_somebody_behind(drive: Drive) -> None:
    lying(drive, 155.0)
    for number, at_m in ((1, 151.5), (2, 149.0), (3, 146.5)):
        drive.place(number, at_m=at_m, v_mps=0.0)
        drive.limits[number] = 45
    referee = Referee(drive.ground)
    for _ in range(round(20 / STEP_S)):
        assert referee.observe(drive.step()) == [], "nobody touches, and a few metres back are no wrong way"
    assert min(drive.kart(number).at_m for number in (1, 2, 3)) > 156.0


@pytest.mark.parametrize(
    "sector", ["s2", *(pytest.param(each, marks=pytest.mark.gate) for each in ("s1", "s3", "s4", "s5", "s6"))]
)
def test_parts_on_the_road_are_passed_by_everyone_without_standing(drive: Drive, sector: str) -> None:
    numbers = range(1, 9)
    for number in numbers:
        drive.place(number, at_m=34.0 * number % drive.venue.length_m, v_mps=6.0)
    drive.limits = dict.fromkeys(numbers, 45.0)
    drive.run(8)
    before = {number: drive.kart(number).laps for number in numbers}
    littered, _ = apply(drive.ground, drive.scene, Inject(id="e1", event="debris", where=sector))
    assert littered is not None
    drive.scene = littered
    stood_s = dict.fromkeys(numbers, 0.0)
    for _ in range(round(45 / STEP_S)):
        drive.step()
        assert not drive.ground.contacts(drive.scene)
        for number in numbers:
            stood_s[number] += STEP_S * (abs(drive.kart(number).v_mps) < 0.3)
    assert max(stood_s.values()) < 5
    assert sum(drive.kart(number).laps > before[number] for number in numbers) == len(numbers)


def test_in_the_wet_everyone_is_slower_and_still_within_the_white_lines(venue: Venue) -> None:
    laps = {}
    for wet in (False, True):
        drive = Drive(venue, seed=3, wet=wet, limits={1: 45.0})
        drive.place(1, at_m=venue.start_line_m + 1, v_mps=6.0)
        while drive.kart(1).laps < 1:
            drive.step()
            kart = drive.kart(1)
            right_m, left_m = drive.ground.track.edges_m(kart.at_m)
            assert -right_m < kart.left_m - 0.65 < kart.left_m + 0.65 < left_m
        laps[wet] = drive.scene.time_s
    assert 1.02 * laps[False] < laps[True] < 1.4 * laps[False]


def test_rain_slows_drivers_in_bends_at_once_and_they_stay_on_the_track(drive: Drive) -> None:
    drive.place(1, at_m=20.0, v_mps=8.0)
    drive.limits = {1: 45.0}
    drive.run(30)

    def a_lap_s() -> float:
        laps, begun_s = drive.kart(1).laps, drive.scene.time_s
        drive.until(lambda: drive.kart(1).laps > laps)
        return drive.scene.time_s - begun_s

    a_lap_s()
    dry_s = a_lap_s()
    rainy, _ = apply(drive.ground, drive.scene, Inject(id="e1", event="rain"))
    assert rainy is not None
    drive.scene = rainy
    for _ in range(round(40 / STEP_S)):
        drive.step()
        kart, half_m = drive.kart(1), drive.ground.model.width_m / 2
        right_m, left_m = drive.ground.track.edges_m(kart.at_m)
        assert -right_m < kart.left_m - half_m < kart.left_m + half_m < left_m
    a_lap_s()
    assert a_lap_s() > 1.02 * dry_s


def test_a_boost_is_as_strong_as_its_limiter_was_told(drive: Drive) -> None:
    drive.place(1, at_m=200.0, v_mps=8.0, driver=Driver(boosts=True))
    drive.limits, drive.boosts, drive.boosts_mps = {1: 45.0}, {1: 1}, {1: 2.0 / 3.6}
    fastest = 0.0
    for _ in range(60 * 60):
        drive.step()
        fastest = max(fastest, kmh(drive.kart(1)))
    assert 45.5 < fastest <= 47 + 1e-9


def test_a_boost_comes_once_a_lap_and_only_where_allowed(drive: Drive) -> None:
    keen = Driver(boosts=True)
    for number, at_m in ((1, 200.0), (2, 260.0)):
        drive.place(number, at_m=at_m, v_mps=8.0, driver=keen)
    drive.limits, drive.boosts = {1: 45.0, 2: 45.0}, {1: 1}
    fastest, begins = {1: 0.0, 2: 0.0}, []
    for _ in range(60 * 90):
        before = drive.kart(1).boost_until_s
        drive.step()
        begins += [drive.kart(1).laps] * (drive.kart(1).boost_until_s > before)
        fastest = {number: max(v, kmh(drive.kart(number))) for number, v in fastest.items()}
    assert 46 < fastest[1] <= 50
    assert fastest[2] <= 45 + 1e-9
    assert len(begins) == len(set(begins)) >= 2


def test_grid_karts_stand_before_the_line_belong_to_the_pit_and_leave_together(quarry: Venue) -> None:
    drive = Drive(quarry)
    members = (1, 2, 3, 4)
    for number in members:
        kart = drive.kart(number)
        assert drive.ground.sector(kart) == PIT
        assert 0 < drive.ground.track.ahead_m(kart.at_m, quarry.start_line_m) < 60
    drive.limits = dict.fromkeys(members, 55.0)
    drive.run(1)
    assert all(drive.kart(number).v_mps > 0 for number in members)
    assert all(drive.kart(number).v_mps == 0 for number in range(5, 21))
    drive.run(14)
    assert all(drive.ground.sector(drive.kart(number)) != PIT for number in members)


def test_the_crew_puts_grid_karts_back_once_all_are_home(quarry: Venue) -> None:
    drive = Drive(quarry)
    drive.limits = {1: 55.0, 2: 55.0}
    drive.run(12)
    drive.show(quarry.choices.finish_aspect)
    drive.until(lambda: {drive.kart(1).doing, drive.kart(2).doing} == {Doing.PARKED}, 240)
    drive.limits = {1: 0.0, 2: 0.0}
    drive.run(5)
    slots = [drive.ground.slot(index)[0] for index in (0, 1)]
    assert [drive.kart(number).at_m for number in (1, 2)] == slots
    assert drive.kart(1).on_grid


@pytest.mark.parametrize("aspect", [Aspect.GREEN, Aspect.YELLOW_FLASH])
def test_whoever_passes_a_standing_kart_does_it_slowly(drive: Drive, aspect: Aspect) -> None:
    drive.show(aspect)
    drive.place(1, at_m=150.0, trouble=Trouble.STALL)
    drive.place(2, at_m=100.0, v_mps=4.0)
    drive.limits |= {1: 45.0, 2: 45.0}
    slowest = math.inf
    for _ in range(300):
        drive.run(0.1)
        assert not drive.ground.contacts(drive.scene)
        if abs(drive.kart(2).at_m - 150.0) < 2:
            slowest = min(slowest, kmh(drive.kart(2)))
    assert slowest < 14.0
    assert drive.kart(2).at_m > 160
