"""The map's ground: what stays while nobody resizes the window. Track, pit, names, places of heads."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pygame

from signals.look import SMALL_PX
from signals.venue.model import Head, Venue
from signals.words import PIT, HeadRole
from sim.ground import Ground
from sim.track import Path, Pose, Track
from sim.view.layout import MAP_MARGIN_PX
from sim.view.paint import Brush

STEP_M = 1.5
HEAD_M, HEAD_PX = 4.2, (20, 24)
"""A head's glyph on the map: its size in metres, within pixels at scale 1."""
KART_M, KART_PX = 1.8, (8, 14)
"""Radius of a kart's plate, likewise; its ring stands around it."""
PIT_WIDTH_M = 4.0
APART_ROUNDS = 60

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """From the venue's metres to the map's pixels; y is turned over."""

    scale: float
    left: float
    top: float

    def spot(self, x_m: float, y_m: float) -> Spot:
        """Give the pixel of a place."""
        return self.left + x_m * self.scale, self.top - y_m * self.scale


def extent(venue: Venue) -> tuple[float, float, float, float]:
    """Give the left, right, low and high end of track and pit lane in metres."""
    rows = (*venue.centreline_m, *venue.pit_centreline_m)
    xs, ys = [row[0] for row in rows], [row[1] for row in rows]
    return min(xs), max(xs), min(ys), max(ys)


def fit(venue: Venue, area: pygame.Rect, margin: int) -> Frame:
    """Fit a venue's track and pit lane into an area."""
    west, east, south, north = extent(venue)
    wide, high = area.width - 2 * margin, area.height - 2 * margin
    scale = max(0.1, min(wide / (east - west), high / (north - south)))
    left = area.width / 2 - scale * (west + east) / 2
    top = area.height / 2 + scale * (south + north) / 2
    return Frame(scale, left, top)


