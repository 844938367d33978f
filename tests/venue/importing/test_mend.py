"""Laps as others publish them: read, repaired, and the repairs said."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from signals.errors import BadInput
from signals.venue.geometry import Polyline
from signals.venue.importing.geojson import metres
from signals.venue.importing.given import Given, Wanted
from signals.venue.importing.mend import mend
from signals.venue.importing.read import read

RADIUS_M = 40.0


def ring(count: int = 60, radius_m: float = RADIUS_M) -> list[tuple[float, float]]:
    turns = [2 * math.pi * number / count for number in range(count)]
    return [(radius_m * math.cos(turn), radius_m * math.sin(turn)) for turn in turns]


def lap(points: list[tuple[float, float]], reach: tuple[float, float] = (4.0, 3.0)) -> Given:
    return Given(points=points, reaches=[reach] * len(points))


def table(points: list[tuple[float, float]], header: str = "x_m,y_m,right_m,left_m") -> str:
    return "\n".join([header, *(f"{x:.4f},{y:.4f},4,3" for x, y in points)])


def write(folder: Path, text: str, name: str = "lap.csv") -> Path:
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


# --- reading


@pytest.mark.parametrize(
    "header",
    [
        "x_m,y_m,right_m,left_m",
        "# x_m,y_m,w_tr_right_m,w_tr_left_m",
        "# made in a spreadsheet\n#\n# x_m,y_m,right_m,left_m",
        "x,y,right,left",
        "\ufeffx_m,y_m,right_m,left_m",
    ],
)
def test_a_table_is_read_by_its_header_wherever_that_stands(tmp_path: Path, header: str) -> None:
    found = read(write(tmp_path, table(ring(), header)))
    assert len(found.points) == 60
    assert found.reaches[0] == (4.0, 3.0)
    assert not found.said


def test_columns_are_known_by_name_in_any_order_and_by_any_separator(tmp_path: Path) -> None:
    text = "# left_m;s_m;y_m;x_m;right_m\n" + "\n".join(
        f"3;{n};{y:.3f};{x:.3f};4" for n, (x, y) in enumerate(ring())
    )
    found = read(write(tmp_path, text))
    assert found.points[0] == (40.0, 0.0)
    assert found.reaches[0] == (4.0, 3.0)
    assert found.said == ["columns left out: s_m"]


def test_without_a_header_the_order_is_taken_for_granted_and_said(tmp_path: Path) -> None:
    found = read(write(tmp_path, "\n".join(f"{x:.3f} {y:.3f}" for x, y in ring())))
    assert found.said == ["no header names the columns; they are taken as x_m, y_m"]
    assert not found.reaches


def test_every_mistake_of_a_table_comes_at_once_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as wrong:
        read(write(tmp_path, "x_m,y_m,right_m,left_m\n0,0,4,4\n1,zwei,4,4\n2,0,-1,4\n3,0,nan,4\n"))
    assert [finding.line for finding in wrong.value.findings] == [3, 4, 5]
    assert "numbers for x_m,y_m,right_m,left_m" in str(wrong.value)
    assert "not below 0" in str(wrong.value)


@pytest.mark.parametrize(
    ("name", "text", "right"),
    [
        ("a.csv", "", "needs rows of x_m,y_m,right_m,left_m"),
        ("a.geojson", "{", "is no JSON"),
        ("a.geojson", '{"type": "FeatureCollection", "features": []}', "needs one LineString or Polygon"),
        ("a.geojson", '{"type": "LineString", "coordinates": [[200, 0]]}', "must be [longitude, latitude]"),
        ("a.geojson", '{"type": "LineString", "coordinates": []}', "needs positions"),
    ],
)
def test_what_is_no_lap_is_refused(tmp_path: Path, name: str, text: str, right: str) -> None:
    with pytest.raises(BadInput, match=r".") as wrong:
        read(write(tmp_path, text, name))
    assert right in str(wrong.value)


def degrees(points: list[tuple[float, float]], longitude: float, latitude: float) -> list[list[float]]:
    east = math.radians(1) * 6_378_137 * math.cos(math.radians(latitude))
    return [[longitude + x / east, latitude + y / 110_574.0] for x, y in points]


def test_geojson_is_read_in_metres(tmp_path: Path) -> None:
    shape = {"type": "Polygon", "coordinates": [[*degrees(ring(), 9.0, 0.0), degrees(ring(), 9.0, 0.0)[0]]]}
    whole = {"type": "Feature", "properties": {"width_m": 8}, "geometry": shape}
    found = read(write(tmp_path, json.dumps(whole), "lap.geojson"))
    assert found.reaches[0] == (4.0, 4.0)
    assert any("outer ring" in sentence for sentence in found.said)
    made = mend(found, Wanted(), "lap.geojson")
    assert made.length_m == pytest.approx(2 * math.pi * RADIUS_M, rel=0.002)


def test_one_of_several_lines_is_chosen(tmp_path: Path) -> None:
    line = {"type": "LineString", "coordinates": degrees(ring(), 9.0, 48.0)}
    point = {"type": "Point", "coordinates": [9, 48]}
    features = [{"type": "Feature", "properties": None, "geometry": each} for each in (point, line, line)]
    whole = {"type": "FeatureCollection", "features": features}
    file = write(tmp_path, json.dumps(whole), "lap.json")
    with pytest.raises(BadInput, match="2 lines"):
        read(file)
    assert len(read(file, 2).points) == 60
    with pytest.raises(BadInput, match="no line 3"):
        read(file, 3)


def test_a_degree_is_as_long_as_on_the_ellipsoid_of_wgs_84() -> None:
    """A degree around 45° N is 111.132 km north and 78.847 km east (WGS 84, from memory).

    Beside it the equator's 111.319 km a degree, by arithmetic on the axis.
    """
    east, north = metres((0.5, 45.5), (0.0, 45.0))
    assert 2 * north == pytest.approx(111_132, abs=1)
    assert 2 * east == pytest.approx(78_847, abs=1)
    assert metres((1.0, 0.0), (0.0, 0.0))[0] == pytest.approx(math.pi / 180 * 6_378_137)


# --- repairing


def test_a_lap_is_closed_evenly_spaced_and_as_long_as_it_was() -> None:
    made = mend(lap(ring()), Wanted(step_m=4.0), "x")
    steps = [math.dist(a[:2], b[:2]) for a, b in zip(made.rows, (*made.rows[1:], made.rows[0]), strict=True)]
    assert max(steps) - min(steps) < 0.03
    assert made.length_m == pytest.approx(2 * math.pi * RADIUS_M, rel=0.002)
    assert made.tightest_m == pytest.approx(RADIUS_M, rel=0.01)
    assert made.off_m < 0.06
    assert not made.said
    assert not made.doubts


def test_repeated_points_are_left_out_and_said() -> None:
    points = ring()
    made = mend(lap([*points[:5], points[4], *points[5:], points[0]]), Wanted(), "x")
    assert made.said == [
        "left out a point where the one before is repeated",
        "the last point repeats the first; left out, a lap closes by itself",
    ]


def test_a_small_gap_is_closed_and_a_great_one_refused() -> None:
    made = mend(lap(ring()[:56]), Wanted(), "x")
    assert made.said == ["closed over a gap of 20.7 m"]
    with pytest.raises(BadInput, match="a lap comes back to where it began"):
        mend(lap(ring()[:30]), Wanted(), "x")


def test_a_point_that_turns_the_line_back_is_left_out_and_said() -> None:
    points = ring()
    made = mend(lap([*points[:20], points[17], *points[20:]]), Wanted(), "x")
    assert any("turns the line back" in sentence for sentence in made.said)
    assert made.length_m == pytest.approx(2 * math.pi * RADIUS_M, rel=0.01)


def test_points_out_of_order_are_refused() -> None:
    points = np.random.default_rng(1).permutation(np.array(ring()))
    with pytest.raises(BadInput, match="too rough, or out of order"):
        mend(lap([(float(x), float(y)) for x, y in points]), Wanted(), "x")


def test_turned_round_right_and_left_change_places_and_the_start_stays() -> None:
    made = mend(lap(ring()), Wanted(direction="clockwise"), "x")
    assert made.direction == "clockwise"
    assert made.rows[0] == (40.0, 0.0, 3.0, 4.0)
    assert made.rows[1][1] < 0
    assert Polyline(made.rows, closed=True).area_m2() < 0
    assert made.said == ["it ran anticlockwise; turned round, right and left with it"]


def test_the_first_row_lies_where_it_is_asked_for() -> None:
    made = mend(lap(ring()), Wanted(start_m=math.pi / 2 * RADIUS_M), "x")
    assert made.rows[0][:2] == pytest.approx((0.0, 40.0), abs=0.1)


def test_the_width_must_come_from_somewhere() -> None:
    with pytest.raises(BadInput, match="give --width M"):
        mend(Given(points=ring()), Wanted(), "x")
    made = mend(Given(points=ring()), Wanted(width_m=7.0), "x")
    assert made.rows[0][2:] == (3.5, 3.5)
    assert made.said == ["the road is taken as 7 m wide all around"]


def test_an_inner_edge_that_would_fold_is_cut_and_said() -> None:
    made = mend(lap(ring(radius_m=10.0), (4.0, 12.0)), Wanted(step_m=2.0), "x")
    assert all(left <= 9.1 for _, _, _, left in made.rows)
    assert all(right == 4.0 for _, _, right, _ in made.rows)
    assert any("the inner edge cut" in sentence for sentence in made.said)


def test_a_lap_that_crosses_itself_or_is_too_narrow_is_doubted() -> None:
    turns = [2 * math.pi * number / 80 for number in range(80)]
    eight = [(50 * math.sin(turn), 25 * math.sin(2 * turn)) for turn in turns]
    made = mend(lap(eight, (0.5, 0.5)), Wanted(), "x")
    assert made.doubts == [
        "it crosses itself; only a bridge makes that right",
        "the road is only 1.0 m wide at its narrowest",
    ]


def test_too_many_rows_are_refused_with_the_step_that_would_do() -> None:
    with pytest.raises(BadInput, match=r"take a step of 3\.1 m or more"):
        mend(lap(ring(200, 1000.0)), Wanted(step_m=1.0), "x")


def test_a_lap_can_be_moved_near_the_origin() -> None:
    far = [(x + 500_000, y + 5_400_000) for x, y in ring()]
    made = mend(lap(far), Wanted(moved=True), "x")
    assert min(x for x, *_ in made.rows) == pytest.approx(10.0, abs=0.1)
    assert made.off_m < 0.06


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**31), st.floats(1.0, 6.0))
def test_any_smooth_lap_keeps_its_shape(seed: int, step_m: float) -> None:
    rng = np.random.default_rng(seed)
    phases = rng.uniform(0, 2 * math.pi, 3)
    points = []
    for number in range(120):
        turn = 2 * math.pi * number / 120
        radius = 60 + sum(4 / each * math.cos(each * turn + phases[each - 1]) for each in (1, 2, 3))
        points.append((radius * math.cos(turn), radius * math.sin(turn)))
    made = mend(lap(points), Wanted(step_m=step_m), "x")
    assert made.off_m < 0.15
    assert not made.doubts
    line = Polyline(made.rows, closed=True)
    assert line.area_m2() == pytest.approx(
        Polyline(tuple((x, y, 1, 1) for x, y in points), closed=True).area_m2(), rel=0.01
    )
