"""Whether a driver at a place of the track can see a head: barriers, the light's beam, the driver's view."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import buffer, points, union_all
from shapely.geometry.base import BaseGeometry

from signals.venue.geometry import Polyline
from signals.venue.model import Barrier, Head, Venue

EYE_M = 0.8
"""A seated driver's eye above the track; typical, no source."""
VIEW_DEG = 90.0
"""To either side of the driving direction; typical, no source."""
BEAM_DEG = 60.0
"""To either side of where a lamp points; typical, no source."""

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Lamps(NamedTuple):
    """Where heads stand, how high, and where they point: arrays of equal length."""

    x_m: Floats
    y_m: Floats
    height_m: Floats
    facing_deg: Floats


class Walls(NamedTuple):
    """Straight pieces of whatever hides: from and to (x, y), and how high; the last axis is the pieces'."""

    from_m: Floats
    to_m: Floats
    top_m: Floats


def lamps(heads: Sequence[Head]) -> Lamps:
    """Give heads as arrays."""
    rows = [(head.x_m, head.y_m, head.height_m, head.facing_deg) for head in heads]
    return Lamps(*np.array(rows, float).reshape(-1, 4).T)


def walls(barriers: Iterable[Barrier]) -> Walls:
    """Give the pieces of barriers, arrays of shape (2, pieces) and (pieces,)."""
    pieces = [
        (*start, *end, barrier.height_m)
        for barrier in barriers
        for start, end in zip(barrier.points_m, barrier.points_m[1:], strict=False)
    ]
    columns = np.array(pieces, float).reshape(-1, 5).T
    return Walls(columns[:2], columns[2:4], columns[4])


def sees(venue: Venue, track: Polyline, head: Head, along_m: float) -> bool:
    """Whether a driver at a place on the centreline sees a head."""
    x, y = track.point(along_m)
    eyes = np.array([[x, y, track.heading_deg(along_m)]])
    return bool(seen(eyes, lamps([head]), walls(venue.barriers))[0, 0])


def seen(
    eyes: Floats,
    heads: Lamps,
    hiding: Walls,
    *,
    eye_m: float = EYE_M,
    among: Mask | None = None,
    own: Walls | None = None,
) -> Mask:
    """Tell which eyes see which heads.

    Args:
        eyes: rows of x and y in metres and the driving direction in degrees anticlockwise from east.
        heads: what is looked for.
        hiding: what may stand between.
        eye_m: how high the eyes are.
        among: the pairs that are asked about, eyes by heads; all where not given.
        own: what hides besides, for each eye its own: shapes (2, eyes, pieces) and (eyes, pieces).

    Returns:
        Eyes by heads: within the driver's view and the lamp's beam, over everything that hides.

    """
    towards = np.degrees(
        np.arctan2(heads.y_m[None, :] - eyes[:, 1, None], heads.x_m[None, :] - eyes[:, 0, None])
    )
    found: Mask = _apart(towards, eyes[:, 2, None]) <= VIEW_DEG
    found &= _apart(towards + 180.0, heads.facing_deg[None, :]) <= BEAM_DEG
    if among is not None:
        found &= among
    eye, head = np.nonzero(found)
    lines = eyes[eye, :2].T, np.stack([heads.x_m[head], heads.y_m[head]])
    covered = hidden(lines, (eye_m, heads.height_m[head]), hiding)
    if own is not None:
        theirs = Walls(own.from_m[:, eye], own.to_m[:, eye], own.top_m[eye])
        covered |= hidden(lines, (eye_m, heads.height_m[head]), theirs)
    found[eye, head] = ~covered
    return found


def _apart(one_deg: Floats, other_deg: Floats) -> Floats:
    """Give the angle between two directions, 0 to 180 degrees."""
    between: Floats = np.abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)
    return between


def hidden(lines: tuple[Floats, Floats], heights_m: tuple[float, Floats], hiding: Walls) -> Mask:
    """Tell which lines of sight pass below the top of something they cross.

    Args:
        lines: (x, y) of eyes and of lamps, each of shape (2, lines).
        heights_m: how high the eyes are, and each lamp.
        hiding: pieces alike for all lines, shapes (2, pieces); or each line's own, (2, lines, pieces).

    """
    eye, lamp = lines
    eye_m, lamp_m = heights_m
    covered = np.zeros(eye.shape[1], bool)
    for piece in range(hiding.top_m.shape[-1]):
        start, end = hiding.from_m[..., piece], hiding.to_m[..., piece]
        start, end = (each.reshape(2, -1) for each in (start, end))
        share, crosses = _crossing(eye, lamp - eye, start, end - start)
        covered |= crosses & (eye_m + (lamp_m - eye_m) * share < hiding.top_m[..., piece])
    return covered


def _crossing(eye: Floats, way: Floats, start: Floats, along: Floats) -> tuple[Floats, Mask]:
    """Give at which share of their way lines cross a piece, and whether they do; along it, they do not."""
    over = _cross(way, along)
    straight = over == 0.0
    over = np.where(straight, 1.0, over)
    share = _cross(start - eye, along) / over
    place = _cross(start - eye, way) / over
    return share, ~straight & (share >= 0.0) & (share <= 1.0) & (place >= 0.0) & (place <= 1.0)


def _cross(one: Floats, other: Floats) -> Floats:
    turned: Floats = one[0] * other[1] - one[1] * other[0]
    return turned


def surface(track: Polyline, from_m: float, to_m: float, step_m: float = 2.0) -> BaseGeometry:
    """Give the ground that the track covers between two distances, from_m < to_m."""
    steps = max(2, math.ceil((to_m - from_m) / step_m))
    places = [from_m + (to_m - from_m) * index / steps for index in range(steps + 1)]
    discs = buffer(
        points([track.point(at) for at in places]), [min(track.reach_m(at)) for at in places], quad_segs=4
    )
    return union_all(discs)
