"""How a kart is drawn: seen from above, its number's plate in the middle, the ring that tells its limit."""

from __future__ import annotations

from functools import lru_cache

import pygame

from signals.picture import Level
from sim.view.paint import Brush

FINER = 4
TURN_DEG = 5
ARC_DEG = 110
WHEELS = ((1.35, 1.2), (1.35, -1.2), (-1.35, 1.25), (-1.35, -1.25))
"""Middles of the wheels, forward and left, in radii of the plate."""
BODY = ((1.3, 0.95), (1.3, -0.95), (-1.75, -0.9), (-1.75, 0.9))
NOSE = ((2.3, 0.0), (1.75, -0.75), (1.0, -1.1), (1.0, 1.1), (1.75, 0.75))


class KartBody:
    """Karts of one size; surfaces are kept."""

    def __init__(self, brush: Brush, radius_px: int) -> None:
        self.brush = brush
        self.radius_px = radius_px
        self.of = lru_cache(640)(self._of)
        self.ring = lru_cache(len(Level))(self._ring_alone)

    def turned(self, level: Level, heading_deg: float, *, stale: bool, chosen: bool) -> pygame.Surface:
        """Give a kart as it stands, without its number."""
        step = round(heading_deg / TURN_DEG) * TURN_DEG % 360
        return self.of(level, step, stale=stale, chosen=chosen)

    def _of(self, level: Level, heading_deg: int, *, stale: bool, chosen: bool) -> pygame.Surface:
        radius = self.radius_px * FINER
        half = round(radius * 2.4)
        fine = pygame.Surface((half * 2, half * 2), pygame.SRCALPHA)
        middle = pygame.Vector2(half, half)
        if chosen:
            pygame.draw.circle(
                fine, self.brush.colour("text"), middle, radius * 1.9, FINER * self.brush.px(2)
            )
        way = pygame.Vector2(1, 0).rotate(-heading_deg)
        if level is Level.WAITING:
            self._parked(fine, way, middle, radius)
        else:
            self._chassis(fine, way, middle, radius, "muted" if stale else "number")
        pygame.draw.circle(
            fine, self.brush.colour("plate"), middle, radius * (1.3 if level is Level.WAITING else 1.42)
        )
        self._ring(fine, level, middle, radius)
        return pygame.transform.smoothscale(fine, (half * 2 // FINER, half * 2 // FINER))

    def _ring_alone(self, level: Level) -> pygame.Surface:
        """Give a plate with its ring alone, as a key to read the map by."""
        radius = self.radius_px * FINER
        half = round(radius * 1.5)
        fine = pygame.Surface((half * 2, half * 2), pygame.SRCALPHA)
        pygame.draw.circle(fine, self.brush.colour("plate"), (half, half), radius * 1.42)
        self._ring(fine, level, pygame.Vector2(half, half), radius)
        return pygame.transform.smoothscale(fine, (half * 2 // FINER, half * 2 // FINER))

    def _parked(self, on: pygame.Surface, way: pygame.Vector2, middle: pygame.Vector2, radius: float) -> None:
        """Draw a kart in its box small: only which way it looks."""
        nose = [middle + way * radius * 1.75]
        nose += [middle + way.rotate(turn) * radius * 1.2 for turn in (40, -40)]
        pygame.draw.polygon(on, self.brush.colour("muted"), nose)

    def _chassis(
        self, on: pygame.Surface, way: pygame.Vector2, middle: pygame.Vector2, radius: float, colour: str
    ) -> None:
        """Draw wheels and body, with a dark edge so that they stand out on any road."""
        left = way.rotate(-90)

        def spot(forward: float, aside: float) -> pygame.Vector2:
            return middle + way * forward * radius + left * aside * radius

        for forward, aside in WHEELS:
            ends = spot(forward - 0.34, aside), spot(forward + 0.34, aside)
            pygame.draw.line(on, self.brush.colour("ground"), *ends, round(radius * 0.5))
        for corners, filled in ((BODY, "muted"), (NOSE, colour)):
            points = [spot(*corner) for corner in corners]
            pygame.draw.polygon(on, self.brush.colour(filled), points)
            pygame.draw.polygon(on, self.brush.colour("ground"), points, FINER)

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
