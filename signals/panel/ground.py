"""The map's ground from the venue: outlines of sectors, places of heads, names where they cover least.

All in metres, y turned over so that it grows downwards as on a screen; made once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shapely import Point, Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

from signals.mqtt.contract import Where
from signals.venue.approach import track_of
from signals.venue.geometry import Polyline
from signals.venue.model import Head, Sector, Venue
from signals.words import PIT, HeadRole

Spot = tuple[float, float]

STEP_M = 2.0
"""Between two points of an outline."""
MARGIN_M = 8.0
HEAD_M = 4.4
"""What a head's glyph takes on a middling screen."""
LETTER_M, LINE_M = 1.25, 2.6
"""What a letter of a name takes there, and a line."""
APART_ROUNDS = 60
BOX_M, BOXES = 6.0, 0.8
"""Between karts that wait in the pit lane, at most, and the share of it they take."""
ALONG, AWAY_M = (0.5, 0.35, 0.65, 0.2, 0.8), tuple(1.5 + 1.5 * step for step in range(7))
"""Where a name may stand: shares of the sector, and metres from the road's edge."""
COVERED, FAR, ASIDE = 8.0, 1.0, 6.0
"""How bad it is: each m² it covers, each metre away, each share away from the sector's middle."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One sector: its area and both edges as SVG paths, where its name stands, and its middle."""

    id: str
    name: str
    short: str
    area: str
    edges: str
    label: Spot
    middle: Spot


@dataclass(frozen=True, slots=True)
class Ground:
    """All of it. `view` is left, top, width and height; `line` the start line's two ends."""

    view: tuple[float, float, float, float]
    shapes: tuple[Shape, ...]
    heads: dict[str, Spot]
    line: tuple[Spot, Spot]
    arrow: str


class Surveyor:
    """Knows where things lie on a venue's map."""

    def __init__(self, venue: Venue) -> None:
        self.venue = venue
        self._track = track_of(venue)
        self._pit = Polyline(venue.pit_centreline_m, closed=False)
        self._middles = {sector.id: self._middle(sector) for sector in venue.sectors}
        gaps = max(1, len(venue.karts) - 1)
        self._box_m = min(BOX_M, BOXES * self._pit.length_m / gaps)
        self._first_m = (self._pit.length_m - self._box_m * gaps) / 2
        self._order = {kart.number: index for index, kart in enumerate(venue.karts)}

    def ground(self) -> Ground:
        """Draw the ground."""
        outlines = {sector.id: self._edges(sector) for sector in self.venue.sectors}
        heads = _apart({head.id: self._beside(head) for head in self.venue.heads})
        areas = [Polygon([*left, *right[::-1]]).buffer(0) for left, right in outlines.values()]
        taken = union_all([*areas, *(Point(spot).buffer(HEAD_M * 0.6) for spot in heads.values())])
        view = _view(taken)
        labels = dict(_labels(self, taken, view))
        shapes = tuple(
            Shape(
                sector.id,
                sector.name,
                short_name(sector),
                _path([*outlines[sector.id][0], *outlines[sector.id][1][::-1]]) + "Z",
                " ".join(map(_path, outlines[sector.id])),
                labels[sector.id],
                self._middles[sector.id],
            )
            for sector in sorted(self.venue.sectors, key=lambda each: each.id != PIT)
        )
        return Ground(view, shapes, heads, self._line(), self._arrow())

    def spot(self, kart: int, place: str, where: Where | None) -> Spot:
        """Give where a kart stands on the map; as near as is known."""
        if place == PIT or (where is not None and where.in_pit):
            along_m = where.at_m if where is not None and where.at_m is not None else None
            if along_m is None:
                along_m = self._first_m + self._box_m * self._order.get(kart, 0)
            return _down(self._pit.point(along_m))
        if where is not None and where.at_m is not None:
            return _down(self._track.point(where.at_m))
        return self._middles.get(place, self._middles[PIT])

    def beside(self, sector: Sector, share: float, left_m: float) -> Spot:
        """Give a place beside a sector's road, a share along it; metres left of its left edge, or right."""
        line, from_m, length_m = self._stretch(sector)
        along_m = from_m + share * length_m
        right, left = line.reach_m(along_m)
        return _down(line.point(along_m, left + left_m if left_m > 0 else left_m - right))

    def _stretch(self, sector: Sector) -> tuple[Polyline, float, float]:
        """Give a sector's line, where it begins on it and how long it is there."""
        if sector.id == PIT:
            return self._pit, 0.0, self._pit.length_m
        length_m = self._track.ahead(sector.from_m, sector.to_m) or self._track.length_m
        return self._track, sector.from_m, length_m

    def _middle(self, sector: Sector) -> Spot:
        line, from_m, length_m = self._stretch(sector)
        return _down(line.point(from_m + length_m / 2))

    def _edges(self, sector: Sector) -> tuple[list[Spot], list[Spot]]:
        """Give a sector's left and right edge."""
        line, from_m, length_m = self._stretch(sector)
        steps = max(2, math.ceil(length_m / STEP_M))
        places = [from_m + length_m * step / steps for step in range(steps + 1)]
        reach = [line.reach_m(along_m) for along_m in places]
        left = [_down(line.point(at, to_left)) for at, (_, to_left) in zip(places, reach, strict=True)]
        right = [_down(line.point(at, -to_right)) for at, (to_right, _) in zip(places, reach, strict=True)]
        return left, right

    def _beside(self, head: Head) -> Spot:
        """Stand a head's glyph just off the track on its side; pit-exit heads stand where they are."""
        if head.role is HeadRole.PIT_EXIT:
            return _down((head.x_m, head.y_m))
        right, left = self._track.reach_m(head.at_m)
        away_m = left + HEAD_M / 2 if head.side == "left" else -right - HEAD_M / 2
        return _down(self._track.point(head.at_m, away_m))

    def _line(self) -> tuple[Spot, Spot]:
        at_m = self.venue.start_line_m
        right, left = self._track.reach_m(at_m)
        return _down(self._track.point(at_m, left)), _down(self._track.point(at_m, -right))

    def _arrow(self) -> str:
        """Show the driving direction a little after the start line."""
        at_m = self.venue.start_line_m + 7.0
        tail, tip = at_m - 1.6, at_m
        points = [self._track.point(tail, 1.4), self._track.point(tip), self._track.point(tail, -1.4)]
        return _path([_down(point) for point in points])


