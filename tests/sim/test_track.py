from __future__ import annotations

import math

import pytest

from signals.venue.model import Venue
from sim.track import Path, Track


@pytest.fixture(scope="module")
def circle() -> Path:
    turns = [math.tau * step / 48 for step in range(48)]
    return Path([(20 * math.cos(turn), 20 * math.sin(turn)) for turn in turns], closed=True)


def test_a_closed_path_wraps_around_without_a_seam(circle: Path) -> None:
    before, after = circle.at(circle.length_m - 0.01), circle.at(0.01)
    assert math.hypot(after.x_m - before.x_m, after.y_m - before.y_m) == pytest.approx(0.02, abs=1e-3)
    assert circle.at(-5.0) == circle.at(circle.length_m - 5.0)
    assert circle.at(circle.length_m * 3 + 7.0).x_m == pytest.approx(circle.at(7.0).x_m)


def test_a_circle_stays_a_circle_between_its_points(circle: Path) -> None:
    radii = [math.hypot(circle.at(at_m).x_m, circle.at(at_m).y_m) for at_m in range(125)]
    assert max(radii) == pytest.approx(20.0, abs=0.01)
    assert min(radii) == pytest.approx(20.0, abs=0.01)


def test_heading_follows_the_path_and_left_is_left(circle: Path) -> None:
    start = circle.at(0.0)
    assert start.heading_deg == pytest.approx(90.0, abs=0.5)
    assert math.hypot(start.aside(3.0).x_m, start.aside(3.0).y_m) == pytest.approx(17.0, abs=0.05)


def test_an_open_path_ends() -> None:
    line = Path([(0, 0), (10, 0), (20, 0)], closed=False)
    assert line.length_m == pytest.approx(20.0)
    assert line.at(-3.0).x_m == pytest.approx(0.0)
    assert line.at(99.0).x_m == pytest.approx(20.0)


def test_metres_are_the_venues_at_every_point_of_its_file(venue: Venue) -> None:
    track, along_m = Track(venue), 0.0
    for here, there in zip(venue.centreline_m, venue.centreline_m[1:], strict=False):
        pose = track.lap.at(along_m)
        assert math.hypot(pose.x_m - here[0], pose.y_m - here[1]) < 0.02
        along_m += math.dist(here[:2], there[:2])
    assert track.length_m == pytest.approx(venue.length_m)


@pytest.mark.parametrize("name", ["venue", "quarry"])
def test_every_metre_belongs_to_the_sector_its_file_says(name: str, request: pytest.FixtureRequest) -> None:
    venue: Venue = request.getfixturevalue(name)
    track = Track(venue)
    for sector in venue.sectors[:-1]:
        assert track.sector_at(sector.from_m) == sector.id
        assert track.sector_at(sector.from_m + 0.5) == sector.id
        assert track.sector_at(sector.to_m - 0.01) == sector.id


def test_the_way_ahead_runs_over_the_seam(venue: Venue) -> None:
    track = Track(venue)
    assert track.ahead_m(venue.length_m - 10, 5.0) == pytest.approx(15.0)
    assert track.ahead_m(5.0, venue.length_m - 10) == pytest.approx(venue.length_m - 15.0)
