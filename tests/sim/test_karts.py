"""Plain karts obey their limiter and what they see, and nothing else; the same seed makes the same world."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from signals.venue.model import Head, Venue
from signals.words import PIT, Aspect
from sim.engine import step
from sim.ground import GAP_M, LENGTH_M, Ground
from sim.scene import STEP_S, Doing, Heard, Kart, Scene, Trouble


@dataclass
class Drive:
    """A world whose limits and heads are set by hand; every report stays fresh unless told otherwise."""

    venue: Venue
    seed: int = 1
    limits: dict[int, float] = field(default_factory=dict)
    aspects: dict[str, tuple[Aspect, int | None]] = field(default_factory=dict)
    silent: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.ground = Ground(self.venue)
        self.scene = self.ground.begin(self.seed)
        self.taken: dict[int, tuple[float, float]] = {}
        self.show(Aspect.GREEN)

    def show(self, aspect: Aspect, number: int | None = None, *heads: str) -> None:
        self.aspects |= {
            head.id: (aspect, number) for head in self.venue.heads if not heads or head.id in heads
        }

    def heard(self) -> Heard:
        now_s = self.scene.time_s
        fresh = {kart: (limit, now_s) for kart, limit in self.limits.items() if kart not in self.silent}
        self.taken |= fresh
        return Heard(taken=self.taken, shown={head: (*shown, now_s) for head, shown in self.aspects.items()})

    def run(self, seconds: float) -> Scene:
        for _ in range(round(seconds / STEP_S)):
            self.scene = step(self.ground, self.scene, self.heard())
        return self.scene

    def kart(self, number: int) -> Kart:
        return next(kart for kart in self.scene.karts if kart.number == number)

    def place(self, number: int, **more: object) -> None:
        lapping = {"on_pit_lane": False, "on_grid": False, "doing": Doing.LAPPING, "left_m": 0.0} | more
        karts = tuple(
            replace(kart, **lapping) if kart.number == number else kart for kart in self.scene.karts
        )
        self.scene = replace(self.scene, karts=karts)


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
        drive.run(20)
        digests.append(drive.scene.digest())
    assert digests[0] == digests[1] != digests[2]


def test_a_kart_without_a_limit_stays_in_its_box(drive: Drive) -> None:
    before = drive.scene.karts
    drive.run(5)
    assert drive.scene.karts == before


def test_a_kart_let_out_drives_onto_the_track_and_keeps_its_pace(drive: Drive) -> None:
    drive.limits[1] = 45
    drive.run(40)
    kart = drive.kart(1)
    assert drive.ground.sector(kart) != PIT
    assert 0.88 * 45 <= kmh(kart) <= 0.99 * 45
    assert kmh(kart) == pytest.approx(kart.pace_mps * 3.6)


def test_speed_falls_and_rises_along_the_venues_ramps(drive: Drive) -> None:
    drive.place(1, at_m=60.0, v_mps=10.0, pace_mps=10.0)
    drive.limits[1] = 0
    drive.run(2.0)
    assert drive.kart(1).v_mps == pytest.approx(10.0 - 2.0 * drive.venue.ramp.fall, abs=0.05)
    drive.run(5.0)
    assert drive.kart(1).v_mps == 0.0
    drive.limits[1] = 45
    drive.run(3.0)
    assert drive.kart(1).v_mps == pytest.approx(3.0 * drive.venue.ramp.rise, abs=0.05)


@settings(max_examples=20, deadline=None)
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
            drive.run(STEP_S)
            most = {number: max(limit / 3.6, v - venue.ramp.fall * STEP_S) for number, v in most.items()}
            assert all(drive.kart(number).v_mps <= v + 1e-9 for number, v in most.items())


def test_followers_keep_their_gap_and_never_overtake(drive: Drive) -> None:
    for index, number in enumerate((1, 2, 3, 4)):
        drive.place(number, at_m=100.0 - 12.0 * index, pace_mps=6.0 + 2.0 * index, v_mps=6.0)
    drive.limits = dict.fromkeys((1, 2, 3, 4), 45.0)
    for _ in range(60):
        drive.run(0.5)
        at = [drive.kart(number).at_m for number in (1, 2, 3, 4)]
        gaps = [drive.ground.track.ahead_m(behind, front) for front, behind in pairwise(at)]
        assert all(LENGTH_M < gap < drive.ground.track.length_m / 2 for gap in gaps)
    assert gaps == pytest.approx([LENGTH_M + GAP_M] * 3, abs=0.6)


def test_laps_wrap_around(drive: Drive) -> None:
    drive.place(1, at_m=drive.ground.track.length_m - 5.0, v_mps=10.0, pace_mps=10.0)
    drive.limits[1] = 45
    drive.run(1.0)
    assert drive.kart(1).at_m == pytest.approx(5.0, abs=0.2)


@pytest.mark.parametrize(
    ("aspect", "leaves"),
    [(Aspect.RED, False), (Aspect.DARK, False), (Aspect.GREEN, True), (Aspect.YELLOW_FLASH, True)],
)
def test_a_driver_stops_at_a_red_or_dark_pit_exit(drive: Drive, aspect: Aspect, leaves: bool) -> None:
    drive.limits[12] = 8
    drive.show(aspect, None, *drive.ground.pit_exit_heads)
    drive.run(30)
    assert (drive.ground.sector(drive.kart(12)) != PIT) is leaves


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
    drive.run(90)
    kart = drive.kart(1)
    assert kart.doing is Doing.PARKED
    assert (kart.at_m, kart.v_mps, kart.on_pit_lane) == (kart.box_m, 0.0, True)
    drive.run(5)
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
    for number, at_m in ((1, 150.0), (2, 120.0)):
        drive.place(number, at_m=at_m, v_mps=8.0)
    drive.limits |= {1: 12.0, 2: 45.0}
    head = numbered(drive, after_m=150.0)
    drive.show(Aspect.NUMBER, 1, head.id)
    drive.run(20)
    assert drive.kart(1).home
    assert not drive.kart(2).home
    assert drive.kart(1).left_m == pytest.approx(-drive.ground.edge_m)
    behind_m = drive.ground.track.ahead_m(drive.kart(1).at_m, drive.kart(2).at_m)
    assert behind_m < drive.ground.track.length_m / 2, "the other passed"


def test_blue_moves_a_kart_aside_for_a_while(drive: Drive) -> None:
    head = numbered(drive, after_m=150.0)
    drive.place(1, at_m=head.at_m - 5.0, v_mps=4.0, pace_mps=4.0)
    drive.limits[1] = 45
    drive.show(Aspect.BLUE_FLASH, 1, head.id)
    drive.run(6)
    assert drive.kart(1).left_m == pytest.approx(-drive.ground.edge_m)
    drive.show(Aspect.GREEN)
    drive.run(16)
    assert drive.kart(1).left_m == pytest.approx(0.0, abs=0.2)
    assert not drive.kart(1).home


def test_a_lost_radio_slows_to_caution_then_to_creep(drive: Drive) -> None:
    limits = drive.venue.limits
    drive.place(1, at_m=50.0, v_mps=11.0)
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
    drive.run(100)
    assert {drive.kart(1).doing, drive.kart(2).doing} == {Doing.PARKED}
    drive.limits = {1: 0.0, 2: 0.0}
    drive.run(2)
    slots = [drive.ground.slot(index)[0] for index in (0, 1)]
    assert [drive.kart(number).at_m for number in (1, 2)] == slots
    assert drive.kart(1).on_grid


def test_whoever_passes_a_standing_kart_does_it_slowly(drive: Drive) -> None:
    drive.place(1, at_m=150.0, trouble=Trouble.STALL)
    drive.place(2, at_m=100.0, v_mps=11.0, pace_mps=11.0)
    drive.limits |= {1: 45.0, 2: 45.0}
    slowest = math.inf
    for _ in range(100):
        drive.run(0.1)
        if abs(drive.kart(2).at_m - 150.0) < 2:
            slowest = min(slowest, kmh(drive.kart(2)))
    assert slowest == pytest.approx(12.0, abs=1.0)
    assert drive.kart(2).at_m > 160
