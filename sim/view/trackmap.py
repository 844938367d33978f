"""The live map: conditions of sectors, heads as they show, karts with what limits them, what is amiss."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import pygame

from signals import look
from signals.look import FLASHING, IDLE, OF_ASPECT, SMALL_PX, Dress, Mark
from signals.mqtt.contract import WorldKart
from signals.venue.model import Venue
from signals.words import PIT, Aspect
from sim.view.desk import WORLD_STALE_S, Desk, Level
from sim.view.ground import MapGround
from sim.view.hands import Hands
from sim.view.paint import Brush

SMOOTH_S = 0.05
"""Karts are shown so long ago, between two reports: they move smoothly."""
ROAD_STRENGTH = 190
"""Of 255: hatching on the road stays behind the karts."""
ARC_DEG = 110
CARRIED_M = 5.0
"""A kart that moved so far between two reports was carried: it is not shown in between."""
TURN_DEG = 5
FINER = 4
SIGNS = {
    "spin": "spin",
    "stall": "stalled",
    "smoke": "smoke",
    "hand-raised": "hand up",
    "wrong-way": "wrong way",
    "kart-pushed": "pushed",
    "kart-enters": "entering",
    "kart-button": "button",
    "debris": "debris",
}


class TrackMap:
    """Draws the map of one size."""

    def __init__(self, venue: Venue, area: pygame.Rect, brush: Brush) -> None:
        self.area = area
        self.brush = brush
        self.ground = MapGround(venue, area, brush)
        self._flash = (venue.choices.flash_period_ms, venue.choices.flash_lit_ms)
        self._layer = self.ground.surface
        self._dressed: tuple[object, ...] = ()
        self.body = lru_cache(640)(self._body)

    def draw(
        self, on: pygame.Surface, desk: Desk, hands: Hands, now_s: float
    ) -> list[tuple[pygame.Rect, str]]:
        """Draw all; gives the places of heads and karts for the pointer."""
        self._dress(desk, hands)
        on.blit(self._layer, self.area)
        window = on.subsurface(self.area)
        touched = self._heads(window, desk, hands, now_s)
        touched += self._karts(window, desk, hands, now_s)
        self._amiss(window, desk)
        return [(box.move(self.area.topleft), target) for box, target in touched]

    def _dress(self, desk: Desk, hands: Hands) -> None:
        """Lay the sectors' conditions over the ground; kept until one changes."""
        dresses = desk.dresses()
        key = (tuple(dresses.items()), hands.sector)
        if key == self._dressed:
            return
        self._dressed = key
        self._layer = self.ground.surface.copy()
        # The pit lane first: the track lies over its two ends.
        for sector in sorted(self.ground.sectors, key=lambda each: each != PIT):
            self._sector(sector, dresses.get(sector, IDLE))
        self.ground.lines(self._layer)
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
        for head, spot in self.ground.heads.items():
            mark, number, flashing = self._mark(desk, head, now_s)
            box = pygame.Rect(0, 0, size, size)
            box.center = spot
            pygame.draw.circle(on, self.brush.colour("ground"), spot, size * 0.62)
            lit = hands.steady or not flashing or look.lit(now_ms, *self._flash)
            self._glyph(on, mark, number, box, hatched=flashing and hands.steady, lit=lit)
            if desk.differs(head, now_s):
                self._not_as_due(on, box)
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

    def _not_as_due(self, on: pygame.Surface, box: pygame.Rect) -> None:
        """Mark a head that shows something else than is due: a frame and ≠."""
        frame = box.inflate(self.brush.px(8), self.brush.px(8))
        pygame.draw.rect(on, self.brush.colour("text"), frame, self.brush.px(2))
        self.brush.write(on, "≠", (frame.right + self.brush.px(3), frame.centery), look.BODY_PX, bold=True)

    def _karts(
        self, on: pygame.Surface, desk: Desk, hands: Hands, now_s: float
    ) -> list[tuple[pygame.Rect, str]]:
        touched = []
        for kart, x_m, y_m, heading_deg in between(desk, now_s):
            x, y = self.ground.frame.spot(x_m, y_m)
            step = round(heading_deg / TURN_DEG) * TURN_DEG % 360
            stale = now_s - desk.worlds[-1][0] > WORLD_STALE_S
            body = self.body(desk.level(kart.number), step, stale=stale, chosen=kart.number == hands.kart)
            box = body.get_rect(center=(round(x), round(y)))
            on.blit(body, box)
            colour = "muted" if stale else "number"
            self.brush.write(on, str(kart.number), box.center, SMALL_PX, colour, bold=True, align="centre")
            touched.append((box, f"kart:{kart.number}"))
        return touched

    def _body(self, level: Level, heading_deg: int, *, stale: bool, chosen: bool) -> pygame.Surface:
        """Draw a kart without its number: plate, nose, and the ring that tells its limit."""
        radius = self.ground.kart_px * FINER
        half = radius + self.brush.px(9) * FINER
        fine = pygame.Surface((half * 2, half * 2), pygame.SRCALPHA)
        middle = pygame.Vector2(half, half)
        if chosen:
            pygame.draw.circle(
                fine, self.brush.colour("text"), middle, radius * 1.66, FINER * self.brush.px(2)
            )
        pygame.draw.circle(
            fine, self.brush.colour("plate"), middle, radius * (1.3 if level is Level.WAITING else 1.5)
        )
        way = pygame.Vector2(1, 0).rotate(-heading_deg)
        nose = [middle + way * radius * 1.8]
        nose += [middle + way.rotate(turn) * radius * 1.2 for turn in (40, -40)]
        pygame.draw.polygon(fine, self.brush.colour("muted" if stale else "number"), nose)
        pygame.draw.circle(fine, self.brush.colour("plate"), middle, radius * 1.12)
        self._ring(fine, level, middle, radius)
        return pygame.transform.smoothscale(fine, (half * 2 // FINER, half * 2 // FINER))

    def _ring(self, on: pygame.Surface, level: Level, middle: pygame.Vector2, radius: int) -> None:
        """Full: a thin ring. Caution: two thick arcs. Creep: dots. Stopped: a thick ring, dim in the pit."""
        width = max(1, round(radius * 0.28))
        outer = round(radius * 1.3)
        if level is Level.FULL:
            pygame.draw.circle(on, self.brush.colour("number"), middle, outer, max(1, width // 2))
        elif level in (Level.STOPPED, Level.WAITING):
            colour = "red" if level is Level.STOPPED else "hairline"
            pygame.draw.circle(on, self.brush.colour(colour), middle, outer, width)
        else:
            dots = 12 if level is Level.CREEP else 120
            for dot in range(dots):
                turn = 360 * dot / dots
                if level is Level.CREEP or turn % 180 < ARC_DEG:
                    spot = middle + pygame.Vector2(outer - width / 2, 0).rotate(turn + 35)
                    pygame.draw.circle(on, self.brush.colour("yellow"), spot, width / 2)

    def _amiss(self, on: pygame.Surface, desk: Desk) -> None:
        """Name what befell karts and what lies on the track, each at its place."""
        if not desk.worlds:
            return
        view = desk.worlds[-1][1]
        places = {kart.number: (kart.x_m, kart.y_m) for kart in view.karts}
        for sign in view.incidents:
            place = places.get(sign.get("kart", 0)) or (sign.get("x_m"), sign.get("y_m"))
            if place[0] is None or place[1] is None:
                continue
            x, y = self.ground.frame.spot(place[0], place[1])
            aside = "kart" in sign
            self._sign(on, SIGNS.get(sign["event"], str(sign["event"])), (round(x), round(y)), aside=aside)

    def _sign(self, on: pygame.Surface, text: str, spot: tuple[int, int], *, aside: bool) -> None:
        written = self.brush.text(text, SMALL_PX, "ground", bold=True)
        box = written.get_rect().inflate(self.brush.px(8), 0)
        box.center = spot
        if aside:
            box.bottom = spot[1] - self.ground.kart_px + self.brush.px(8)
        box.clamp_ip(on.get_rect())
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
