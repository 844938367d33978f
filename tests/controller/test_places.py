"""Where a kart is: reports and loops fused."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from signals.controller.places import UNDER_WAY_S, Places
from tests.controller.made import harbour, where, words


@pytest.fixture
def places() -> Places:
    return Places(harbour())


def test_a_new_sector_is_told(places: Places) -> None:
    assert words(places.report(7, where("s1"), "pit", 0.0)) == ["kart-at 7 s1"]
    assert words(places.report(7, where("s1"), "s1", 0.1)) == []
    assert words(places.report(7, where("s2"), "s1", 0.2)) == ["kart-at 7 s2"]


def test_an_unknown_place_is_told_again_though_nothing_moved(places: Places) -> None:
    list(places.report(7, where("s2", speed=0.0), "s1", 0.0))
    assert words(places.report(7, where("s2", speed=0.0), "unknown", 1.0)) == ["kart-at 7 s2"]


def test_a_standing_kart_a_person_accounted_for_stays_so_until_it_moves(places: Places) -> None:
    list(places.report(7, where("s2", speed=0.0), "s1", 0.0))
    assert words(places.report(7, where("s2", speed=0.0), "aside", 1.0)) == []
    assert words(places.report(7, where("s2", speed=3.0), "aside", 2.0)) == ["kart-at 7 s2"]


@pytest.mark.parametrize(
    "forged",
    [
        where("s9"),
        where(""),
        where("unknown"),
        where("aside"),
        where("pit", in_pit=False),
        where("s1", in_pit=True),
    ],
)
def test_a_place_the_venue_has_not_is_not_known(places: Places, forged: object) -> None:
    assert not places.knows(forged)  # type: ignore[arg-type]


def test_a_loop_beats_the_report_that_was_under_way(places: Places) -> None:
    list(places.report(7, where("s6"), "s6", 0.0))
    assert words(places.passed("l1", 7, "s6", 1.0)) == ["line-crossed 7", "kart-at 7 s1"]
    assert words(places.report(7, where("s6"), "s1", 1.1)) == []
    assert words(places.report(7, where("s1"), "s1", 1.2)) == []
    assert words(places.report(7, where("s6"), "s1", 1.0 + UNDER_WAY_S)) == ["kart-at 7 s6"]


def test_a_report_of_a_third_sector_is_believed_after_a_loop(places: Places) -> None:
    list(places.report(7, where("s6"), "s6", 0.0))
    list(places.passed("l1", 7, "s6", 1.0))
    assert words(places.report(7, where("s2"), "s1", 1.1)) == ["kart-at 7 s2"]


def test_a_loop_in_the_sector_the_kart_is_in_is_no_news(places: Places) -> None:
    list(places.report(7, where("s1"), "pit", 0.0))
    assert words(places.passed("l3", 7, "s1", 0.1)) == []


def test_a_loop_alone_tells_the_pit_entry(places: Places) -> None:
    assert words(places.passed("l2", 7, "s6", 0.0)) == ["kart-at 7 pit"]


def test_with_a_loop_at_the_line_only_it_counts_crossings(places: Places) -> None:
    list(places.report(7, where("s1", at_m=395.0), "s1", 0.0))
    assert words(places.report(7, where("s1", at_m=10.0), "s1", 0.5)) == []


def test_without_one_the_line_between_two_reports_is_a_crossing() -> None:
    places = Places(replace(harbour(), loops=()))
    list(places.report(7, where("s1", at_m=395.0), "s1", 0.0))
    assert words(places.report(7, where("s1", at_m=10.0), "s1", 0.5)) == ["line-crossed 7"]
    assert words(places.report(7, where("s1", at_m=12.0), "s1", 0.6)) == []
    assert words(places.report(7, where("s1", at_m=4.0), "s1", 0.7)) == []  # it was pushed back


def test_a_pressed_button_is_told_with_its_kart(places: Places) -> None:
    assert words(places.report(7, where("s1", button=True), "s1", 0.0)) == ["kart-pressed 7"]


def test_a_report_that_was_under_way_still_brings_the_button(places: Places) -> None:
    list(places.report(7, where("s6"), "s6", 0.0))
    list(places.passed("l1", 7, "s6", 1.0))
    assert words(places.report(7, where("s6", button=True), "s1", 1.1)) == ["kart-pressed 7"]
