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
from scipy.interpolate import CubicSpline

from signals.venue.model import Venue
from signals.words import PIT

SAMPLE_M = 0.25


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
    count, so that sectors, heads and karts agree on every place (its own arc is at most 1 or 2 %
    longer where the points of a bend stand far apart).

    Args:
        points: (x, y, …) rows in metres.
        closed: whether the last point leads back to the first.

    """

    def __init__(self, points: Sequence[Sequence[float]], *, closed: bool) -> None:
        xy = np.asarray([point[:2] for point in points], dtype=float)
        if closed:
            xy = np.vstack([xy, xy[:1]])
        reached = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
        spline = CubicSpline(reached, xy, bc_type="periodic" if closed else "natural")
        self.closed = closed
        self.length_m = float(reached[-1])
        steps = max(2, math.ceil(self.length_m / SAMPLE_M))
        self._per_m = steps / self.length_m
        at = np.linspace(0.0, self.length_m, steps + 1)
        slope = spline(at, 1)
        heading = np.degrees(np.unwrap(np.arctan2(slope[:, 1], slope[:, 0])))
        self._x, self._y = (column.tolist() for column in spline(at).T)
        self._heading = heading.tolist()

    def wrap(self, at_m: float) -> float:
        """Bring metres into the path: around a closed one, to the ends of an open one."""
        return at_m % self.length_m if self.closed else min(max(at_m, 0.0), self.length_m)

    def at(self, at_m: float) -> Pose:
        """Give the place at these metres."""
        step, part = divmod(self.wrap(at_m) * self._per_m, 1.0)
        low = min(int(step), len(self._x) - 2)
        part += step - low
        x, y, heading = (
            column[low] + part * (column[low + 1] - column[low])
            for column in (self._x, self._y, self._heading)
        )
        return Pose(x, y, heading % 360.0)


class Track:
    """A venue's laps and pit lane, and which sector a place belongs to."""

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
