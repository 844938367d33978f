"""Whether karts touch: rectangles of their real size on the ground, and nothing of what drivers think.

Two rectangles are apart where their shadows on one of their four sides' directions are (the separating
axis theorem; Gottschalk, Lin & Manocha 1996). Exactly touching counts as apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from sim.speeds import both


class Box(NamedTuple):
    """A kart on the ground: its middle in m, its heading in degrees, its length and width in m."""

    x_m: float
    y_m: float
    heading_deg: float
    length_m: float
    width_m: float

    def corners(self) -> tuple[tuple[float, float], ...]:
        """Give its four corners, around."""
        turn = math.radians(self.heading_deg)
        east, north = math.cos(turn) * self.length_m / 2, math.sin(turn) * self.length_m / 2
        wide_east, wide_north = -math.sin(turn) * self.width_m / 2, math.cos(turn) * self.width_m / 2
        return tuple(
            (self.x_m + fore * east + side * wide_east, self.y_m + fore * north + side * wide_north)
            for fore, side in ((1, 1), (1, -1), (-1, -1), (-1, 1))
        )


@both
def reach_m(box: Box) -> float:
    """Give how far a box reaches around its middle."""
    return math.sqrt(box.length_m * box.length_m + box.width_m * box.width_m) / 2


@both
def touch(one: Box, other: Box) -> bool:
    """Whether two karts overlap on the ground."""
    east, north = other.x_m - one.x_m, other.y_m - one.y_m
    reach = reach_m(one) + reach_m(other)
    if east * east + north * north >= reach * reach:
        return False
    apart = math.radians(other.heading_deg - one.heading_deg)
    return not (_apart(one, other, east, north, apart) or _apart(other, one, east, north, apart))


@both
def _apart(box: Box, other: Box, east: float, north: float, apart_rad: float) -> bool:
    """Whether the other's shadow misses the box's along one of the box's own two directions."""
    turn = math.radians(box.heading_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    lean, stand = abs(math.cos(apart_rad)), abs(math.sin(apart_rad))
    long_m = (other.length_m * lean + other.width_m * stand + box.length_m) / 2
    wide_m = (other.length_m * stand + other.width_m * lean + box.width_m) / 2
    return abs(east * cos + north * sin) >= long_m or abs(north * cos - east * sin) >= wide_m


def touching(boxes: Sequence[tuple[int, Box]]) -> Iterator[tuple[int, int]]:
    """Give the pairs of numbers whose boxes overlap, the smaller number first."""
    along = sorted(boxes, key=lambda each: each[1].x_m)
    for index, (number, box) in enumerate(along):
        for other_number, other in along[index + 1 :]:
            if other.x_m - box.x_m > box.length_m + other.length_m:
                break  # so are all that follow
            if touch(box, other):
                yield min(number, other_number), max(number, other_number)