class MapGround:
    """The unchanging layer of a map of one size, and the shapes of its sectors."""

    def __init__(self, venue: Venue, area: pygame.Rect, brush: Brush) -> None:
        self.venue = venue
        self.brush = brush
        self.size = area.size
        self.frame = fit(venue, area, brush.px(MAP_MARGIN_PX))
        track = Track(venue)
        self._track = track
        self._half_m = track.width_m / 2
        self.head_px = _between(HEAD_M * self.frame.scale, brush.px(HEAD_PX[0]), brush.px(HEAD_PX[1]))
        self.kart_px = _between(KART_M * self.frame.scale, brush.px(KART_PX[0]), brush.px(KART_PX[1]))
        self.sectors = {sector.id: self._band(sector.id) for sector in venue.sectors}
        self.heads = self._apart({head.id: self._beside(head) for head in venue.heads})
        self.labels: dict[str, pygame.Rect] = {}
        self.surface = pygame.Surface(area.size)
        self._draw()
        self.unlike = self._signs_apart()

    def _band(self, sector: str) -> tuple[list[Spot], list[Spot]]:
        """Give a sector's left and right edge in pixels."""
        if sector == PIT:
            path, half_m, start_m, length_m = self._track.pit, PIT_WIDTH_M / 2, 0.0, self._track.pit.length_m
        else:
            own = next(each for each in self.venue.sectors if each.id == sector)
            path, half_m, start_m = self._track.lap, self._half_m, own.from_m
            length_m = self._track.ahead_m(own.from_m, own.to_m) or self._track.length_m
        return self._edges(path, half_m, start_m, length_m)

    def _edges(
        self, path: Path, half_m: float, start_m: float, length_m: float
    ) -> tuple[list[Spot], list[Spot]]:
        steps = max(2, math.ceil(length_m / STEP_M))
        poses = [path.at(start_m + length_m * step / steps) for step in range(steps + 1)]
        return [self._pixel(pose, half_m) for pose in poses], [self._pixel(pose, -half_m) for pose in poses]

    def _pixel(self, pose: Pose, left_m: float) -> Spot:
        spot = pose.aside(left_m)
        return self.frame.spot(spot.x_m, spot.y_m)

    def _beside(self, head: Head) -> Spot:
        """Stand a head's glyph just off the track on its side; pit-exit heads stand where they are."""
        if head.role is HeadRole.PIT_EXIT:
            return self.frame.spot(head.x_m, head.y_m)
        away_m = self._half_m + (self.head_px / 2 + self.brush.px(3)) / self.frame.scale
        return self._pixel(self._track.lap.at(head.at_m), away_m if head.side == "left" else -away_m)

    def _apart(self, spots: dict[str, Spot]) -> dict[str, tuple[int, int]]:
        """Push glyphs apart until none covers another, and keep them on the map."""
        room = self.head_px + self.brush.px(3)
        at = {name: pygame.Vector2(spot) for name, spot in spots.items()}
        names = list(at)
        for _ in range(APART_ROUNDS):
            for index, one in enumerate(names):
                for other in names[index + 1 :]:
                    gap = at[other] - at[one]
                    if gap.length() < room:
                        way = gap.normalize() if gap.length() > 0 else pygame.Vector2(0, 1)
                        push = way * (room - gap.length()) / 2
                        at[one] -= push
                        at[other] += push
        edge = room / 2
        for place in at.values():
            place.x = min(max(place.x, edge), self.size[0] - edge)
            place.y = min(max(place.y, edge), self.size[1] - edge)
        return {name: (round(place.x), round(place.y)) for name, place in at.items()}

    def _draw(self) -> None:
        surface, brush = self.surface, self.brush
        surface.fill(brush.colour("ground"))
        for sector in (PIT, *(each for each in self.sectors if each != PIT)):
            left, right = self.sectors[sector]
            pygame.draw.polygon(surface, brush.colour("track"), left + right[::-1])
        self._name_sectors()

    def lines(self, on: pygame.Surface) -> None:
        """Draw what is painted on the road."""
        self._start_line(on)
        self._arrow(on)

    def _start_line(self, on: pygame.Surface) -> None:
        """Draw the line in two rows of squares, over the whole width."""
        across, squares = 0.8, 8
        white, black = self.brush.colour("number"), self.brush.colour("plate")
        for row in range(2):
            pose = self._track.lap.at(self.venue.start_line_m + (row - 0.5) * across)
            for column in range(squares):
                low = self._half_m * (2 * column / squares - 1)
                high = low + 2 * self._half_m / squares
                ends = (self._pixel(pose, low), self._pixel(pose, high))
                colour = white if (row + column) % 2 else black
                pygame.draw.line(on, colour, *ends, max(2, round(across * self.frame.scale)))

    def _arrow(self, on: pygame.Surface) -> None:
        """Show the driving direction a little after the start line."""
        for ahead_m in (6.0, 8.0):
            tip = self._track.lap.at(self.venue.start_line_m + ahead_m)
            tail = self._track.lap.at(self.venue.start_line_m + ahead_m - 1.4)
            points = [self._pixel(tail, 1.2), self._pixel(tip, 0.0), self._pixel(tail, -1.2)]
            pygame.draw.lines(on, self.brush.colour("muted"), False, points, self.brush.px(2))

    def _name_sectors(self) -> None:
        """Write each sector's name where it covers least of track, heads and other names."""
        taken = pygame.mask.from_threshold(self.surface, self.brush.colour("ground"), (1, 1, 1, 255))
        taken.invert()
        glyph = self.head_px + 4
        for x, y in self.heads.values():
            taken.draw(pygame.Mask((glyph, glyph), fill=True), (x - glyph // 2, y - glyph // 2))
        ground = Ground(self.venue)
        for kart in ground.begin(0).karts:
            pose = ground.pose(kart)
            x, y = (round(pixel) for pixel in self.frame.spot(pose.x_m, pose.y_m))
            taken.draw(pygame.Mask((glyph, glyph), fill=True), (x - glyph // 2, y - glyph // 2))
        for sector in self.venue.sectors:
            box = self._best_place(
                sector.id, self.brush.text(sector.name, SMALL_PX, "text", bold=True).get_size(), taken
            )
            self.labels[sector.id] = box
            taken.draw(pygame.Mask(box.size, fill=True), box.topleft)
        self.write_names(self.surface)

    def write_names(self, on: pygame.Surface, corner: tuple[int, int] = (0, 0)) -> None:
        """Write the sectors' names; `corner` is the map's pixel at the top left of `on`."""
        for sector in self.venue.sectors:
            box = self.labels[sector.id].move(-corner[0], -corner[1])
            self.brush.write(on, sector.name, box.midleft, bold=True)

    def _best_place(self, sector: str, size: tuple[int, int], taken: pygame.Mask) -> pygame.Rect:
        label = pygame.Mask((size[0] + 6, size[1]), fill=True)
        best: tuple[float, pygame.Rect] | None = None
        left, right = self.sectors[sector]
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
            index = int(share * (len(left) - 1))
            for edge, facing in ((left, right), (right, left)):
                out = pygame.Vector2(edge[index]) - pygame.Vector2(facing[index])
                out.scale_to_length(1)
                for far in (4, 12, 28):
                    reach = far + abs(out.x) * size[0] / 2 + abs(out.y) * size[1] / 2
                    box = pygame.Rect((0, 0), size)
                    box.center = round(edge[index][0] + out.x * reach), round(edge[index][1] + out.y * reach)
                    box.clamp_ip(pygame.Rect((0, 0), self.size))
                    cost = taken.overlap_area(label, (box.x - 3, box.y)) + far + abs(share - 0.5) * 20
                    if best is None or cost < best[0]:
                        best = (cost, box)
        return best[1] if best else pygame.Rect((0, 0), size)

    def _signs_apart(self) -> dict[str, pygame.Rect]:
        """Give each head the place of its ≠, where it covers least of names, other heads and road."""
        side = self.brush.px(18)
        away = (self.head_px + side) // 2 + self.brush.px(5)
        boxes = {
            head: pygame.Rect(0, 0, self.head_px, self.head_px).move_to(center=spot)
            for head, spot in self.heads.items()
        }
        solid = [*self.labels.values(), *boxes.values()]
        whole = pygame.Rect((0, 0), self.size)
        found: dict[str, pygame.Rect] = {}
        for head, box in boxes.items():
            places = [
                pygame.Rect(0, 0, side, side).move_to(center=(box.centerx + x * away, box.centery + y * away))
                for x, y in ((1, 0), (-1, 0), (0, -1), (0, 1))
            ]
            found[head] = min(places, key=lambda place: _hidden(place, solid, whole))
            solid.append(found[head])
        return found

    def sector_at(self, spot: tuple[int, int]) -> str | None:
        """Give the sector whose road or name lies under a pixel; the track before the pit lane."""
        for sector, box in self.labels.items():
            if box.collidepoint(spot):
                return sector
        for sector in (*(each for each in self.sectors if each != PIT), PIT):
            left, right = self.sectors[sector]
            if _inside(spot, left + right[::-1]):
                return sector
        return None


def _hidden(place: pygame.Rect, solid: list[pygame.Rect], whole: pygame.Rect) -> int:
    """Give how many pixels a place shares with others, or lacks at the map's edge."""
    shared = (place.clip(other) for other in solid)
    inside = place.clip(whole)
    lacking = place.width * place.height - inside.width * inside.height
    return lacking + sum(each.width * each.height for each in shared)


def _between(value: float, least: int, most: int) -> int:
    return round(min(max(value, least), most))


def _inside(spot: Spot, polygon: list[Spot]) -> bool:
    """Whether a point lies in a polygon (a ray to the right crosses its edges an odd number of times)."""
    x, y = spot
    crossings = 0
    for (x1, y1), (x2, y2) in zip(polygon, polygon[1:] + polygon[:1], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            crossings += 1
    return crossings % 2 == 1
