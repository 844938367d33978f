"""Brushes: type, glyphs, hatching and boxes, drawn smooth once and kept."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import Literal

import pygame
from font_source_sans_pro import SourceSansPro, SourceSansProSemibold

from signals import look
from signals.look import DARK, GLYPHS, Glyph, Hatch, Mark, Theme, rgb

Colour = tuple[int, int, int]
Align = Literal["left", "centre", "right"]
FINER = 4
"""Shapes are drawn so many times larger and scaled down: smooth edges."""
KEPT = 1500
UNLIT = 80
"""Opacity, of 255, of a flashing lamp between its flashes."""


class Brush:
    """Everything drawn at one scale; surfaces are kept, so a frame is mostly copying."""

    def __init__(self, scale: float = 1.0, theme: Theme = DARK) -> None:
        pygame.font.init()
        self.scale = scale
        self.theme = theme
        self._fonts: dict[tuple[int, bool], pygame.font.Font] = {}
        self.text = lru_cache(KEPT)(self._text)
        self.glyph = lru_cache(KEPT)(self._glyph)
        self.hatch = lru_cache(64)(self._hatch)
        self.wrap = lru_cache(256)(self._wrap)

    def px(self, at_scale_1: float) -> int:
        """Give pixels of a length given at scale 1."""
        return round(at_scale_1 * self.scale)

    def colour(self, name: str) -> Colour:
        """Give a colour of the theme by its name."""
        return rgb(getattr(self.theme, name))

    def font(self, size: int, *, bold: bool = False) -> pygame.font.Font:
        """Give the sans at a size of the type scale."""
        pixels = self.px(size)
        if (pixels, bold) not in self._fonts:
            file = SourceSansProSemibold if bold else SourceSansPro
            self._fonts[(pixels, bold)] = pygame.font.Font(file, pixels)
        return self._fonts[(pixels, bold)]

    def width(self, text: str, size: int, *, bold: bool = False) -> int:
        """Give a line's width in pixels."""
        return self.font(size, bold=bold).size(text)[0]

    def _text(self, text: str, size: int, colour: str, *, bold: bool) -> pygame.Surface:
        return self.font(size, bold=bold).render(text, True, self.colour(colour))

    def write(
        self,
        on: pygame.Surface,
        text: str,
        at: tuple[int, int],
        size: int = look.SMALL_PX,
        colour: str = "text",
        *,
        bold: bool = False,
        align: Align = "left",
        width: int | None = None,
    ) -> pygame.Rect:
        """Write one line with its middle at `at[1]`; cut with an ellipsis where wider than `width`."""
        if width is not None:
            text = self.fit(text, size, width, bold=bold)
        surface = self.text(text, size, colour, bold=bold)
        box = surface.get_rect(midleft=at)
        if align == "centre":
            box.centerx = at[0]
        elif align == "right":
            box.right = at[0]
        on.blit(surface, box)
        return box

    def fit(self, text: str, size: int, width: int, *, bold: bool = False) -> str:
        """Cut a line to a width, with an ellipsis."""
        if self.width(text, size, bold=bold) <= width:
            return text
        while text and self.width(text + "…", size, bold=bold) > width:
            text = text[:-1]
        return text.rstrip() + "…"

    def _wrap(self, text: str, size: int, width: int, *, bold: bool = False) -> tuple[str, ...]:
        lines: list[str] = []
        line = ""
        for word in text.split():
            longer = f"{line} {word}".strip()
            if line and self.width(longer, size, bold=bold) > width:
                lines.append(line)
                line = word
            else:
                line = longer
        return (*lines, line) if line else tuple(lines)

    def box(
        self,
        on: pygame.Surface,
        area: pygame.Rect,
        fill: str | None = "surface",
        edge: str | None = None,
        width: int = 1,
    ) -> None:
        """Draw a box with barely rounded corners."""
        radius = self.px(4)
        if fill is not None:
            pygame.draw.rect(on, self.colour(fill), area, border_radius=radius)
        if edge is not None:
            pygame.draw.rect(on, self.colour(edge), area, width=self.px(width), border_radius=radius)

    def _glyph(
        self, mark: Mark, size: int, number: int | None = None, *, hatched: bool = False, dim: bool = False
    ) -> pygame.Surface:
        """Draw a glyph `size` pixels wide; `hatched`: flashing, shown steady; `dim`: unlit."""
        shape = GLYPHS[mark]
        fine = pygame.Surface((size * FINER, size * FINER), pygame.SRCALPHA)
        half = size * FINER / 2
        self._parts(fine, shape, half)
        if hatched:
            self._stripe(fine, size)
        surface = pygame.transform.smoothscale(fine, (size, size))
        letter = shape.letter if shape.letter != "#" else ("" if number is None else str(number))
        if letter:
            self._letter(surface, shape, letter, size)
        if dim:
            surface.set_alpha(UNLIT)
        return surface

    def _parts(self, fine: pygame.Surface, shape: Glyph, half: float) -> None:
        inner = half * 0.96

        def spot(point: tuple[float, float]) -> tuple[float, float]:
            return half + point[0] * inner, half + point[1] * inner

        for points, colour in shape.parts:
            pygame.draw.polygon(fine, self.colour(colour), [spot(point) for point in points])
        width = max(FINER, round(half / 5))
        for points, colour in shape.lines:
            spots = [spot(point) for point in points]
            for start, end in pairwise(spots):
                pygame.draw.line(fine, self.colour(colour), start, end, width)
            for joint in spots:
                pygame.draw.circle(fine, self.colour(colour), joint, width / 2)

    def _stripe(self, fine: pygame.Surface, size: int) -> None:
        """Cut slanted stripes out of a shape."""
        wide = size * FINER
        pitch = wide // 4
        for left in range(-wide, wide * 2, pitch):
            pygame.draw.line(fine, (0, 0, 0, 0), (left, wide), (left + wide, 0), max(1, pitch // 4))

    def _letter(self, surface: pygame.Surface, shape: Glyph, letter: str, size: int) -> None:
        pixels = max(8, round(size / 2 * shape.letter_size / (1.2 if letter[1:] else 1)))
        key = (-pixels, True)
        if key not in self._fonts:
            self._fonts[key] = pygame.font.Font(SourceSansProSemibold, pixels)
        written = self._fonts[key].render(letter, True, self.colour(shape.letter_colour))
        ink = written.get_bounding_rect()
        middle = (size / 2, size / 2 * (1 + shape.letter_y))
        surface.blit(written, (middle[0] - ink.centerx, middle[1] - ink.centery))

    def _hatch(
        self, colour: str, hatch: Hatch | None, size: tuple[int, int], strength: int = 255
    ) -> pygame.Surface:
        """Draw a hatched field: the colour's lines on a dimmer ground of the same colour."""
        field = pygame.Surface(size, pygame.SRCALPHA)
        red, green, blue = self.colour(colour)
        field.fill((red, green, blue, strength * 2 // 5 if hatch else strength // 3))
        if hatch is not None:
            pitch, width = self.px(hatch.pitch_px), self.px(hatch.width_px)
            reach = max(size)
            for across, along in hatch.runs:
                for start in range(-reach, reach * 2, pitch):
                    begin = (start, 0)
                    end = (start + across * reach, reach) if along > 0 else (start - across * reach, reach)
                    pygame.draw.line(field, (red, green, blue, strength), begin, end, width)
        return field
