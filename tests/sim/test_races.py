"""Whole sessions without incidents: twelve karts, ten minutes, thirty seeds; and a caution among them.

Contacts and white lines are measured on the ground karts cover (`Ground.contacts`, rectangles of their real
size), which no driver's decision knows of.
"""

from __future__ import annotations

import math
import os
import statistics
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from itertools import pairwise
from multiprocessing import get_context
from typing import NamedTuple

import pytest
from scipy.stats import chi2, combine_pvalues, f_oneway, norm, spearmanr, t

from signals.cli.options import configs
from signals.venue import load
from signals.venue.approach import reach_of
from signals.venue.model import Venue
from signals.words import Aspect
from sim.drivers import SKILLS
from sim.lines import PROFILE_EVERY, Lane, batched
from sim.scene import STEP_S, Kart
from tests.sim.drive import Drive

SEEDS, MINUTES, KARTS = range(1, 31), 10.0, 12
GAP_S, LONGEST_S = 5.0, 120.0
LINE_M = 0.10
"""How wide a white line is; a tyre on it is on the track. Typical, no source."""
LOOKS_EVERY = 3
"""Steps between two looks at contacts: 20 a second; at 1 m/s two karts come 5 cm closer between them."""
RERUN_MINUTES = 2


class Session(NamedTuple):
    """What is driven."""

    seed: int
    venue: str = "harbour-loop"
    wet: bool = False
    minutes: float = MINUTES


@dataclass
class Race:
    """What came of one session."""

    session: Session
    contacts: int = 0
    beyond_m: float = -99.0
    """How far, at most, a kart's side was beyond a white line."""
    skills: dict[int, int] = field(default_factory=dict)
    laps_s: dict[int, list[float]] = field(default_factory=lambda: defaultdict(list))
    digests: list[str] = field(default_factory=list)
    """One a minute."""

    def best_s(self) -> dict[int, float]:
        """Give each driver's pace: the middle of his three best laps."""
        return {kart: statistics.median(sorted(laps)[:3]) for kart, laps in sorted(self.laps_s.items())}

    def by_skill(self) -> tuple[list[int], list[float]]:
        """Give skills and paces, driver by driver."""
        best = self.best_s()
        return [self.skills[kart] for kart in best], list(best.values())


def race(session: Session) -> Race:
    """Let twelve karts out, limits as the controller gives them, and look at what they do."""
    venue = load(configs() / f"{session.venue}.toml")
    numbers = [kart.number for kart in venue.karts][:KARTS]
    limits = venue.limits_wet if session.wet else venue.limits
    gap_s = 0.0 if venue.choices.start == "grid" else GAP_S
    boosts = {} if session.wet else dict.fromkeys(numbers, 1)
    drive = Drive(venue, seed=session.seed, wet=session.wet, pit_kmh=limits.pit, boosts=boosts)
    told = Race(session, skills={kart.number: kart.driver.skill for kart in drive.scene.karts})
    touching: frozenset[tuple[int, int]] = frozenset()
    crossed: dict[int, float] = {}
    for step in range(round(session.minutes * 60 / STEP_S)):
        while len(drive.limits) < KARTS and drive.scene.time_s >= gap_s * len(drive.limits):
            drive.limits[numbers[len(drive.limits)]] = max(limits.classes.values())
        before = drive.scene
        after = drive.step()
        for was, kart in zip(before.karts, after.karts, strict=True):
            if kart.laps != was.laps:
                if kart.number in crossed:
                    told.laps_s[kart.number].append(after.time_s - crossed[kart.number])
                crossed[kart.number] = after.time_s
        if step % LOOKS_EVERY == 0:
            now = drive.ground.contacts(after)
            told.contacts += len(now - touching)
            touching = now
            told.beyond_m = max(told.beyond_m, *(beyond_m(drive, kart) for kart in after.karts))
        if after.steps % round(60 / STEP_S) == 0:
            told.digests.append(after.digest())
    return told


def beyond_m(drive: Drive, kart: Kart) -> float:
    """Tell how far a kart's side is beyond the white line; negative inside."""
    if kart.on_pit_lane or kart.number not in drive.limits:
        return -99.0
    right_m, left_m = drive.ground.track.edges_m(kart.at_m)
    half_m = drive.ground.model.width_m / 2
    return max(kart.left_m + half_m - left_m, -kart.left_m + half_m - right_m)


