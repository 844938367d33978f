"""Arithmetic along a centreline: where a distance lies, which way the track runs there, how wide it is."""

from __future__ import annotations

import math
from bisect import bisect_right
from itertools import accumulate, pairwise

Point = tuple[float, float]
Row = tuple[float, float, float, float]


class Polyline:
    """A line of straight pieces through rows (x, y, right, left); metres.

    A closed one joins its last row to its first and counts distances modulo its length; an open one
    clamps them.
    """

    def __init__(self, rows: tuple[Row, ...], *, closed: bool) -> None:
        self.rows = rows
        self.closed = closed
        self._nodes = (*rows, rows[0]) if closed else rows
        steps = (math.dist(a[:2], b[:2]) for a, b in pairwise(self._nodes))
        self._reached = list(accumulate(steps, initial=0.0))
        self.length_m = self._reached[-1]

    def wrap(self, along_m: float) -> float:
        """Bring a distance onto the line."""
        if self.closed:
            return along_m % self.length_m
        return min(max(along_m, 0.0), self.length_m)

    def ahead(self, here_m: float, there_m: float) -> float:
        """Tell how far it is from one place of a closed line forward to another, 0 <= answer < length."""
        return (there_m - here_m) % self.length_m

    def _piece(self, along_m: float) -> tuple[Row, Row, float]:
        """Give the piece that holds a distance, and the share of it that lies behind."""
        along_m = self.wrap(along_m)
        index = min(bisect_right(self._reached, along_m), len(self._reached) - 1) - 1
        start, end = self._reached[index], self._reached[index + 1]
        return self._nodes[index], self._nodes[index + 1], (along_m - start) / (end - start)

    def point(self, along_m: float, left_m: float = 0.0) -> Point:
        """Give the point at a distance, moved to the driver's left (negative: right)."""
        a, b, share = self._piece(along_m)
        angle = math.atan2(b[1] - a[1], b[0] - a[0])
        x = a[0] + share * (b[0] - a[0]) - left_m * math.sin(angle)
        y = a[1] + share * (b[1] - a[1]) + left_m * math.cos(angle)
        return x, y

    def heading_deg(self, along_m: float) -> float:
        """Give the driving direction, degrees anticlockwise from east."""
        a, b, _ = self._piece(along_m)
        return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))

    def reach_m(self, along_m: float) -> tuple[float, float]:
        """Give the track's reach to the right and to the left."""
        a, b, share = self._piece(along_m)
        return a[2] + share * (b[2] - a[2]), a[3] + share * (b[3] - a[3])

    def area_m2(self) -> float:
        """Give the enclosed area of a closed line; positive when it runs anticlockwise."""
        return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(self._nodes)) / 2
