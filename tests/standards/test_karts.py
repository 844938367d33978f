"""Karts, speeds and distances against published values; R read in the source's own text, Q quoted, D our
arithmetic on the value.

What K1 asks of the brakes is the kart maker's: the limiter's ramp is no brake, and a test says so.
Not applied: K5 (the record of the daily inspection comes with the opening check). The simulated world's
own karts and drivers stand in `test_world_karts.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from signals.core.state import Member
from signals.core.table import TABLE
from signals.errors import BadInput
from signals.mqtt.access import access_list
from signals.mqtt.topics import Topics
from signals.venue import load
from signals.venue.approach import ramp_m, reach_of, reaction_m
from signals.venue.defaults import CLASSES_KMH, WET_RAMP
from signals.venue.model import Limits, Ramp, Venue
from signals.words import PIT, Phase, Word
from tests.standards.conftest import Session

KMH_PER_MPH = 1.609344
MPS = 3.6
FOOT_M = 0.3048
SMALL = Path(__file__).parents[1] / "venue" / "small.toml"

K1_ADULT_MPS, K1_CHILD_MPS, K1_STOP_M = 12.52, 4.47, 12.19
"""K1 (R, D): 13 NCAC 15 .0429(a): 28 mph, 10 mph, 40 ft."""


def test_k1_no_adult_is_faster_than_28_mph_indoors(session: Session, venue: Venue) -> None:
    """K1 (R): 13 NCAC 15 .0429(a), on the indoor demo venue, without boost, by what karts are told."""
    assert round(28 * KMH_PER_MPH / MPS, 2) == K1_ADULT_MPS
    session.race(*(kart.number for kart in venue.karts if kart.class_ == "adult"))
    fastest = max(kart.limit_kmh for kart in session.picture.karts.values())
    assert fastest == venue.limits.classes["adult"]
    assert fastest / MPS <= K1_ADULT_MPS


def test_k1_k2_no_small_child_is_faster_than_10_mph() -> None:
    """K1 (R): 13 NCAC 15 .0429(a), K2 (Q): Louisiana Admin. Code 55:V.2593, on the default of a venue file.

    The demo venue hires to no small children; its juniors' 28 km/h is neither rule's child.
    """
    assert round(10 * KMH_PER_MPH / MPS, 2) == K1_CHILD_MPS
    assert CLASSES_KMH["child"] / MPS <= K1_CHILD_MPS


def test_k1_stopping_is_the_brakes_work_not_the_limiters(venue: Venue) -> None:
    """K1 (R, D): 13 NCAC 15 .0429(a): full speed to rest within 40 ft takes 6.43 m/s².

    That is a kart's brake, tested at the kart. The limiter's ramp takes three times as far, and nothing
    here may count on it as on a brake.
    """
    assert round(40 * FOOT_M, 2) == K1_STOP_M
    assert round(K1_ADULT_MPS**2 / (2 * K1_STOP_M), 2) == 6.43
    assert ramp_m(K1_ADULT_MPS * MPS, 0, 6.43) == pytest.approx(K1_STOP_M, abs=0.01)
    assert ramp_m(venue.limits.classes["adult"], 0, venue.ramp.fall) > 3 * K1_STOP_M


def test_k2_a_venue_under_a_slower_code_says_so_and_is_obeyed(tmp_path: Path) -> None:
    """K2 (Q): Louisiana Admin. Code 55:V.2593: adults 25 mph, children 10 mph.

    The demo venue is faster than that code: its 45 km/h are a choice, one line in its file.
    """
    adult_kmh, child_kmh = (math.floor(mph * KMH_PER_MPH) for mph in (25, 10))
    text = SMALL.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("classes"))
    path = tmp_path / "slower.toml"
    classes = f"classes = {{ child = {child_kmh}, adult = {adult_kmh} }}"
    text = text.replace(line, classes).replace('"junior"', '"child"').replace("junior = 20", "child = 16")
    path.write_text(text, encoding="utf-8")
    limits = load(path).limits
    assert limits.classes == {"child": child_kmh, "adult": adult_kmh}
    assert max(limits.classes.values()) <= 25 * KMH_PER_MPH


def test_k3_only_the_controller_tells_a_kart_its_limit(each_venue: Venue) -> None:
    """K3 (R): 13 NCAC 15 .0429(a) and Louisiana 55:V.2593: the governor is out of the patron's reach."""
    topics = Topics.of(each_venue.id, simulated=each_venue.simulated)
    access = access_list(each_venue)
    for kart, what in product(each_venue.karts, ("limit", "caps")):
        topic = topics.name("kart", str(kart.number), what)
        may = {user for user in (None, *access.users) if access.may_publish(user, topic)}
        assert may == {"controller"}


def test_k3_no_word_but_allow_in_a_test_names_a_speed() -> None:
    """K3 (R): 13 NCAC 15 .0429(a) and Louisiana 55:V.2593."""
    allowing = {
        rule.word
        for rule in TABLE.rules
        for target, value in rule.sets.items()
        if target.startswith("allowed") and value != "False"
    }
    assert allowing == {"allow"}
    assert {rule.phases for rule in TABLE.rules if rule.word == "allow"} == {("test",)}


