"""Make a lap of points as they come: closed, evenly spaced, in the wanted direction; every repair is said."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from shapely import LinearRing

from signals.errors import BadInput
from signals.venue.centreline import CLOSEST_M, ROWS_MAX
from signals.venue.geometry import Polyline
from signals.venue.importing.given import Direction, Given, Mended, Mistakes, Wanted

Floats = NDArray[np.float64]

LEAST_POINTS = 4
GAP_SHARE = 0.1
"""A lap that ends farther from its start, as a share of its length, is none."""
SPIKE_DEG, SPIKES_SHARE = 120.0, 0.05
"""A point at which the line turns back by more is a slip; with a greater share of them the line is unfit."""
FOLD = 0.9
"""Of a bend's radius that the road may reach inward."""
NARROW_M = 2.0
CORNER_M = 10.0
"""Where the south-west corner of a lap that is moved comes to lie."""


def mend(given: Given, wanted: Wanted, file: str) -> Mended:
    """Make a lap.

    Raises:
        BadInput: the points make no lap, or the road's width is nowhere given.

    """
    mistakes = Mistakes(file)
    made = Mended(said=list(given.said))
    points = np.array(given.points, float).reshape(-1, 2)
    reaches = _reaches(given, wanted, len(points), mistakes, made)
    if not mistakes.findings:
        points, reaches = _closed(points, reaches, mistakes, made)
    if not mistakes.findings:
        points, reaches = _without_spikes(points, reaches, mistakes, made)
    if not mistakes.findings:
        points, reaches = _turned(points, reaches, wanted, made)
        _lay(points, reaches, wanted, mistakes, made)
    if mistakes.findings:
        raise BadInput(mistakes.findings)
    return made


def _reaches(given: Given, wanted: Wanted, count: int, mistakes: Mistakes, made: Mended) -> Floats:
    if given.reaches:
        if wanted.width_m is not None:
            made.said.append("the file gives the road's width; --width was left aside")
        return np.array(given.reaches, float)
    if wanted.width_m is None:
        mistakes.say(0, "width", "", "the file says nothing of the road's width: give --width M")
        return np.zeros((count, 2))
    made.said.append(f"the road is taken as {wanted.width_m:g} m wide all around")
    return np.full((count, 2), wanted.width_m / 2)


def _closed(points: Floats, reaches: Floats, mistakes: Mistakes, made: Mended) -> tuple[Floats, Floats]:
    """Leave out repeated points, and close the lap."""
    steps = np.hypot(*np.diff(points, axis=0).T) if len(points) > 1 else np.zeros(0)
    kept = np.concatenate([[True], steps >= CLOSEST_M])[: len(points)]
    if not kept.all():
        made.said.append(f"left out {_points(int((~kept).sum()))} where the one before is repeated")
    points, reaches = points[kept], reaches[kept]
    if len(points) > 1 and math.dist(points[0], points[-1]) < CLOSEST_M:
        made.said.append("the last point repeats the first; left out, a lap closes by itself")
        points, reaches = points[:-1], reaches[:-1]
    if len(points) < LEAST_POINTS:
        mistakes.say(0, "points", len(points), f"needs at least {LEAST_POINTS} different points")
        return points, reaches
    steps = np.hypot(*np.diff(points, axis=0).T)
    gap_m = math.dist(points[0], points[-1])
    if gap_m > GAP_SHARE * (steps.sum() + gap_m) and gap_m > 2 * steps.max():
        right = f"it ends {gap_m:.1f} m from its start; a lap comes back to where it began"
        mistakes.say(0, "points", "", right)
    elif gap_m > 2 * float(np.median(steps)):
        made.said.append(f"closed over a gap of {gap_m:.1f} m")
    return points, reaches


def _points(count: int) -> str:
    return "a point" if count == 1 else f"{count} points"


def _without_spikes(
    points: Floats, reaches: Floats, mistakes: Mistakes, made: Mended
) -> tuple[Floats, Floats]:
    """Leave out points at which the line turns back on itself, the sharpest first."""
    most = max(1, math.floor(SPIKES_SHARE * len(points)))
    for _ in range(most):
        turns = np.abs(_turns_deg(points))
        sharpest = int(turns.argmax())
        if turns[sharpest] <= SPIKE_DEG:
            return points, reaches
        x, y = points[sharpest]
        made.said.append(
            f"the point ({x:.1f}, {y:.1f}) turns the line back by {turns[sharpest]:.0f}°; left out"
        )
        points, reaches = np.delete(points, sharpest, axis=0), np.delete(reaches, sharpest, axis=0)
    if len(points) < LEAST_POINTS or np.abs(_turns_deg(points)).max() > SPIKE_DEG:
        right = (
            f"the line turns back on itself at more than {_points(most)}; it is too rough, or out of order"
        )
        mistakes.say(0, "points", "", right)
    return points, reaches


