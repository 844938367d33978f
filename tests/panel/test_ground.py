"""The map from the venue file: everything on it, nothing over anything."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from shapely import Point, Polygon, union_all

from signals.mqtt.contract import Where
from signals.panel.ground import HEAD_M, Ground, Surveyor, short_name
from signals.venue import load
from signals.venue.model import Venue
from signals.words import PIT

CONFIGS = Path(__file__).parents[2] / "configs"
VENUES = [load(CONFIGS / f"{name}.toml") for name in ("harbour-loop", "quarry-ring")]


@pytest.fixture(params=VENUES, ids=lambda venue: venue.id, scope="module")
def venue(request: pytest.FixtureRequest) -> Venue:
    return request.param  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def ground(venue: Venue) -> Ground:
    return Surveyor(venue).ground()


def area(path: str) -> Polygon:
    numbers = [float(text) for text in re.findall(r"-?[\d.]+", path)]
    return Polygon(list(zip(numbers[::2], numbers[1::2], strict=True))).buffer(0)


def test_sectors_partition_the_track_as_the_venue_says(venue: Venue, ground: Ground) -> None:
    assert {shape.id for shape in ground.shapes} == {sector.id for sector in venue.sectors}
    track = [area(shape.area) for shape in ground.shapes if shape.id != PIT]
    widths = [right + left for _, _, right, left in venue.centreline_m]
    whole = venue.length_m * sum(widths) / len(widths)
    assert sum(each.area for each in track) == pytest.approx(whole, rel=0.05)


def test_everything_is_in_the_picture(ground: Ground) -> None:
    left, top, width, height = ground.view
    for x, y in (*ground.heads.values(), *(shape.label for shape in ground.shapes)):
        assert left < x < left + width
        assert top < y < top + height


def test_no_head_covers_another(venue: Venue, ground: Ground) -> None:
    spots = list(ground.heads.values())
    assert len(spots) == len(venue.heads)
    gaps = [math.dist(a, b) for index, a in enumerate(spots) for b in spots[index + 1 :]]
    assert min(gaps) > HEAD_M * 0.9


def test_no_name_lies_on_the_road(venue: Venue, ground: Ground) -> None:
    road = union_all([area(shape.area) for shape in ground.shapes])
    assert not [shape.name for shape in ground.shapes if road.contains(Point(shape.label))]


def test_karts_stand_where_they_report_or_where_the_controller_has_them(venue: Venue) -> None:
    surveyor = Surveyor(venue)
    here = Where(boot="g1w4", seq=1, sector="s1", at_m=100, speed_kmh=14, in_pit=False, button=False)
    x, y = surveyor.spot(1, "s2", here)
    on_line = min(math.dist((x, -y), row[:2]) for row in venue.centreline_m)
    assert on_line < 5
    middle = surveyor.spot(1, "s2", None)
    assert area(next(s.area for s in surveyor.ground().shapes if s.id == "s2")).distance(Point(middle)) < 1
    parked = {surveyor.spot(kart.number, PIT, None) for kart in venue.karts}
    assert len(parked) == len(venue.karts), "each has a place of its own in the pit lane"
    assert surveyor.spot(1, "unknown", None)


def test_a_small_map_writes_numbers() -> None:
    names = {sector.id: short_name(sector) for sector in VENUES[0].sectors}
    assert names == {"s1": "1", "s2": "2", "s3": "3", "s4": "4", "s5": "5", "s6": "6", "pit": "Pit"}
