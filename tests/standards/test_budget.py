"""A venue's response budget against published values; R read in the source itself, Q quoted, D arithmetic.

What is checked are the functions that every budget is made by (`sim.budget.computed`), and what whole
sessions give beside them (`sim.budget.played`).
"""

from __future__ import annotations

import pytest

from signals.venue.model import Venue
from sim.budget.computed import Asked, compute, slowing_s, way_m

MPS_PER_MPH, FOOT_M = 0.44704, 0.3048


@pytest.mark.parametrize(("mph", "feet"), [(15, 76.7), (20, 111.9), (25, 151.9), (30, 196.6)])
def test_k7_a_budgets_way_is_aashtos_distance(mph: float, feet: float) -> None:
    """K7 (R, D): AASHTO formula, TxDOT Roadway Design Manual 4.11: 2.5 s, then 11.2 ft/s²."""
    assert way_m(mph * MPS_PER_MPH, 0.0, 2.5, 11.2 * FOOT_M) / FOOT_M == pytest.approx(feet, rel=0.003)


@pytest.mark.parametrize(
    ("mps2", "seconds", "metres"), [(7.0, 0.0, 64.3), (5.0, 0.0, 90.0), (7.0, 0.5, 79.3), (5.0, 0.5, 105.0)]
)
def test_k8_a_budgets_way_is_the_worked_example(mps2: float, seconds: float, metres: float) -> None:
    """K8 (R): OpenStax College Physics, motion equations: from 30.0 m/s; and v = a·t for its time."""
    assert way_m(30.0, 0.0, seconds, mps2) == pytest.approx(metres, abs=0.05)
    assert slowing_s(30.0, 0.0, mps2) * 30.0 / 2.0 == pytest.approx(way_m(30.0, 0.0, 0.0, mps2))


def test_k12_k13_a_budget_counts_on_drivers_who_expect_nothing(venue: Venue) -> None:
    """K13 (Q): Olson & Sivak 1986, through Green: 1.1 s, 95th percentile 1.6; K12 (R): Green 2000: 1.25 s."""
    term = next(term for term in compute(venue, Asked()).terms if term.name == "understood")
    assert (term.typical_s, term.late_s) == (1.1, 1.6)
    assert term.typical_s < 1.25 < term.late_s
