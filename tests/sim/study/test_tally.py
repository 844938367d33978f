"""Contacts are counted where rectangles overlap, however quickly most pairs are passed over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import given, settings
from hypothesis import strategies as st

from sim.contact import touch
from sim.course import Now
from sim.scene import Doing, Kart
from sim.study.crew import Case
from sim.study.tally import AGAIN_S, Tally, _box, touches
from sim.traffic import look_around
from tests.sim.study.made import prepared

if TYPE_CHECKING:
    from signals.venue.model import Venue
    from sim.study.prepared import Prepared

READY: dict[str, Prepared] = {}


def ready(venue: Venue) -> Prepared:
    if venue.id not in READY:
        READY[venue.id] = prepared(venue, hertz=20)
    return READY[venue.id]


def put(kart: Kart, at_m: float, left_m: float, course_rad: float, turned_deg: float) -> None:
    kart.on_pit_lane = False
    kart.doing = Doing.LAPPING
    kart.at_m, kart.left_m = at_m, left_m
    kart.course_rad, kart.turned_deg = course_rad, turned_deg


@settings(max_examples=300, deadline=None)
@given(
    at_m=st.floats(0.0, 398.0),
    ahead_m=st.floats(0.0, 4.5),
    lefts_m=st.tuples(st.floats(-3.2, 3.2), st.floats(-3.2, 3.2)),
    courses=st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4)),
    turned=st.tuples(st.sampled_from([0.0, 20.0, 90.0, 150.0]), st.sampled_from([0.0, -20.0])),
)
def test_no_two_karts_touch_unseen(
    venue: Venue,
    at_m: float,
    ahead_m: float,
    lefts_m: tuple[float, float],
    courses: tuple[float, float],
    turned: tuple[float, float],
) -> None:
    plan = ready(venue)
    stage, course = plan.stage(1), plan.tables.course
    first, second = stage.karts[0], stage.karts[1]
    put(first, at_m, lefts_m[0], courses[0], turned[0])
    put(second, (at_m + ahead_m) % course.lap.length_m, lefts_m[1], courses[1], turned[1])
    now = Now(0, 0.0, 0.05, 1, False, 2, 2)
    look_around(course, now, stage.karts, stage.items, stage.people, stage.traffic)
    tally = Tally()
    touches(course, now, stage.karts, stage.traffic, stage.touched_s, Case(), tally)
    assert tally.contacts == float(touch(_box(course, first), _box(course, second)))


def test_karts_that_stay_in_touch_count_once_and_anew_after_a_while(venue: Venue) -> None:
    plan = ready(venue)
    stage, course, tally = plan.stage(1), plan.tables.course, Tally()
    for kart, left_m in zip(stage.karts[:2], (0.0, 0.5), strict=True):
        put(kart, 60.0, left_m, 0.0, 0.0)
    case = Case(open=True, kart=0)
    for time_s in (0.0, 0.5, 1.0, 1.5, 3.5):
        now = Now(0, time_s, 0.05, 1, False, 2, 2)
        look_around(course, now, stage.karts, stage.items, stage.people, stage.traffic)
        touches(course, now, stage.karts, stage.traffic, stage.touched_s, case, tally)
    assert AGAIN_S < 2.0
    assert (tally.contacts, tally.hits) == (2.0, 2.0)
