"""Rain over the map: strokes that fall, a road that shines. Quiet: signals and karts lie above it."""

from __future__ import annotations

import pygame

from sim.view.ground import STEP_M, MapGround
from sim.view.paint import Brush

STROKES = 170
LONG_PX, SLANT, FALLS_PX_S = 16, 0.28, 150.0
RAIN_ALPHA, SHEEN_ALPHA = 150, 80
GOLDEN = 0.618034
"""Spreads strokes and glints evenly without drawing lots: each is that share of the whole further on."""
ASIDE = 0.86
"""How far from edge to edge pools lie, as a share of the road's width."""
POOL_PX = 9
"""How wide a pool is at most."""


class Rain:
    """Draws it at one size of the map."""

    def __init__(self, brush: Brush) -> None:
        self.brush = brush
        length = brush.px(LONG_PX)
        self._stroke = pygame.Surface((round(length * SLANT) + 2, length), pygame.SRCALPHA)
        ends = (self._stroke.get_width() - 1, 0), (0, length - 1)
        pygame.draw.line(self._stroke, (*brush.colour("muted"), RAIN_ALPHA), *ends, brush.px(1))

    def shine(self, on: pygame.Surface, ground: MapGround) -> None:
        """Lay small pools that catch the light along the road, onto the map's own layer."""
        sheen = pygame.Surface(on.get_size(), pygame.SRCALPHA)
        colour = (*self.brush.colour("muted"), SHEEN_ALPHA)
        apart = max(1, round(self.brush.px(POOL_PX) / (STEP_M * ground.frame.scale)))
        for left, right in ground.sectors.values():
            for index, (one, other) in enumerate(zip(left[::apart], right[::apart], strict=True)):
                share = 0.5 + ASIDE * (index * GOLDEN % 1 - 0.5)
                wide = self.brush.px(POOL_PX) * (0.4 + 0.6 * (index * GOLDEN * 3 % 1))
                pool = pygame.Rect(0, 0, round(wide), max(2, round(wide / 3)))
                pool.center = pygame.Vector2(one).lerp(pygame.Vector2(other), share)
                pygame.draw.ellipse(sheen, colour, pool)
        on.blit(sheen, (0, 0))

    def fall(self, on: pygame.Surface, phase_s: float) -> None:
        """Draw the strokes that fall; with `phase_s` still they hang."""
        width, height = on.get_size()
        fallen = phase_s * self.brush.px(1) * FALLS_PX_S
        for index in range(STROKES):
            y = (index * height / STROKES * 7 + fallen * (0.8 + 0.4 * (index * GOLDEN % 1))) % height
            x = (index * GOLDEN * width - SLANT * y) % width
            on.blit(self._stroke, (round(x), round(y)))
