"""A short film of the window, as a GIF: its last seconds, for the documentation and for a look back."""

from __future__ import annotations

import math
from collections import deque
from itertools import pairwise
from pathlib import Path

import numpy as np
import pygame
from numpy.typing import NDArray
from PIL import Image

from signals.look import DARK, Theme, rgb

FRAMES_PER_S = 10
LASTS_S = 12.0
WIDE_PX = 960
"""Wider windows are scaled down to this: a film is small."""
SHADES = 5
"""Blends kept between each two colours of the palette: edges stay smooth."""
SAME = 255
"""The palette's last place: a pixel that stayed as it was, which costs next to nothing."""
NOWHERE = (255, 0, 255)
"""The colour of that place: none that a window shows is near it."""
Frame = NDArray[np.uint8]
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
    colours = list(found)[:SAME]
    image = Image.new("P", (1, 1))
    # Filled up to the end, for a reader may refuse an index beyond it.
    colours += [rgb(theme.ground)] * (SAME - len(colours)) + [NOWHERE]
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
        self._frames: deque[Frame] = deque(maxlen=math.ceil(lasts_s * FRAMES_PER_S))
        self._palette = palette()
        self._due_s = -math.inf

    def look(self, surface: pygame.Surface, now_s: float) -> None:
        """Take a frame, where one is due."""
        if now_s < self._due_s:
            return
        self._due_s = max(self._due_s, now_s - 1 / FRAMES_PER_S) + 1 / FRAMES_PER_S
        width, height = surface.get_size()
        if width > WIDE_PX:
            width, height = WIDE_PX, round(height * WIDE_PX / width)
            surface = pygame.transform.smoothscale(surface, (width, height))
        whole = Image.frombytes("RGB", (width, height), pygame.image.tobytes(surface, "RGB"))
        self._frames.append(np.asarray(whole.quantize(palette=self._palette, dither=Image.Dither.NONE)))

    def save(self) -> None:
        """Write the film; without a frame there is none."""
        if not self._frames:
            return
        size = self._frames[-1].shape
        frames = [frame for frame in self._frames if frame.shape == size]
        pairs = pairwise(frames)
        changes = (np.where(frame == before, SAME, frame).astype(np.uint8) for before, frame in pairs)
        first, *others = (self._image(each) for each in (frames[0], *changes))
        first.save(
            self.path,
            save_all=True,
            append_images=others,
            duration=round(1000 / FRAMES_PER_S),
            loop=0,
            transparency=SAME,
            disposal=1,
            optimize=False,
        )

    def _image(self, frame: Frame) -> Image.Image:
        image = Image.fromarray(frame)
        image.putpalette(self._palette.getpalette() or [])
        return image
