"""Whether a driver at a place of the track can see a head: barriers, the light's beam, the driver's view."""

from __future__ import annotations

import math

from shapely import LineString, Point, buffer, points, union_all
from shapely.geometry.base import BaseGeometry

from signals.venue.geometry import Polyline
from signals.venue.model import Barrier, Head, Venue

EYE_M = 0.8
"""A seated driver's eye above the track; typical, no source."""
VIEW_DEG = 90.0
"""To either side of the driving direction; typical, no source."""
BEAM_DEG = 60.0
"""To either side of where a lamp points; typical, no source."""


def sees(venue: Venue, track: Polyline, head: Head, along_m: float) -> bool:
    """Whether a driver at a place on the centreline sees a head."""
    x, y = track.point(along_m)
    towards = _bearing(x, y, head.x_m, head.y_m)
    if _apart(towards, track.heading_deg(along_m)) > VIEW_DEG:
        return False
    if _apart(towards + 180, head.facing_deg) > BEAM_DEG:
        return False
    line = LineString([(x, y), (head.x_m, head.y_m)])
    return not any(_hides(barrier, line, head.height_m) for barrier in venue.barriers)


def _bearing(x: float, y: float, to_x: float, to_y: float) -> float:
    return math.degrees(math.atan2(to_y - y, to_x - x))


def _apart(one_deg: float, other_deg: float) -> float:
    """Give the angle between two directions, 0 to 180 degrees."""
    return abs((one_deg - other_deg + 180) % 360 - 180)


def _hides(barrier: Barrier, line: LineString, head_m: float) -> bool:
    """Whether the line from the eye to the lamp passes below a barrier's top."""
    crossing = line.intersection(LineString(barrier.points_m))
    if crossing.is_empty:
        return False
    return any(
        EYE_M + (head_m - EYE_M) * line.project(Point(at), normalized=True) < barrier.height_m
        for part in getattr(crossing, "geoms", [crossing])
        for at in part.coords
    )


def surface(track: Polyline, from_m: float, to_m: float, step_m: float = 2.0) -> BaseGeometry:
    """Give the ground that the track covers between two distances, from_m < to_m."""
    steps = max(2, math.ceil((to_m - from_m) / step_m))
    places = [from_m + (to_m - from_m) * index / steps for index in range(steps + 1)]
    discs = buffer(
        points([track.point(at) for at in places]), [min(track.reach_m(at)) for at in places], quad_segs=4
    )
    return union_all(discs)
