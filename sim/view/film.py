"""A short film of the window, as a GIF: its last seconds, for the documentation and for a look back."""

from __future__ import annotations

import math
from collections import deque
from pathlib import Path

import pygame
from PIL import Image

from signals.look import DARK, Theme, rgb

FRAMES_PER_S = 8
LASTS_S = 16.0
SHADES = 5
"""Blends kept between each two colours of the palette: edges stay smooth."""
COLOURS = 256
GROUNDS = ("ground", "surface", "track")


def palette(theme: Theme = DARK) -> Image.Image:
    """Give an image that holds the colours a window is made of: the look's own, and blends on its grounds."""
    names = ("text", "muted", "hairline", "red", "yellow", "green", "blue", "plate", *GROUNDS)
    found = {rgb(getattr(theme, name)): None for name in names}
    for ground in GROUNDS:
        under = rgb(getattr(theme, ground))
        for name in names:
            over = rgb(getattr(theme, name))
            for shade in range(1, SHADES):
                red, green, blue = (
                    round(a + (b - a) * shade / SHADES) for a, b in zip(under, over, strict=True)
                )
                found[red, green, blue] = None
    colours = list(found)[:COLOURS]
    image = Image.new("P", (1, 1))
    image.putpalette([part for colour in colours for part in colour])
    return image


class Film:
    """Keeps the last frames of a window.

    Args:
        path: where `save` writes it.
        lasts_s: how much of the end is kept.

    """

    def __init__(self, path: Path, lasts_s: float = LASTS_S) -> None:
        self.path = path
        self._frames: deque[Image.Image] = deque(maxlen=math.ceil(lasts_s * FRAMES_PER_S))
        self._palette = palette()
        self._due_s = -math.inf

    def look(self, surface: pygame.Surface, now_s: float) -> None:
        """Take a frame, where one is due."""
        if now_s < self._due_s:
            return
        self._due_s = max(self._due_s, now_s - 1 / FRAMES_PER_S) + 1 / FRAMES_PER_S
        whole = Image.frombytes("RGB", surface.get_size(), pygame.image.tobytes(surface, "RGB"))
        self._frames.append(whole.quantize(palette=self._palette, dither=Image.Dither.NONE))

    def save(self) -> None:
        """Write the film; without a frame there is none."""
        if self._frames:
            first, *others = self._frames
            duration_ms = round(1000 / FRAMES_PER_S)
            first.save(
                self.path, save_all=True, append_images=others, duration=duration_ms, loop=0, optimize=False
            )