@pytest.mark.parametrize("phase", [Phase.CLOSED, Phase.TEST, Phase.RACING])
def test_k3_whatever_is_called_no_kart_may_drive_faster_than_its_class(
    session: Session, phase: Phase
) -> None:
    """K3 (R): 13 NCAC 15 .0429(a) and Louisiana 55:V.2593: every word, with a speed it has no right to."""
    if phase is Phase.RACING:
        session.race(1, 2)
    elif phase is Phase.TEST:
        session.ok("lend")
    layout, begun = session.core.layout, session.state
    for word, post, kart in product(Word, layout.posts, (1, 9)):
        session.state = begun
        session.call(word, post, **_greedy(kart))
        told = {number: each.limit_kmh for number, each in session.picture.karts.items()}
        most = {number: layout.limits_kmh["dry"][layout.kart_class[number]] for number in told}
        assert {number for number in told if told[number] > most[number]} == set(), word


def _greedy(kart: int) -> dict[str, Any]:
    """Fields that make most words mean something, and ask for far too much."""
    return {
        "kart": kart, "to": 2, "limit_kmh": 999, "where": "s1", "head": "h1", "aspect": "green",
        "entries": (Member(kart, "driver", "adult"),), "item": "belts", "hold": "stop:E",
        "verdict": "open", "checked": True, "reason": "in a hurry",
    }  # fmt: skip


def test_k3_what_the_desk_allows_in_a_test_is_forgotten_with_it(session: Session) -> None:
    """K3 (R): 13 NCAC 15 .0429(a) and Louisiana 55:V.2593."""
    session.ok("lend")
    session.ok("allow", kart=1, limit_kmh=15)
    assert session.picture.karts[1].limit_kmh == 15
    session.ok("give-back")
    session.ok("lend")
    assert session.picture.karts[1].limit_kmh == 0


def racing(session: Session) -> None:
    session.race(1, 2)


def cautioned(session: Session) -> None:
    session.race(1, 2)
    session.ok("caution", "p1", where="s1")


def recovering(session: Session) -> None:
    session.race(1, 2)
    session.ok("stop", "p1")
    for kart in (1, 2):
        session.equipment("kart-stands", kart=kart)
    session.ok("lift", "p1", hold="stop:p1")


def slowed(session: Session) -> None:
    session.race(1, 2)
    session.ok("slow-one", kart=1)


def waiting(session: Session) -> None:
    session.stage(1, 2)
    session.ok("arm")
    session.ok("start")


def lent(session: Session) -> None:
    session.ok("lend")


RAISING: dict[Callable[[Session], None], set[Word]] = {
    racing: set(),
    cautioned: {Word.LIFT},
    recovering: {Word.CLEAR},
    slowed: {Word.WITHDRAW_ONE},
    waiting: {Word.LET_OUT},
    lent: {Word.ALLOW},
}
"""What ends the reason of a limit, and in a test `allow`: nothing else makes a kart faster."""


@pytest.mark.parametrize("begin", RAISING, ids=lambda begin: begin.__name__)
def test_k3_only_what_ends_the_reason_of_a_limit_raises_it(
    session: Session, begin: Callable[[Session], None]
) -> None:
    """K3 (R): 13 NCAC 15 .0429(a) and Louisiana 55:V.2593: every word of every post, with a speed named."""
    begin(session)
    begun, then = session.state, session.picture.karts
    raising = set()
    for word, post, kart in product(Word, session.core.layout.posts, (1, 3)):
        session.state = begun
        session.call(word, post, **_greedy(kart) | {"hold": "caution:s1:p1"})
        now = session.picture.karts
        raising |= {word for number in now if now[number].limit_kmh > then[number].limit_kmh}
    assert raising == RAISING[begin]


@pytest.mark.parametrize("begin", RAISING, ids=lambda begin: begin.__name__)
def test_k3_a_speed_named_with_any_other_word_means_nothing(
    session: Session, begin: Callable[[Session], None]
) -> None:
    """K3 (R): 13 NCAC 15 .0429(a) and Louisiana 55:V.2593."""
    begin(session)
    begun = session.state
    for word, post in product(set(Word) - {Word.ALLOW}, session.core.layout.posts):
        asked = _greedy(1) | {"hold": "caution:s1:p1"}
        limits = []
        for fields in (asked, {name: asked[name] for name in asked if name != "limit_kmh"}):
            session.state = begun
            session.call(word, post, **fields)
            limits.append(session.picture.karts)
        assert limits[0] == limits[1], word


def test_k4_every_kart_is_numbered_and_no_number_comes_twice(each_venue: Venue) -> None:
    """K4 (R): 13 NCAC 15 .0429(a)(1)."""
    numbers = [kart.number for kart in each_venue.karts]
    assert len(set(numbers)) == len(numbers) > 0
    assert all(number >= 1 for number in numbers)