def all_of(sessions: list[Session]) -> list[Race]:
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn")) as pool:
        return list(pool.map(race, sessions))


@pytest.fixture(scope="module")
def races() -> list[Race]:
    return all_of([Session(seed) for seed in SEEDS])


def stayed_apart_and_on_the_track(races: list[Race]) -> None:
    contacts, sessions = sum(race.contacts for race in races), len(races)
    most = chi2.ppf(0.95, 2 * contacts + 2) / 2 / sessions  # Garwood 1936: a Poisson mean's upper bound
    beyond = max(race.beyond_m for race in races)
    print(f"\n{sessions} sessions: {contacts / sessions:.2f} contacts a session, at most {most:.2f} at 95 %")
    print(f"outermost side of a kart: {100 * beyond:.0f} cm beyond a white line's inner edge")
    assert most < 1.0 or sessions < len(SEEDS)
    assert contacts < sessions
    assert beyond < LINE_M, "no kart leaves the track"


@pytest.mark.gate
def test_twelve_karts_ten_minutes_thirty_seeds(races: list[Race]) -> None:
    stayed_apart_and_on_the_track(races)


@pytest.mark.gate
def test_so_it_is_from_a_grid_outdoors_and_in_the_wet() -> None:
    outdoors = [Session(seed, "quarry-ring") for seed in (1, 2, 3)]
    wet = [Session(1, wet=True), Session(2, wet=True), Session(3, "quarry-ring", wet=True)]
    came = all_of([*outdoors, *wet])
    stayed_apart_and_on_the_track(came)
    for race in came:
        assert len(race.laps_s) == KARTS, "everyone drives"


@pytest.mark.gate
def test_lap_times_are_those_of_people_of_differing_skill(races: list[Race]) -> None:
    """Best laps tell a driver's skill, in traffic too; what a session's chance may do is reckoned with.

    Skills are drawn without regard to anything else, so that were they without influence, ranks would be
    as if shuffled: a session's rank correlation then has mean 0 and variance 1/(n - 1) (Kendall 1948).
    """
    ranks = [spearmanr(*race.by_skill()).statistic for race in races]
    shuffled = norm.cdf(statistics.mean(ranks) * math.sqrt((KARTS - 1) * len(races)))
    linear = [statistics.correlation(*race.by_skill()) for race in races]
    off = t.ppf(0.95, len(races) - 1) * statistics.stdev(linear) / math.sqrt(len(races))
    print(f"\nskill to best laps: ranks {statistics.mean(ranks):.2f}, by chance with p {shuffled:.0e}")
    print(f"linear {statistics.mean(linear):.2f}, at 95 % below {statistics.mean(linear) + off:.2f}")
    assert shuffled < 1e-6
    assert statistics.mean(linear) + off < -0.5, "skill explains more than a quarter of what laps differ by"


@pytest.mark.gate
def test_drivers_differ_more_than_their_own_laps_do(races: list[Race]) -> None:
    """One-way analysis of variance, a session each; the spread itself is typical, no source."""
    tests = [f_oneway(*race.laps_s.values()) for race in races]
    spread = [
        statistics.stdev(best) / statistics.mean(best) for best in (race.by_skill()[1] for race in races)
    ]
    print(
        f"\nvariance between drivers to within: median F {statistics.median(f for f, _ in tests):.1f}, "
        f"largest p {max(p for _, p in tests):.3f}"
    )
    print(f"best laps spread by {statistics.mean(spread):.1%} between drivers")
    assert combine_pvalues([p for _, p in tests]).pvalue < 1e-6  # Fisher 1932
    assert 0.01 < statistics.mean(spread) < 0.10


@pytest.mark.gate
def test_a_rerun_in_another_process_gives_the_same_digests(races: list[Race]) -> None:
    assert len({race.digests[-1] for race in races}) == len(races)
    rerun = race(Session(SEEDS[0], minutes=RERUN_MINUTES))
    assert rerun.digests == races[0].digests[:RERUN_MINUTES]


