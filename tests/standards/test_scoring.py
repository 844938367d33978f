"""D1 to D3: the statistics of scores, against published examples and against implementations not ours."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest, norm

from sim.drill.stats import detection, quantile, wilson


def test_d1_sensitivity_and_bias_of_a_published_example() -> None:
    # statpsych (R), reference of `signal`, example signal(82, 46, 100, 100): hits, false alarms, trials
    # of each; 0.5 added to counts and 1 to trials. d-prime 1.002793, bias -0.4019603. R
    found = detection(82, 100, 46, 100)
    assert found.d_prime == pytest.approx(1.002793, abs=5e-7)
    assert found.criterion == pytest.approx(-0.4019603, abs=5e-8)


def test_d1_eighteen_of_twenty() -> None:
    # STANDARDS, scoring practice: 18 of 20 hits, 3 of 20 false alarms: d′ 2.15. D
    assert detection(18, 20, 3, 20).d_prime == pytest.approx(2.15, abs=0.005)


@pytest.mark.parametrize(("hits", "signals"), [(0, 5), (5, 5), (0, 0), (3, 7)])
@pytest.mark.parametrize(("false", "noise"), [(0, 9), (9, 9), (0, 0), (2, 40)])
def test_d1_as_worked_out_by_another_library(hits: int, signals: int, false: int, noise: int) -> None:
    hit, alarm = norm.ppf([(hits + 0.5) / (signals + 1), (false + 0.5) / (noise + 1)])
    assert detection(hits, signals, false, noise) == pytest.approx((hit - alarm, -(hit + alarm) / 2))


def test_d1_counts_that_cannot_be_are_no_score() -> None:
    with pytest.raises(ValueError, match="6 of 5"):
        detection(6, 5, 0, 1)


# Published cases (successes, failures, low, high) of the Wilson score interval with z = 1.96:
# codegolf.stackexchange.com question 105389, "Compute the Wilson score interval", test cases. Q
CASES = [
    (0, 1, 0.0, 0.7934567085261071),
    (1, 0, 0.20654329147389294, 1.0),
    (1, 1, 0.09452865480086611, 0.905471345199134),
    (1, 10, 0.016231752262825982, 0.3773646254862038),
    (10, 1, 0.6226353745137962, 0.9837682477371741),
    (10, 90, 0.05522854161313612, 0.1743673043676654),
    (25, 75, 0.17545094003724265, 0.3430464637007583),
    (0, 100, 0.0, 0.03699480747600191),
]


@pytest.mark.parametrize(("count", "rest", "low", "high"), CASES)
def test_d2_published_intervals(count: int, rest: int, low: float, high: float) -> None:
    assert wilson(count, count + rest, z=1.96) == pytest.approx((low, high), abs=1e-12)


@pytest.mark.parametrize(("count", "of"), [(0, 20), (1, 29), (15, 148), (81, 263), (7, 7)])
def test_d2_as_worked_out_by_another_library(count: int, of: int) -> None:
    theirs = binomtest(count, of).proportion_ci(method="wilson")
    assert wilson(count, of) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


def test_d2_of_nothing_nothing_is_known() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.9, 1.0])
@pytest.mark.parametrize("values", [[3.0], [2.0, 1.0], [1.2, 0.4, 9.0, 2.2, 2.1, 5.0, 0.1]])
def test_d3_quantiles_are_definition_7(values: list[float], share: float) -> None:
    # Hyndman & Fan 1996, The American Statistician 50, definition 7: numpy's "linear". M; beside it numpy
    assert quantile(values, share) == pytest.approx(float(np.quantile(values, share, method="linear")))


def test_d3_of_nothing_there_is_none() -> None:
    assert quantile([], 0.5) is None