def _turns_deg(points: Floats) -> Floats:
    """Give by how much a closed line turns at each point, degrees anticlockwise."""
    way = np.roll(points, -1, axis=0) - points
    heading = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    turns: Floats = (heading - np.roll(heading, 1) + 180.0) % 360.0 - 180.0
    return turns


def _turned(points: Floats, reaches: Floats, wanted: Wanted, made: Mended) -> tuple[Floats, Floats]:
    """Turn the lap into the wanted direction: right and left change places."""
    x, y = points.T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    found: Direction = "anticlockwise" if area > 0 else "clockwise"
    made.direction = wanted.direction or found
    if made.direction == found:
        return points, reaches
    made.said.append(f"it ran {found}; turned round, right and left with it")
    return np.roll(points[::-1], 1, axis=0), np.roll(reaches[::-1, ::-1], 1, axis=0)


def _lay(points: Floats, reaches: Floats, wanted: Wanted, mistakes: Mistakes, made: Mended) -> None:
    """Lay evenly spaced rows on a cubic spline through the points."""
    ring = np.vstack([points, points[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    count = max(LEAST_POINTS, round(along[-1] / wanted.step_m))
    if count > ROWS_MAX:
        right = (
            f"a centreline has at most {ROWS_MAX} rows; take a step of {along[-1] / ROWS_MAX:.1f} m or more"
        )
        mistakes.say(0, "--step", f"{wanted.step_m:g}", right)
        return
    spline = CubicSpline(along, ring, bc_type="periodic")
    at = _even(spline, float(along[-1]), count, wanted.start_m)
    xy, slope, second = spline(at), spline(at, 1), spline(at, 2)
    if wanted.moved:
        xy = _moved(xy, made)
    bends = (slope[:, 0] * second[:, 1] - slope[:, 1] * second[:, 0]) / np.hypot(*slope.T) ** 3
    made.tightest_m = float(1.0 / max(np.abs(bends).max(), 1e-9))
    wide = np.vstack([reaches, reaches[:1]])
    reach = np.column_stack([np.interp(at, along, wide[:, side]) for side in (0, 1)])
    reach = _unfolded(reach, bends, made)
    made.rows = tuple(
        (round(float(x), 2), round(float(y), 2), round(float(right), 2), round(float(left), 2))
        for (x, y), (right, left) in zip(xy, reach, strict=True)
    )
    _judge(made, points, spline(at))


def _even(spline: CubicSpline, length_m: float, count: int, start_m: float) -> Floats:
    """Give where on the spline rows stand evenly, the first `start_m` along it."""
    fine = np.linspace(0.0, length_m, 20 * count + 1)
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(spline(fine), axis=0).T))])
    places = (start_m + arc[-1] * np.arange(count) / count) % arc[-1]
    at: Floats = np.interp(places, arc, fine)
    return at


def _moved(xy: Floats, made: Mended) -> Floats:
    corner = xy.min(axis=0) - CORNER_M
    made.said.append(f"moved by ({-corner[0]:.1f}, {-corner[1]:.1f}) m, its corner near the origin")
    moved: Floats = xy - corner
    return moved


def _unfolded(reach: Floats, bends: Floats, made: Mended) -> Floats:
    """Cut the road's inner reach where it would go past the middle of a bend."""
    inner = np.column_stack([np.maximum(-bends, 1e-9), np.maximum(bends, 1e-9)])
    most = FOLD / inner
    over = reach > most
    if over.any():
        made.said.append(
            f"the inner edge cut at {_points(int(over.any(axis=1).sum()))} where it reached past the bend's"
            f" middle, to {float(most[over].min()):.1f} m at the tightest"
        )
    cut: Floats = np.minimum(reach, most)
    return cut


def _judge(made: Mended, points: Floats, unmoved: Floats) -> None:
    """Measure the lap, and say what is doubtful about it."""
    line = Polyline(made.rows, closed=True)
    made.length_m = line.length_m
    ring = LinearRing(np.vstack([unmoved, unmoved[:1]]))
    ways = np.vstack([unmoved, unmoved[:1]])
    made.off_m = max(_off_m(ways, point) for point in points)
    if not ring.is_simple:
        made.doubts.append("it crosses itself; only a bridge makes that right")
    widths = [right + left for _, _, right, left in made.rows]
    if min(widths) < NARROW_M:
        made.doubts.append(f"the road is only {min(widths):.1f} m wide at its narrowest")


def _off_m(line: Floats, point: Floats) -> float:
    """Give how far a point lies from a line of straight pieces."""
    start, way = line[:-1], np.diff(line, axis=0)
    share = np.clip(((point - start) * way).sum(axis=1) / (way * way).sum(axis=1), 0.0, 1.0)
    return float(np.hypot(*(point - start - share[:, None] * way).T).min())
