"""The live map: conditions of sectors, heads as they show, karts with what limits them, what is amiss."""

from __future__ import annotations

import math
from itertools import pairwise

import pygame

from signals import look
from signals.look import FLASHING, IDLE, OF_ASPECT, SMALL_PX, Dress, Mark
from signals.mqtt.contract import WorldKart
from signals.venue.model import Venue
from signals.words import PIT, Aspect
from sim.view.desk import Desk, age
from sim.view.ground import MapGround
from sim.view.hands import Hands
from sim.view.kartbody import KartBody
from sim.view.paint import Brush
from sim.view.sights import Placed, Sights
from sim.view.trails import CARRIED_M, Trails
from sim.view.weather import Rain

SMOOTH_S = 0.08
"""Karts are shown so long ago, between two reports: they move smoothly."""
ROAD_STRENGTH = 190
"""Of 255: hatching on the road stays behind the karts."""

Touch = tuple[pygame.Rect, str]


class TrackMap:
    """Draws the map of one size, whole or enlarged."""

    def __init__(self, venue: Venue, area: pygame.Rect, brush: Brush) -> None:
        self.area = area
        self.brush = brush
        self._venue = venue
        self._flash = (venue.choices.flash_period_ms, venue.choices.flash_lit_ms)
        self._grounds: dict[float, MapGround] = {}
        self._trails = Trails()
        self._rain = Rain(brush)
        self.corner = (0, 0)
        """The pixel of the enlarged map at the window's top left."""
        self._enlarge(1.0)

    def _enlarge(self, zoom: float) -> None:
        """Show the ground of another size; each is made once."""
        if zoom not in self._grounds:
            size = pygame.Rect(0, 0, round(self.area.width * zoom), round(self.area.height * zoom))
            self._grounds[zoom] = MapGround(self._venue, size, self.brush)
        self.ground = self._grounds[zoom]
        self._zoom = zoom
        self._layer = self.ground.surface
        self._dressed: tuple[object, ...] = ()
        self.body = KartBody(self.brush, self.ground.kart_px)
        self.sights = Sights(self.brush, self.ground.frame.scale, self.ground.kart_px)

    def spot(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Give the pixel of a place in metres, in what is seen of the map."""
        x, y = self.ground.frame.spot(x_m, y_m)
        return x - self.corner[0], y - self.corner[1]

    def sector_at(self, local: tuple[int, int]) -> str | None:
        """Give the sector at a pixel of what is seen of the map."""
        return self.ground.sector_at((local[0] + self.corner[0], local[1] + self.corner[1]))

    def draw(self, on: pygame.Surface, desk: Desk, hands: Hands, now_s: float) -> list[Touch]:
        """Draw all; gives the places of heads, karts and people for the pointer."""
        lens = hands.lens
        karts = between(desk, now_s)
        if lens.zoom != self._zoom:
            self._enlarge(lens.zoom)
        self._follow(hands, karts)
        self.corner = lens.corner(self.area.size)
        self._dress(desk, hands)
        on.blit(self._layer, self.area, pygame.Rect(self.corner, self.area.size))
        window = on.subsurface(self.area)
        placed: Placed = {
            kart.number: (self.spot(x_m, y_m), heading_deg) for kart, x_m, y_m, heading_deg in karts
        }
        phase_s = 0.0 if lens.steady else now_s
        touched = self._ground_sights(window, desk, phase_s)
        touched += self._heads(window, desk, hands, now_s)
        touched += self._karts(window, desk, hands, placed, now_s)
        touched += self._amiss(window, desk, hands, placed, phase_s)
        if desk.world_age_s(now_s):
            self._old(window, f"Karts as they were {age(desk.world_age_s(now_s))} ago")
        whole = window.get_rect()
        return [(box.move(self.area.topleft), target) for box, target in touched if whole.colliderect(box)]

    def _follow(self, hands: Hands, karts: list[tuple[WorldKart, float, float, float]]) -> None:
        """Keep the chosen kart in the middle, where it is to be followed."""
        if not hands.lens.follow:
            return
        for kart, x_m, y_m, _ in karts:
            if kart.number == hands.kart:
                x, y = self.ground.frame.spot(x_m, y_m)
                hands.lens.look_at((x / self.ground.size[0], y / self.ground.size[1]))

    def _ground_sights(self, on: pygame.Surface, desk: Desk, phase_s: float) -> list[Touch]:
        """Draw what karts left on the road, what lies there, and rain."""
        if not desk.worlds:
            return []
        at_s, view = desk.worlds[-1]
        self._trails.look(at_s, view)
        brush = self.brush
        quiet, dark = (pygame.Color(*brush.colour(name)) for name in ("hairline", "ground"))
        self._trails.draw(on, self.spot, quiet, dark, brush.px(2))
        if self._trails.marks:
            self.ground.write_names(on, self.corner)
        self.sights.below(on, view, self.spot)
        if view.wet:
            self._rain.fall(on, phase_s)
        return []

    def _dress(self, desk: Desk, hands: Hands) -> None:
        """Lay the sectors' conditions over the ground; kept until one changes."""
        dresses = desk.dresses()
        wet = bool(desk.worlds) and desk.worlds[-1][1].wet
        key = (tuple(dresses.items()), hands.sector, wet)
        if key == self._dressed:
            return
        self._dressed = key
        self._layer = self.ground.surface.copy()
        # The pit lane first: the track lies over its two ends.
        for sector in sorted(self.ground.sectors, key=lambda each: each != PIT):
            self._sector(sector, dresses.get(sector, IDLE))
        if wet:
            self._rain.shine(self._layer, self.ground)
        self.ground.lines(self._layer)
        self.ground.write_names(self._layer)  # where a small map had no room beside the road
        self._choice(hands.sector)

    def _sector(self, sector: str, dress: Dress) -> None:
        left, right = self.ground.sectors[sector]
        outline = left + right[::-1]
        pygame.draw.polygon(self._layer, self.brush.colour("track"), outline)
        if dress.hatch is not None:
            stencil = pygame.Surface(self.ground.size, pygame.SRCALPHA)
            pygame.draw.polygon(stencil, (255, 255, 255, 255), outline)
            stencil.blit(
                self.brush.hatch(dress.colour, dress.hatch, self.ground.size, ROAD_STRENGTH),
                (0, 0),
                special_flags=pygame.BLEND_RGBA_MULT,
            )
            self._layer.blit(stencil, (0, 0))
        for edge in (left, right):
            pygame.draw.lines(self._layer, self.brush.colour(dress.colour), False, edge, self.brush.px(3))

    def _choice(self, sector: str) -> None:
        """Underline the chosen sector's name, and give its road's ends a bar each."""
        box = self.ground.labels.get(sector)
        if box is not None:
            frame = box.inflate(self.brush.px(8), self.brush.px(2))
            pygame.draw.rect(
                self._layer,
                self.brush.colour("text"),
                frame,
                self.brush.px(2),
                border_radius=self.brush.px(4),
            )
        left, right = self.ground.sectors[sector]
        for end in (0, -1):
            pygame.draw.line(self._layer, self.brush.colour("text"), left[end], right[end], self.brush.px(2))

    def _heads(
        self, on: pygame.Surface, desk: Desk, hands: Hands, now_s: float
    ) -> list[tuple[pygame.Rect, str]]:
        touched = []
        size = self.ground.head_px
        now_ms = round(now_s * 1000)
        dx, dy = self.corner
        for head, (x, y) in self.ground.heads.items():
            mark, number, flashing = self._mark(desk, head, now_s)
            box = pygame.Rect(0, 0, size, size)
            spot = box.center = (x - dx, y - dy)
            pygame.draw.circle(on, self.brush.colour("ground"), spot, size * 0.62)
            lit = hands.lens.steady or not flashing or look.lit(now_ms, *self._flash)
            self._glyph(on, mark, number, box, hatched=flashing and hands.lens.steady, lit=lit)
            if desk.differs(head, now_s):
                self._not_as_due(on, box, self.ground.unlike[head].move(-dx, -dy))
            touched.append((box, f"head:{head}"))
        return touched

    def _mark(self, desk: Desk, head: str, now_s: float) -> tuple[Mark, int | None, bool]:
        """Give what a head shows: never what it should show."""
        view = desk.state.heads.get(head) if desk.state else None
        if view is not None and view.health == "lost":
            return Mark.FAULT, None, False
        aspect = desk.shows(head, now_s)
        if aspect is None:
            return Mark.UNKNOWN, None, False
        numbered = view is not None and aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH)
        return OF_ASPECT[aspect], view.number if view and numbered else None, aspect in FLASHING

    def _glyph(
        self,
        on: pygame.Surface,
        mark: Mark,
        number: int | None,
        box: pygame.Rect,
        *,
        hatched: bool,
        lit: bool,
    ) -> None:
        """Draw what a head shows; between flashes its shape stays, dim."""
        on.blit(self.brush.glyph(mark, box.width, number, hatched=hatched, dim=not lit), box)
        if mark is Mark.MOVE_OVER and number is not None:
            self.brush.write(on, str(number), (box.right + self.brush.px(2), box.centery), bold=True)

    def _not_as_due(self, on: pygame.Surface, box: pygame.Rect, sign: pygame.Rect) -> None:
        """Mark a head that shows something else than is due: a frame and ≠, where it covers nothing."""
        frame = box.inflate(self.brush.px(8), self.brush.px(8))
        pygame.draw.rect(on, self.brush.colour("text"), frame, self.brush.px(2))
        self.brush.write(on, "≠", sign.center, look.BODY_PX, bold=True, align="centre")

    def _karts(
        self, on: pygame.Surface, desk: Desk, hands: Hands, placed: Placed, now_s: float
    ) -> list[Touch]:
        touched = []
        stale = desk.world_age_s(now_s) > 0
        chosen_last = sorted(placed.items(), key=lambda each: each[0] == hands.kart)
        for number, ((x, y), heading_deg) in chosen_last:
            level, chosen = desk.picture.level(number), number == hands.kart
            old = stale or desk.silent_s(number, now_s) is not None
            body = self.body.turned(level, heading_deg, stale=old, chosen=chosen)
            on.blit(body, body.get_rect(center=(round(x), round(y))))
            plate = pygame.Rect(0, 0, 3 * self.ground.kart_px, 3 * self.ground.kart_px)
            plate.center = round(x), round(y)
            colour = "muted" if old else "number"
            self.brush.write(on, str(number), plate.center, SMALL_PX, colour, bold=True, align="centre")
            if hands.lens.names and (driver := desk.picture.driver(number)):
                self._name(on, driver, plate)
            touched.append((plate, f"kart:{number}"))
        return touched

    def _name(self, on: pygame.Surface, driver: str, plate: pygame.Rect) -> None:
        """Write a driver's first name below his kart, whichever way it stands."""
        at = plate.centerx, plate.centery + round(2.4 * self.ground.kart_px) + self.brush.px(8)
        self.brush.write(on, driver.partition(" ")[0], at, SMALL_PX, "text", align="centre")

    def _amiss(
        self, on: pygame.Surface, desk: Desk, hands: Hands, placed: Placed, phase_s: float
    ) -> list[Touch]:
        """Draw what befell karts, what lies on the track, who walks there."""
        if not desk.worlds:
            return []
        view = desk.worlds[-1][1]
        self.sights.above(on, view, self.spot, placed, phase_s)
        touched = self.sights.people(on, view, self.spot)
        if hands.lens.signs:
            self.sights.signs(on, view, self.spot, placed)
            if view.wet:
                self._plate(on, "rain: the road is wet", on.get_rect().topleft)
        return touched

    def _old(self, on: pygame.Surface, text: str) -> None:
        """Say that the places are old."""
        written = self.brush.text(text, SMALL_PX, "ground", bold=True)
        self._plate(on, text, ((on.get_width() - written.get_width()) // 2 - self.brush.px(8), 0))

    def _plate(self, on: pygame.Surface, text: str, at: tuple[int, int]) -> None:
        """Write on a bright plate at the map's upper edge."""
        written = self.brush.text(text, SMALL_PX, "ground", bold=True)
        box = written.get_rect().inflate(self.brush.px(16), 4)
        box.topleft = at[0] + self.brush.px(4), at[1] + self.brush.px(4)
        pygame.draw.rect(on, self.brush.colour("text"), box, border_radius=self.brush.px(4))
        on.blit(written, written.get_rect(center=box.center))


def between(desk: Desk, now_s: float) -> list[tuple[WorldKart, float, float, float]]:
    """Give every kart with its place a moment ago, between two reports of the world."""
    if not desk.worlds:
        return []
    then_s = now_s - SMOOTH_S
    reports = list(desk.worlds)
    (from_s, old), (to_s, new) = reports[0], reports[-1]
    for before, after in pairwise(reports):
        if before[0] <= then_s <= after[0]:
            (from_s, old), (to_s, new) = before, after
    share = 1.0 if to_s <= from_s else min(1.0, max(0.0, (then_s - from_s) / (to_s - from_s)))
    past = {kart.number: kart for kart in old.karts}
    placed = []
    for kart in new.karts:
        was = past.get(kart.number, kart)
        if math.hypot(kart.x_m - was.x_m, kart.y_m - was.y_m) > CARRIED_M:
            was = kart
        turn = (kart.heading_deg - was.heading_deg + 180) % 360 - 180
        x_m = was.x_m + share * (kart.x_m - was.x_m)
        y_m = was.y_m + share * (kart.y_m - was.y_m)
        placed.append((kart, x_m, y_m, was.heading_deg + share * turn))
    return placed
