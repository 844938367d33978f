"""Lines to drive: the racing line, one along each edge to pass on, and how fast each can be driven.

The racing line bends as little as the white lines let it: offsets from the centreline that make the
sum of squared second differences least, between bounds (a convex problem with one solution; the
minimum-curvature line of Braghin, Cheli, Melzi & Sabbioni 2008, Computers & Structures 86, on a
path of equal steps). Speeds follow from grip by a forward and a backward pass over the line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.sparse import csr_array, diags_array, eye_array
from scipy.sparse.linalg import spsolve

from signals.venue.model import KartModel
from sim.kart import G_MPS2, thrust_mps2
from sim.track import Floats, Path, curvature

KNOT_M = 5.0
PROFILE_EVERY = 4
"""Samples of a path a step of a speed profile: 1 m."""
CLEAR_M = 0.5
"""Between a kart on a line and the white line beside it."""
SMOOTH_KNOTS = 3
RIDGE = 1e-4
"""Draws a line to the middle where nothing else does, so that the problem has one solution."""
PIVOTS = 100
STRAIGHT_PER_M = 1e-4
"""What bends less counts as straight."""


class Lane(IntEnum):
    """A line to drive on."""

    RACING = 0
    LEFT = 1
    RIGHT = 2


@dataclass(frozen=True, slots=True)
class Line:
    """A line beside a path, at each of the path's samples."""

    lefts: list[float]
    """Metres left of the path."""
    slopes: list[float]
    """Its direction against the path's: metres to the left for each of the path's metres of arc."""
    bends: list[float]
    """Its own curvature, 1/m, left positive."""
    steps: list[float]
    """Its own metres from this sample to the next."""


def lines(path: Path, half_kart_m: float) -> tuple[Line, Line, Line]:
    """Give the three lines of a lap, in the order of `Lane`."""
    knots = round(path.length_m / KNOT_M)
    at = np.linspace(0.0, path.length_m, knots, endpoint=False)
    samples = [path.sample(each) for each in at]
    room = half_kart_m + CLEAR_M
    low = np.array([-path.rights[sample] + room for sample in samples])
    high = np.array([path.lefts[sample] - room for sample in samples])
    low, high = np.minimum(low, -0.05), np.maximum(high, 0.05)
    racing = straightest(path, at, low, high)
    return tuple(_line(path, at, _smooth(each)) for each in (racing, high, low))  # type: ignore[return-value]


def straightest(path: Path, at: Floats, low: Floats, high: Floats) -> Floats:
    """Give the offsets at equally spaced places of a closed path that bend least, between bounds."""
    samples = [path.sample(each) for each in at]
    centre, heading = path.xy[samples], path.heading_rad[samples]
    normals = np.column_stack([-np.sin(heading), np.cos(heading)])
    second = _second_differences(len(at))
    hessian, linear = RIDGE * eye_array(len(at), format="csr"), np.zeros(len(at))
    for axis in (0, 1):
        bent = second.multiply(normals[:, axis]).tocsr()
        hessian = hessian + bent.T @ bent
        linear = linear - bent.T @ (second @ centre[:, axis])
    return bounded(hessian, linear, low, high)


def _second_differences(count: int) -> csr_array:
    """Give the matrix of second differences around a ring."""
    ones = np.ones(count)
    return diags_array(
        [ones, ones, -2.0 * ones, ones, ones], offsets=[1 - count, -1, 0, 1, count - 1], shape=(count, count)
    ).tocsr()


def bounded(hessian: csr_array, linear: Floats, low: Floats, high: Floats) -> Floats:
    """Minimise x·Hx/2 − g·x between bounds, H positive definite: block principal pivoting.

    Portugal, Júdice & Vicente 1994, Mathematics of Computation 63: solve for the free, put whoever left
    his bounds on the bound, free whoever is drawn inward, until nobody moves.
    """
    side = np.zeros(len(linear))
    found = np.zeros(len(linear))
    for _ in range(PIVOTS):
        free = side == 0
        found = np.where(free, 0.0, np.where(side < 0, low, high))
        found[free] = spsolve(hessian[free][:, free].tocsc(), (linear - hessian @ found)[free])
        pull = linear - hessian @ found
        out = np.where(found < low, -1.0, np.where(found > high, 1.0, 0.0))
        moved = np.where(free, out, np.where(pull * side < 0, 0.0, side))
        if np.array_equal(moved, side):
            break
        side = moved
    kept: Floats = np.clip(found, low, high)
    return kept


def _smooth(offsets: Floats) -> Floats:
    """Round off the corners that bounds leave: a mean over neighbours, around the lap."""
    window = np.hanning(SMOOTH_KNOTS + 2)[1:-1]
    half = SMOOTH_KNOTS // 2
    wrapped = np.concatenate([offsets[-half:], offsets, offsets[:half]])
    return np.convolve(wrapped, window / window.sum(), mode="valid")


def _line(path: Path, at: Floats, offsets: Floats) -> Line:
    """Make a line of its offsets at some places of a closed path."""
    offset = CubicSpline([*at, path.length_m], [*offsets, offsets[0]], bc_type="periodic")
    every = np.arange(len(path.bends)) / path.per_m
    left = offset(every)
    normals = np.column_stack([-np.sin(path.heading_rad), np.cos(path.heading_rad)])
    xy = path.xy + left[:, None] * normals
    xy[-1] = xy[0]
    curve = CubicSpline(every, xy, bc_type="periodic")
    slope = curve(every, 1)
    ahead = np.asarray(path.stretches) * (1.0 - np.asarray(path.bends) * left)
    return Line(
        lefts=left.tolist(),
        slopes=(offset(every, 1) / ahead).tolist(),
        bends=curvature(slope, curve(every, 2)).tolist(),
        steps=(np.hypot(*slope.T) / path.per_m).tolist(),
    )


def corner_mps(bend_per_m: float, grip: float) -> float:
    """Give the speed at which a bend takes all of a grip: v = sqrt(mu g r)."""
    return math.sqrt(grip * G_MPS2 / max(abs(bend_per_m), STRAIGHT_PER_M))


def profile(line: Line, model: KartModel, *, grip: float, brake_mps2: float) -> list[float]:
    """Give the speed at every `PROFILE_EVERY`-th sample of a closed line, m/s.

    The least of cornering, of power in a forward pass, and of brakes in a backward pass. Each pass runs
    twice around, so that the seam is no start.
    """
    bends = [max(map(abs, part)) for part in batched(line.bends, PROFILE_EVERY)]
    steps = [sum(part) for part in batched(line.steps, PROFILE_EVERY)]
    speeds = [corner_mps(bend, grip) for bend in bends]
    count = len(speeds)
    for here in (*range(count), *range(count)):
        v = speeds[here]
        reached = math.sqrt(v * v + 2.0 * steps[here] * thrust_mps2(v, model))
        there = (here + 1) % count
        speeds[there] = min(speeds[there], reached)
    for here in (*reversed(range(count)), *reversed(range(count))):
        v, there = speeds[here], here - 1
        speeds[there] = min(speeds[there], math.sqrt(v * v + 2.0 * steps[there] * brake_mps2))
    return speeds


def batched(values: list[float], size: int) -> list[list[float]]:
    """Cut a list into pieces of a size; the last may be shorter."""
    return [values[start : start + size] for start in range(0, len(values), size)]
