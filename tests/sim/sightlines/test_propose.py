"""Where heads should stand: the best there is, and what it gains."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from shapely import Point, Polygon

from signals.errors import Unusable
from signals.venue.approach import track_of
from signals.venue.sight import surface
from sim.sightlines.propose import as_toml, best, candidates, propose
from sim.sightlines.survey import Condition, Survey

if TYPE_CHECKING:
    from signals.venue.model import Venue

DRY_LOW = Condition(wet=False, eye_m=0.7)


@pytest.mark.parametrize("seed", range(5))
def test_the_choice_is_the_best_of_all_choices(seed: int) -> None:
    rng = np.random.default_rng(seed)
    covers, near = rng.random((30, 9)) < 0.25, rng.random((30, 9)) < 0.15
    worth = (1.0, 0.1)

    def value(columns: tuple[int, ...]) -> float:
        return sum(
            each * layer[:, list(columns)].any(axis=1).sum()
            for each, layer in zip(worth, (covers, near), strict=True)
        )

    chosen = tuple(best((covers, near), worth, 3))
    assert len(chosen) == 3
    assert value(chosen) == pytest.approx(max(map(value, combinations(range(9), 3))))


def test_a_proposal_removes_the_blind_stretches_of_harbour_loop(venue: Venue) -> None:
    found = propose(Survey(venue), 11, DRY_LOW)
    assert found.present.blind_stretches
    assert not found.proposed.blind_stretches
    assert found.proposed.in_time_share > found.present.in_time_share
    assert found.even.seen_share < 0.9 < found.proposed.seen_share
    assert len(found.heads) == 11 < len(found.present.heads)


def test_a_proposal_removes_the_blind_stretches_of_quarry_ring(quarry: Venue) -> None:
    found = propose(Survey(quarry), 14, DRY_LOW)
    assert found.present.blind_stretches
    assert not found.proposed.blind_stretches
    assert found.even.seen_share < 0.93
    assert found.proposed.in_time_share > found.present.in_time_share


def test_heads_that_stay_are_counted_on(venue: Venue) -> None:
    found = propose(Survey(venue), 1, DRY_LOW, keep=True)
    assert len(found.kept) == len(found.present.heads)
    blind_m = sum(stretch.length_m for stretch in found.proposed.blind_stretches)
    assert blind_m < sum(stretch.length_m for stretch in found.present.blind_stretches)


def test_nobody_is_asked_to_put_a_head_on_the_track_or_into_a_house(quarry: Venue) -> None:
    track = track_of(quarry)
    ground = surface(track, 0, track.length_m)
    houses = [Polygon(each.points_m) for each in quarry.barriers]
    spots = [Point(head.x_m, head.y_m) for head in candidates(quarry)]
    assert not any(ground.contains(spot) or any(house.contains(spot) for house in houses) for spot in spots)


def test_a_new_head_speaks_for_where_it_stands_first_and_for_what_follows(venue: Venue) -> None:
    survey = Survey(venue)
    for head in propose(survey, 8, DRY_LOW).heads:
        assert head.protects[0] == survey.ground.track.sector_at(head.at_m)
        order = [sector.id for sector in venue.sectors]
        places = [order.index(sector) for sector in head.protects]
        assert all((b - a) % 6 == 1 for a, b in pairwise(places))


def test_more_heads_than_places_are_refused(venue: Venue) -> None:
    with pytest.raises(Unusable, match="places for heads are free"):
        propose(Survey(venue), 5000, DRY_LOW)


def test_a_proposal_is_written_as_a_venue_file_has_it(venue: Venue) -> None:
    text = as_toml(propose(Survey(venue), 2, DRY_LOW).heads)
    assert text.count("[[head]]") == 2
    assert 'id = "n1"' in text
