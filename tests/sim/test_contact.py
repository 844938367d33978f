"""Rectangles on the ground, against another way to find whether they overlap."""

from __future__ import annotations

from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon

from sim.contact import Box, touch, touching

places = st.floats(-3.0, 3.0)
headings = st.floats(0.0, 360.0)


def kart(x: float, y: float, heading: float = 0.0) -> Box:
    return Box(x, y, heading, 1.9, 1.3)


def test_side_by_side_nose_to_tail_and_across() -> None:
    assert not touch(kart(0, 0), kart(0, 1.31))
    assert touch(kart(0, 0), kart(0, 1.29))
    assert not touch(kart(0, 0), kart(1.91, 0))
    assert touch(kart(0, 0), kart(1.89, 0))
    assert not touch(kart(0, 0), kart(1.61, 0, 90))
    assert touch(kart(0, 0), kart(1.59, 0, 90))


@given(x=places, y=places, one=headings, other=headings)
def test_it_agrees_with_polygons(x: float, y: float, one: float, other: float) -> None:
    a, b = kart(0.0, 0.0, one), kart(x, y, other)
    shared = Polygon(a.corners()).intersection(Polygon(b.corners())).area
    assume(shared == 0.0 or shared > 1e-9)
    assert touch(a, b) == touch(b, a) == (shared > 0.0)


def test_pairs_come_with_the_smaller_number_first() -> None:
    boxes = [(5, kart(0, 0)), (2, kart(1, 0)), (9, kart(30, 0))]
    assert list(touching(boxes)) == [(2, 5)]