def test_alone_every_rung_of_skill_is_quicker_than_the_one_below(venue: Venue) -> None:
    ground = Drive(venue).ground
    metres = [sum(part) for part in batched(ground.lanes[Lane.RACING].steps, PROFILE_EVERY)]
    laps = [
        sum(step / v for step, v in zip(metres, ground.speeds(skill, Lane.RACING, wet=wet), strict=True))
        for wet in (True, False)
        for skill in range(len(SKILLS))
    ]
    dry = laps[len(SKILLS) :]
    assert dry == sorted(dry, reverse=True)
    assert all(slow > quick for slow, quick in zip(laps, dry, strict=False)), "wet takes longer"
    assert 1.1 < dry[0] / dry[-1] < 1.6


class Marshalled(Drive):
    """Limits as the controller gives them with a caution on one sector and its approach."""

    held: str = ""

    def limit_of(self, kart: Kart) -> float:
        sector = next((each for each in self.venue.sectors if each.id == self.held), None)
        here = self.ground.sector(kart)
        slow = sector is not None and here in (sector.id, *sector.approach)
        return self.venue.limits.caution if slow else 45.0

    def caution(self, sector: str) -> None:
        self.held = sector
        heads = [head.id for head in self.venue.heads if sector in head.protects]
        self.show(Aspect.YELLOW_FLASH, None, *heads)

    def step_marshalled(self) -> None:
        self.limits = {
            kart.number: self.limit_of(kart) for kart in self.scene.karts if kart.number in self.limits
        }
        self.step()


@pytest.mark.parametrize(
    "sector",
    ["s4", *(pytest.param(sector, marks=pytest.mark.gate) for sector in ("s1", "s2", "s3", "s5", "s6"))],
)
def test_every_kart_is_under_the_caution_limit_before_it_enters_the_held_sector(
    venue: Venue, sector: str
) -> None:
    """All but who is nearer to it, when the yellow comes, than the ramp and a reaction take."""
    drive = Marshalled(venue, seed=5, pit_kmh=venue.limits.pit)
    for number in range(1, 9):
        drive.place(number, at_m=(45.0 * number) % venue.length_m, v_mps=8.0)
    drive.limits = dict.fromkeys(range(1, 9), 45.0)
    for _ in range(600):
        drive.step_marshalled()
    start_m = next(each.from_m for each in venue.sectors if each.id == sector)
    rooms = {kart.number: drive.ground.track.ahead_m(kart.at_m, start_m) for kart in drive.scene.karts}
    near = {number for number, room in rooms.items() if room < reach_of(venue)}
    drive.caution(sector)
    entered: dict[int, float] = {}
    coming = set(range(1, 9)) - near
    while set(entered) != coming and drive.scene.time_s < LONGEST_S:
        before = {kart.number: drive.ground.sector(kart) for kart in drive.scene.karts}
        drive.step_marshalled()
        for kart in drive.scene.karts:
            if before[kart.number] != sector == drive.ground.sector(kart) and kart.number not in near:
                entered.setdefault(kart.number, kart.v_mps * 3.6)
    assert set(entered) == coming
    assert len(entered) >= 5
    assert max(entered.values()) <= venue.limits.caution + 1e-6


def test_nobody_passes_anybody_where_yellow_is_shown(venue: Venue) -> None:
    drive = Drive(venue, seed=4)
    for number in range(1, 9):
        drive.place(number, at_m=100.0 + 12.0 * number, v_mps=4.0)
    drive.limits = {number: 12.0 + number % 3 for number in range(1, 9)}
    drive.show(Aspect.YELLOW)
    drive.run(6)
    order = _order(drive)
    for _ in range(60):
        drive.run(1)
        assert _order(drive) == order


def _order(drive: Drive) -> list[int]:
    """Give who is behind whom, from kart 1 backwards."""
    first = drive.kart(1).at_m
    out = [kart for kart in drive.scene.karts if kart.number in drive.limits]
    return [
        kart.number for kart in sorted(out, key=lambda kart: drive.ground.track.ahead_m(kart.at_m, first))
    ]


def test_lap_by_lap_a_lone_driver_is_steady(venue: Venue) -> None:
    drive = Drive(venue, seed=2)
    drive.place(1, at_m=20.0, v_mps=8.0)
    drive.limits[1] = 45.0
    crossed = []
    for _ in range(round(170 / STEP_S)):
        laps = drive.kart(1).laps
        drive.step()
        if drive.kart(1).laps != laps:
            crossed.append(drive.scene.time_s)
    times = [later - earlier for earlier, later in pairwise(crossed)]
    assert len(times) >= 3
    assert statistics.stdev(times) / statistics.mean(times) < 0.02
