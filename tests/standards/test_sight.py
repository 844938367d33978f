"""How far a driver must see, against published stopping distances; R read in the source itself, Q quoted."""

from __future__ import annotations

import numpy as np
import pytest

from signals.venue.model import KartModel, Venue
from sim.sightlines.stopping import REACTION_S, Stopping, stopping

MPS_PER_MPH, FOOT_M = 0.44704, 0.3048


def stops_m(v_mps: float, stop: Stopping) -> float:
    return float(stop.distance_m(np.array([v_mps]))[0])


@pytest.mark.parametrize(("mph", "feet"), [(15, 76.7), (20, 111.9), (25, 151.9), (30, 196.6)])
def test_k7_what_is_asked_of_sight_is_aashtos_distance(mph: float, feet: float) -> None:
    """K7 (R, D): TxDOT Roadway Design Manual 4.11: 2.5 s, 11.2 ft/s²."""
    stop = Stopping(reaction_s=2.5, brake_mps2=11.2 * FOOT_M)
    assert stops_m(mph * MPS_PER_MPH, stop) / FOOT_M == pytest.approx(feet, rel=0.003)


@pytest.mark.parametrize(
    ("brake_mps2", "reaction_s", "metres"),
    [(7.0, 0.0, 64.3), (5.0, 0.0, 90.0), (7.0, 0.5, 79.3), (5.0, 0.5, 105.0)],
)
def test_k8_what_is_asked_of_sight_is_the_worked_example(
    brake_mps2: float, reaction_s: float, metres: float
) -> None:
    """K8 (R): OpenStax College Physics, motion equations: from 30.0 m/s."""
    assert stops_m(30.0, Stopping(reaction_s, brake_mps2)) == pytest.approx(metres, abs=0.05)


def test_k13_sight_is_asked_for_by_drivers_as_slow_as_the_slowest_twentieth() -> None:
    """K13 (Q): Olson & Sivak 1986, through Green 2000: the 95th percentile is 1.6 s."""
    assert REACTION_S == 1.6
    assert stopping(KartModel(), wet=False).reaction_s == REACTION_S


@pytest.mark.parametrize(
    ("mph", "thinking_m", "braking_m"),
    [(20, 6, 6), (30, 9, 14), (40, 12, 24), (50, 15, 38), (60, 18, 55), (70, 21, 75)],
)
def test_k6_no_less_sight_is_asked_for_than_the_highway_code_would(
    each_venue: Venue, mph: float, thinking_m: float, braking_m: float
) -> None:
    """K6 (Q): UK Highway Code rule 126: thinking and braking."""
    stop = stopping(each_venue.kart_model, wet=False)
    assert stops_m(mph * MPS_PER_MPH, stop) >= thinking_m + braking_m
