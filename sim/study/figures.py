"""What sessions come to: means and differences with bootstrap intervals, shares with Wilson's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binomtest, chi2

Floats = NDArray[np.float64]
RESAMPLES = 2000
LEVEL = 0.95


class Estimate(NamedTuple):
    """A value with its interval, from how many sessions."""

    value: float
    low: float
    high: float
    sessions: int


def mean(values: Sequence[float | None], seed: int = 0) -> Estimate | None:
    """Give the mean of those that were reached, its interval by the percentile bootstrap (Efron 1979)."""
    reached = np.array([value for value in values if value is not None], float)
    if not len(reached):
        return None
    low, high = _interval(_means(reached, seed))
    return Estimate(float(reached.mean()), low, high, len(reached))


def _means(values: Floats, seed: int) -> Floats:
    rng = np.random.default_rng(seed)
    means: Floats = values[rng.integers(0, len(values), (RESAMPLES, len(values)))].mean(axis=1)
    return means


def _interval(means: Floats) -> tuple[float, float]:
    low, high = np.quantile(means, [(1 - LEVEL) / 2, (1 + LEVEL) / 2])
    return float(low), float(high)


def count(values: Sequence[float | None], seed: int = 0) -> Estimate | None:
    """Give the mean of counts: its interval is never narrower than Poisson's exact one (Garwood 1936).

    Where nothing was counted, a bootstrap would claim that nothing ever is.
    """
    found = mean(values, seed)
    if found is None:
        return None
    hits, tail = found.value * found.sessions, (1 - LEVEL) / 2
    low = chi2.ppf(tail, 2 * hits) / 2 / found.sessions if hits else 0.0
    high = chi2.ppf(1 - tail, 2 * hits + 2) / 2 / found.sessions
    return found._replace(low=min(found.low, float(low)), high=max(found.high, float(high)))


def share(hits: int, count: int) -> Estimate:
    """Give a share of sessions, its interval by Wilson's score (Wilson 1927)."""
    found = binomtest(hits, count).proportion_ci(LEVEL, method="wilson")
    return Estimate(hits / count, float(found.low), float(found.high), count)


def difference(one: Sequence[float | None], other: Sequence[float | None], seed: int = 0) -> Estimate | None:
    """Give by how much others' mean is higher; sessions of the same seed are compared with each other."""
    pairs = [b - a for a, b in zip(one, other, strict=False) if a is not None and b is not None]
    return mean(pairs, seed)
