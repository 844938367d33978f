"""What limiter, electronics and tyres make of a driver's controls, function by function."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from signals.venue.model import KartModel
from sim.kart import backed, cap_after, capped, drives, hold, moved, must_release, speed_after
from sim.scene import STEP_S

KART = KartModel()
RAMP = (2.0, 1.0)
speeds = st.floats(0.0, 20.0)


def test_a_cap_falls_from_the_speed_driven_along_the_ramp() -> None:
    cap = 12.5
    for _ in range(60):
        cap = cap_after(cap, 6.0, 3.0, RAMP, STEP_S)
    assert cap == pytest.approx(6.0 - 2.0), "a second later; from 6, not from 12.5"
    assert cap_after(12.5, 2.0, 3.0, RAMP, STEP_S) == 3.0, "already slower: there is nothing to ramp"


def test_a_cap_rises_along_the_ramp_and_stays_at_the_limit() -> None:
    cap = 0.0
    for _ in range(120):
        cap = cap_after(cap, 0.0, 12.5, RAMP, STEP_S)
    assert cap == pytest.approx(2.0)
    assert cap_after(12.49999, 12.0, 12.5, RAMP, STEP_S) == 12.5


@given(cap=speeds, v=speeds, limit=speeds)
def test_a_cap_never_rises_faster_than_its_ramp_nor_above_the_limit(
    cap: float, v: float, limit: float
) -> None:
    later = cap_after(cap, v, limit, RAMP, STEP_S)
    assert later <= max(cap, min(v, limit)) + RAMP[1] * STEP_S + 1e-12
    assert later <= max(limit, min(cap, max(v, limit)))


def test_a_pedal_pressed_at_0_does_nothing_until_it_was_released_once() -> None:
    held = must_release(held=False, limit_mps=0.0, throttle=1.0)
    assert held
    held = must_release(held, 5.0, throttle=1.0)
    assert held, "the limit is up, the foot was never off"
    assert drives(1.0, 0.0, cut=False, held=held) == 0.0
    held = must_release(held, 5.0, throttle=0.0)
    assert not held
    assert drives(1.0, 0.0, cut=False, held=must_release(held, 5.0, throttle=1.0)) == 1.0


def test_both_pedals_cut_the_drive() -> None:
    assert drives(1.0, 0.3, cut=False, held=False) == 0.0
    assert drives(1.0, 0.0, cut=False, held=False) == 1.0


def test_a_latched_button_cuts_the_drive() -> None:
    assert drives(1.0, 0.0, cut=True, held=False) == 0.0


def test_reverse_is_walking_pace() -> None:
    v = 0.0
    for _ in range(600):
        v = backed(v, 4 / 3.6, RAMP[1], STEP_S)
    assert v == pytest.approx(-4 / 3.6)


def test_a_limiter_brakes_no_steeper_than_its_ramp() -> None:
    assert capped(10.0, 10.0, 0.0, 2.0, STEP_S) == pytest.approx(10.0 - 2.0 * STEP_S)
    assert capped(3.0, 10.0, 5.0, 2.0, STEP_S) == 3.0, "brakes may be harder"


def test_brakes_and_drag_stop_a_kart_and_never_push_it_back() -> None:
    v = 3.0
    for _ in range(120):
        v = speed_after(v, (0.0, 1.0), 9.81, 1.0, KART, STEP_S)
    assert v == 0.0


@given(v=speeds, turn=st.floats(-0.3, 0.3))
def test_tyres_never_give_more_than_the_friction_circle(v: float, turn: float) -> None:
    held, spare, slides = hold(v, turn, (1.0, 0.7))
    sideways = v * v * abs(held)
    assert sideways * sideways + spare * spare <= (9.81 * 9.81) * (1 + 1e-9)
    assert abs(held) <= abs(turn)
    assert slides is (v * v * abs(turn) > 9.81)


def test_a_kart_steered_on_its_bend_stays_beside_the_middle() -> None:
    left_m, course, came_m = 1.0, 0.0, 0.0
    for _ in range(600):
        ahead, left_m, course = moved((left_m, course), 8.0, 1 / (20.0 - 1.0), (1 / 20.0, 1.0), STEP_S)
        came_m += ahead
    assert left_m == pytest.approx(1.0, abs=1e-6)
    assert came_m == pytest.approx(80.0 * 20.0 / 19.0), "the inside is shorter"