def short_name(sector: Sector) -> str:
    """Give what a small map writes: the sector's number where its name begins with one, else its id."""
    first = sector.name.split()[0]
    return "Pit" if sector.id == PIT else first if first.isdigit() else sector.id


def _down(point: Spot) -> Spot:
    return point[0], -point[1]


def _path(points: list[Spot]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _view(taken: BaseGeometry) -> tuple[float, float, float, float]:
    left, top, right, bottom = taken.buffer(MARGIN_M).bounds
    return round(left, 1), round(top, 1), round(right - left, 1), round(bottom - top, 1)


def _apart(spots: dict[str, Spot]) -> dict[str, Spot]:
    """Push glyphs apart until none covers another."""
    at, names = dict(spots), list(spots)
    for _ in range(APART_ROUNDS):
        for index, one in enumerate(names):
            for other in names[index + 1 :]:
                at[one], at[other] = _pushed(at[one], at[other])
    return {name: (round(x, 1), round(y, 1)) for name, (x, y) in at.items()}


def _pushed(one: Spot, other: Spot) -> tuple[Spot, Spot]:
    gap_m = math.dist(one, other)
    if gap_m >= HEAD_M:
        return one, other
    across, down = ((other[0] - one[0]) / gap_m, (other[1] - one[1]) / gap_m) if gap_m else (0.0, 1.0)
    push_m = (HEAD_M - gap_m) / 2
    return (
        (one[0] - across * push_m, one[1] - down * push_m),
        (other[0] + across * push_m, other[1] + down * push_m),
    )


def _labels(
    surveyor: Surveyor, taken: BaseGeometry, view: tuple[float, float, float, float]
) -> Iterator[tuple[str, Spot]]:
    """Stand each sector's name where it covers least of road, heads and other names."""
    left, top, width, height = view
    seen = box(left, top, left + width, top + height)
    for sector in surveyor.venue.sectors:
        spot, frame = _best(surveyor, sector, taken, seen)
        taken = union_all([taken, frame])
        yield sector.id, (round(spot[0], 1), round(spot[1], 1))


def _best(
    surveyor: Surveyor, sector: Sector, taken: BaseGeometry, seen: BaseGeometry
) -> tuple[Spot, BaseGeometry]:
    """Give the best place for a name's middle, and what it covers."""
    wide_m, high_m = len(sector.name) * LETTER_M / 2, LINE_M / 2

    def tried() -> Iterator[tuple[float, Spot, BaseGeometry]]:
        for share in ALONG:
            for away_m in AWAY_M:
                for side in (1, -1):
                    x, y = surveyor.beside(sector, share, side * (away_m + high_m))
                    frame = box(x - wide_m, y - high_m, x + wide_m, y + high_m)
                    covers = frame.intersection(taken).area + frame.difference(seen).area
                    bad = COVERED * covers + FAR * away_m + ASIDE * abs(share - 0.5)
                    yield bad, (x, y), frame

    _, spot, frame = min(tried(), key=lambda each: each[0])
    return spot, frame
