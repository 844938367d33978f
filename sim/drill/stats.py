"""The few statistics of scores: signal detection, proportions with their interval, quantiles.

Sources stand beside each; worked values are in tests/standards/test_scoring.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import NamedTuple

Z95 = 1.959963984540054
"""Two-sided 95 % of the standard normal distribution."""
_Z = NormalDist().inv_cdf


class Detection(NamedTuple):
    """How well signals are told from noise (d′), and how readily somebody responds (c; below 0: readily)."""

    d_prime: float
    criterion: float


def detection(hits: int, signals: int, false_alarms: int, noise: int) -> Detection:
    """Give d′ and c of counts.

    d′ = z(H) − z(F), c = −½ (z(H) + z(F)), with the log-linear correction H = (hits + 0.5)/(signals + 1),
    F likewise, so that rates of 0 and 1 stay finite (Hautus 1995, Behavior Research Methods 27, 46-51).

    Raises:
        ValueError: more hits than signals, or more false alarms than noise.

    """
    if not (0 <= hits <= signals and 0 <= false_alarms <= noise):
        raise ValueError(f"{hits} of {signals} hits, {false_alarms} of {noise} false alarms cannot be")
    hit = _Z((hits + 0.5) / (signals + 1))
    false = _Z((false_alarms + 0.5) / (noise + 1))
    return Detection(hit - false, -0.5 * (hit + false))


def wilson(count: int, of: int, z: float = Z95) -> tuple[float, float]:
    """Give Wilson's interval of a proportion (Wilson 1927, JASA 22, 209-212); (0, 1) of nothing.

    Raises:
        ValueError: the count is no part of `of`.

    """
    if not 0 <= count <= of:
        raise ValueError(f"{count} of {of} cannot be")
    if of == 0:
        return 0.0, 1.0
    share, square = count / of, z * z
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = z * math.sqrt(share * (1 - share) / of + square / (4 * of * of)) / (1 + square / of)
    low = 0.0 if count == 0 else middle - half
    high = 1.0 if count == of else middle + half
    return low, high


def quantile(values: Sequence[float], share: float) -> float | None:
    """Give a quantile by linear interpolation of order statistics (definition 7 of Hyndman & Fan 1996).

    None of nothing.
    """
    if not values:
        return None
    ordered = sorted(values)
    at = (len(ordered) - 1) * share
    low = math.floor(at)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (at - low) * (ordered[high] - ordered[low])
