"""Where heads are seen: against rays walked step by step, and against scenes small enough to see at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from msgspec.structs import replace

from signals.venue import lint, load
from signals.venue.model import Barrier
from sim.sight import FARTHEST_M, for_drivers
from sim.sightlines.lints import blind_stretches
from sim.sightlines.survey import Condition, Survey, conditions, runs
from tests.sim.sightlines import rays

if TYPE_CHECKING:
    from signals.venue.model import Venue
    from signals.venue.sight import Mask

DRY_LOW = Condition(wet=False, eye_m=0.7)
HOUSE = Barrier(points_m=((20.0, 8.5), (40.0, 11.0), (60.0, 11.0)), height_m=3.0)


def by_rays(survey: Survey, eye_m: float) -> Mask:
    """Tell where every driver sees a head, by walking rays."""
    length_m, heads = survey.venue.length_m, for_drivers(survey.venue)
    found = [
        all(
            any(
                rays.sees(eyes[number], eye_m, head, survey.venue.barriers)
                for head in heads
                if (head.at_m - at_m) % length_m <= FARTHEST_M
            )
            for eyes in survey.places.eyes
        )
        for number, at_m in enumerate(survey.places.at_m)
    ]
    return np.array(found)


@pytest.mark.parametrize("planted", [False, True])
def test_blind_stretches_are_those_that_rays_walked_step_by_step_find(venue: Venue, planted: bool) -> None:
    if planted:
        venue = replace(venue, barriers=(*venue.barriers, HOUSE))
    survey = Survey(venue)
    found = runs(survey.view(DRY_LOW).blind)
    walked = runs(~by_rays(survey, 0.7))
    assert len(found) == len(walked) > 0
    for (first, count), (walked_first, walked_count) in zip(found, walked, strict=True):
        assert abs(first - walked_first) <= 1  # a wall has no width; a step has
        assert abs(count - walked_count) <= 2


def test_blind_stretches_of_the_other_venue_are_those_of_walked_rays(quarry: Venue) -> None:
    survey = Survey(quarry)
    found, walked = runs(survey.view(DRY_LOW).blind), runs(~by_rays(survey, 0.7))
    assert [(first // 2, round(count / 2)) for first, count in found] == [
        (first // 2, round(count / 2)) for first, count in walked
    ]


def test_a_wall_hides_as_far_up_as_it_reaches(venue: Venue) -> None:
    survey = Survey(replace(venue, barriers=(*venue.barriers, HOUSE)))
    low = Survey(replace(venue, barriers=(*venue.barriers, replace(HOUSE, height_m=0.7))))
    assert survey.view(DRY_LOW).seen_share < low.view(DRY_LOW).seen_share
    assert low.view(DRY_LOW).seen_share == Survey(venue).view(DRY_LOW).seen_share


def test_a_higher_eye_sees_over_what_hides_from_a_low_one(venue: Venue) -> None:
    wall = replace(HOUSE, height_m=0.9)
    heads = tuple(replace(head, height_m=1.0) for head in venue.heads)
    survey = Survey(replace(venue, barriers=(wall,), heads=heads))
    assert survey.view(Condition(wet=False, eye_m=1.2)).seen_share > survey.view(DRY_LOW).seen_share


def test_karts_ahead_hide_low_heads_and_not_high_ones(venue: Venue) -> None:
    def seen_farthest(height_m: float, *, traffic: bool) -> float:
        heads = tuple(replace(head, height_m=height_m) for head in venue.heads)
        view = Survey(replace(venue, heads=heads)).view(Condition(wet=False, eye_m=0.7, traffic=traffic))
        return sum(each.from_m or 0.0 for each in view.sightings)

    assert seen_farthest(0.8, traffic=True) < 0.8 * seen_farthest(0.8, traffic=False)
    assert seen_farthest(9.0, traffic=True) == seen_farthest(9.0, traffic=False)


def test_the_nearest_head_is_the_first_ahead_and_its_distance_runs_along_the_lap(venue: Venue) -> None:
    view = Survey(venue).view(DRY_LOW)
    number = int(np.argmin(np.abs(view.at_m - 300.0)))
    assert view.heads[view.nearest[number]].id == "h6"
    assert view.sight_m[number] == pytest.approx(328.0 - view.at_m[number])


def test_a_place_is_late_where_the_heads_in_sight_speak_for_nothing_a_kart_would_stand_in(
    venue: Venue,
) -> None:
    everything = tuple(sector.id for sector in venue.sectors)
    told = replace(venue, heads=tuple(replace(head, protects=everything) for head in venue.heads))
    assert not Survey(told).view(DRY_LOW).late.any()
    mute = replace(venue, heads=tuple(replace(head, protects=()) for head in venue.heads))
    view = Survey(mute).view(DRY_LOW)
    assert (view.late | view.blind).all()


def test_wet_takes_longer_to_stop_and_a_quick_reaction_less(venue: Venue) -> None:
    slow, quick = Survey(venue), Survey(venue, reaction_s=0.5)
    assert (slow.stopping_m(wet=False) > quick.stopping_m(wet=False)).all()
    at_speed = slow._speeds[True]
    dry, wet = (slow.stopping(wet=wet).distance_m(at_speed) for wet in (False, True))
    assert (wet > dry).all()


def test_every_condition_is_looked_at() -> None:
    assert [str(each) for each in conditions()] == [
        "dry, eye 0.7 m", "dry, eye 0.8 m", "wet, eye 0.7 m", "wet, eye 0.8 m",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ("", []),
        ("0000", []),
        ("1111", [(0, 4)]),
        ("0110", [(1, 2)]),
        ("1001", [(3, 2)]),
        ("1010", [(0, 1), (2, 1)]),
        ("1101", [(3, 3)]),
    ],
)
def test_runs_go_around_the_ring(marks: str, expected: list[tuple[int, int]]) -> None:
    assert runs(np.array([mark == "1" for mark in marks], bool)) == expected


def test_a_venue_without_heads_is_blind_all_around(venue: Venue) -> None:
    view = Survey(replace(venue, heads=())).view(DRY_LOW)
    assert view.blind.all()
    assert [stretch.length_m for stretch in view.blind_stretches] == [round(venue.length_m, 1)]


def test_a_head_that_shines_away_is_never_seen_in_time(venue: Venue) -> None:
    away = tuple(replace(head, facing_deg=(head.facing_deg + 180) % 360) for head in venue.heads)
    view = Survey(replace(venue, heads=away)).view(DRY_LOW)
    assert not view.sightings[0].in_time


# --- the lint


def test_the_lint_tells_of_a_long_blind_stretch(tmp_path: Path) -> None:
    text = (Path(__file__).parents[3] / "configs" / "harbour-loop.toml").read_text(encoding="utf-8")
    planted = tmp_path / "planted.toml"
    planted.write_text(
        text.replace(
            'at_m = 284\nside = "left"\nfacing_deg = 150', 'at_m = 292\nside = "left"\nfacing_deg = 180'
        ),
        encoding="utf-8",
    )
    told = [finding for finding in lint(load(planted)) if "none is seen" in finding.right]
    assert [finding.level for finding in told] == ["warning"]
    assert "253 to 266 m (4 Slipway, 5 Capstan), for 1.2 s" in told[0].right


def test_the_lint_is_silent_where_nobody_is_blind_for_longer_than_he_takes_to_react(
    venue: Venue, quarry: Venue
) -> None:
    assert not list(blind_stretches(venue))
    assert not list(blind_stretches(quarry))
    sharp = replace(venue, timing=replace(venue.timing, reaction=100))
    assert [finding.key for finding in blind_stretches(sharp)]
