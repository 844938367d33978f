"""A track's geometry: a closed path for the laps, an open one for the pit lane.

Metres run along the centreline from its first point, in driving order. Coordinates are the
venue's: x to the right, y up, headings in degrees from +x, anticlockwise.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from signals.venue.model import Venue
from signals.words import PIT
from sim import course
from sim.course import Way

SAMPLE_M = 0.25

Rows = Sequence[Sequence[float]]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pose:
    """A place on a path: coordinates in metres, heading in degrees."""

    x_m: float
    y_m: float
    heading_deg: float

    def aside(self, left_m: float) -> Pose:
        """Give the place `left_m` to the left of this one (to the right where negative)."""
        turn = math.radians(self.heading_deg)
        return Pose(self.x_m - left_m * math.sin(turn), self.y_m + left_m * math.cos(turn), self.heading_deg)


class Path:
    """A cubic spline through points, read by the venue's metres; a closed one wraps around.

    The venue counts metres along the straight pieces between its points; the spline keeps that
    count, so that sectors, heads and karts agree on every place. Its own arc is at most 1 or 2 %
    longer where the points of a bend stand far apart: `stretches` says by how much.

    Args:
        points: (x, y, right, left) rows in metres; right and left may be missing.
        closed: whether the last point leads back to the first.

    Attributes:
        per_m: samples a metre.
        bends: curvature at each sample, 1/m, left positive.
        stretches: metres of arc for each of the venue's metres at each sample.
        rights, lefts: how far the surface reaches at each sample, m.
        way: the same as step functions read it.

    """

    def __init__(self, points: Rows, *, closed: bool) -> None:
        rows = np.asarray([[*point, 0.0, 0.0][:4] for point in points], dtype=float)
        if closed:
            rows = np.vstack([rows, rows[:1]])
        xy = rows[:, :2]
        reached = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
        spline = CubicSpline(reached, xy, bc_type="periodic" if closed else "natural")
        self.closed = closed
        self.length_m = float(reached[-1])
        steps = max(2, math.ceil(self.length_m / SAMPLE_M))
        self.per_m = steps / self.length_m
        at = np.linspace(0.0, self.length_m, steps + 1)
        self.xy: Floats = spline(at)
        slope = spline(at, 1)
        self.heading_rad: Floats = np.unwrap(np.arctan2(slope[:, 1], slope[:, 0]))
        self.bends: list[float] = curvature(slope, spline(at, 2)).tolist()
        self.stretches: list[float] = np.hypot(*slope.T).tolist()
        self.rights, self.lefts = (np.interp(at, reached, column).tolist() for column in rows.T[2:])
        xs, ys = (column.tolist() for column in self.xy.T)
        self.way = Way(
            closed=closed,
            length_m=self.length_m,
            per_m=self.per_m,
            last=steps,
            xs=xs,
            ys=ys,
            headings_deg=np.degrees(self.heading_rad).tolist(),
            bends=self.bends,
            stretches=self.stretches,
            rights=self.rights,
            lefts=self.lefts,
        )

    def wrap(self, at_m: float) -> float:
        """Bring metres into the path: around a closed one, to the ends of an open one."""
        return course.wrap(self.way, at_m)

    def at(self, at_m: float) -> Pose:
        """Give the place at these metres."""
        return Pose(*course.place(self.way, at_m))

    def sample(self, at_m: float) -> int:
        """Give the number of the sample nearest to these metres."""
        return course.sample(self.way, at_m)

    def nearest(self, x_m: float, y_m: float, near_m: float, within_m: float) -> tuple[float, float]:
        """Give where a point lies beside the path: metres along it, and metres to its left.

        Only places `within_m` of `near_m` are looked at: a track comes close to itself.
        """
        return course.nearest(self.way, x_m, y_m, near_m, within_m)


def curvature(slope: Floats, second: Floats) -> Floats:
    """Give a curve's curvature, 1/m, of its first and second derivatives (rows of x and y)."""
    speed: Floats = np.hypot(slope[:, 0], slope[:, 1])
    turned: Floats = slope[:, 0] * second[:, 1] - slope[:, 1] * second[:, 0]
    bent: Floats = turned / (speed * speed * speed)
    return bent


class Track:
    """A venue's laps and pit lane, its white lines, and which sector a place belongs to."""

    def __init__(self, venue: Venue) -> None:
        self.lap = Path(venue.centreline_m, closed=True)
        self.pit = Path(venue.pit_centreline_m, closed=False)
        self.length_m = self.lap.length_m
        self.width_m = min(right + left for _, _, right, left in venue.centreline_m)
        sectors = sorted((sector.from_m, sector.id) for sector in venue.sectors if sector.id != PIT)
        self._starts = [start for start, _ in sectors]
        self._ids = [sector for _, sector in sectors]

    def sector_at(self, at_m: float) -> str:
        """Give the sector of a place on the lap (a sector holds its start, not its end)."""
        return self._ids[bisect_right(self._starts, at_m % self.length_m) - 1]

    def ahead_m(self, behind_m: float, front_m: float) -> float:
        """Metres from one place of the lap forward to another, 0 … length."""
        return (front_m - behind_m) % self.length_m

    def edges_m(self, at_m: float) -> tuple[float, float]:
        """Give the white lines at a place of the lap: metres to the right, and to the left."""
        sample = self.lap.sample(at_m)
        return self.lap.rights[sample], self.lap.lefts[sample]
