"""A picture of the window without a display: for `--picture`, tests and the documentation."""

from __future__ import annotations

import os
from pathlib import Path

import pygame

from sim.view.desk import Desk
from sim.view.hands import Hands
from sim.view.layout import DESIGNED
from sim.view.screen import Screen


def headless() -> None:
    """Let pygame run without a display; an environment that names a driver keeps it."""
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")


def picture(desk: Desk, hands: Hands, now_s: float, size: tuple[int, int] = DESIGNED) -> pygame.Surface:
    """Draw the window as it is at `now_s`; needs no display."""
    surface = pygame.Surface(size)
    Screen(surface, desk, hands).draw(now_s)
    return surface


def save(desk: Desk, hands: Hands, now_s: float, to: Path, size: tuple[int, int] = DESIGNED) -> None:
    """Write the window as a PNG file."""
    pygame.image.save(picture(desk, hands, now_s, size), to)