@pytest.mark.parametrize("line", ["number = 1", ""])
def test_k4_a_venue_with_a_number_twice_or_missing_does_not_load(tmp_path: Path, line: str) -> None:
    """K4 (R): 13 NCAC 15 .0429(a)(1)."""
    text = SMALL.read_text(encoding="utf-8")
    assert text.count("number = 2\n") == 1
    path = tmp_path / "unnumbered.toml"
    path.write_text(text.replace("number = 2\n", f"{line}\n"), encoding="utf-8")
    with pytest.raises(BadInput) as raised:
        load(path)
    assert any("number" in found.key for found in raised.value.findings)


@pytest.mark.parametrize(("mph", "feet"), [(15, 76.7), (20, 111.9), (25, 151.9), (30, 196.6)])
def test_k7_stopping_sight_distance(mph: float, feet: float) -> None:
    """K7 (R, D): AASHTO formula, TxDOT Roadway Design Manual 4.11: 2.5 s, then 11.2 ft/s².

    It rounds its constants (1.47, 1.075): half a percent.
    """
    kmh = mph * KMH_PER_MPH
    metres = reaction_m(kmh, 2500) + ramp_m(kmh, 0, 11.2 * FOOT_M)
    assert metres / FOOT_M == pytest.approx(feet, rel=0.005)


@pytest.mark.parametrize(("fall_mps2", "braking_m", "whole_m"), [(7.0, 64.3, 79.3), (5.0, 90.0, 105.0)])
def test_k8_stopping_from_30_metres_a_second(fall_mps2: float, braking_m: float, whole_m: float) -> None:
    """K8 (R): OpenStax College Physics, motion equations: dry and wet, alone and with 0.500 s before."""
    assert ramp_m(30 * MPS, 0, fall_mps2) == pytest.approx(braking_m, abs=0.05)
    assert reaction_m(30 * MPS, 500) + ramp_m(30 * MPS, 0, fall_mps2) == pytest.approx(whole_m, abs=0.05)


def test_k8_the_approach_of_a_venue_is_that_distance(venue: Venue) -> None:
    """K8 (R): OpenStax College Physics, on the function that venues' approaches are made by."""
    limits = replace(venue.limits, classes={"one": 108.0}, stop=0, creep=0, caution=0)
    wet_m = reach_of(_with(venue, limits, Ramp(fall=7, rise=1), Ramp(fall=5, rise=1)))
    assert wet_m == pytest.approx(105.0, abs=0.05), "the longer of dry (79.3) and wet"


def _with(venue: Venue, limits: Limits, dry: Ramp, wet: Ramp) -> Venue:
    timing = replace(venue.timing, reaction=500)
    return replace(venue, limits=limits, limits_wet=limits, ramp=dry, ramp_wet=wet, timing=timing)


def test_k10_a_wet_ramp_is_the_dry_one_by_the_grip_that_is_left(venue: Venue) -> None:
    """K10 (R): OpenStax College Physics, friction: rubber on concrete, static: dry 1.0, wet 0.7."""
    assert WET_RAMP == 0.7 / 1.0
    assert venue.ramp_wet.fall <= venue.ramp.fall * 0.7 + 1e-9


def yellow_interval_s(mph: float) -> float:
    """K11 (R): Maryland COMAR 11.04.14.03: 1 + 0.733 S/D, up to the half second, 3 to 6 s; D 10, level."""
    return min(6.0, max(3.0, math.ceil((1 + 0.733 * mph / 10) * 2) / 2))


def test_k11_the_yellow_comes_no_later_than_a_road_signals_would(each_venue: Venue) -> None:
    """K11 (R): Maryland COMAR 11.04.14.03, as a sanity check of `approach`.

    From where a caution begins to slow a kart, to the sector it protects, the fastest takes at least
    the yellow interval of a road with that speed.
    """
    assert [yellow_interval_s(mph) for mph in (25, 30, 40, 45)] == [3.0, 3.5, 4.0, 4.5]
    fast, slow = max(each_venue.limits.classes.values()) / MPS, each_venue.limits.caution / MPS
    takes_s = each_venue.timing.reaction / 1000 + (fast - slow) / each_venue.ramp.fall
    assert reach_of(each_venue) >= reaction_m(fast * MPS, each_venue.timing.reaction)
    assert takes_s >= yellow_interval_s(fast * MPS / KMH_PER_MPH)


def test_k12_the_reaction_counted_on_is_no_shorter_than_an_expected_one(each_venue: Venue) -> None:
    """K12 (R): Green 2000: 0.70 to 0.75 s expected, 1.25 unexpected but common, 1.5 surprise.

    A kart's limiter obeys whatever its driver does, so the unexpected 1.25 s is not asked of it.
    """
    assert each_venue.timing.reaction >= 750


def test_k3_k4_a_kart_nobody_hired_does_not_move(session: Session) -> None:
    """K3 (R): 13 NCAC 15 .0429(a): a kart of the pit that is in no group stays at 0 while others race."""
    session.race(1)
    assert session.picture.karts[3].limit_kmh == 0
    assert session.refused("let-out", kart=3) == {"not-in-group"}
    assert session.picture.karts[3].place == PIT
