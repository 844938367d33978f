"""The drills' window: pygame's loop on the main thread, fed by a `Flow`."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import pygame

from sim.view.drill.flow import Flow, Page
from sim.view.drill.overlay import Fog, Overlay
from sim.view.drill.pages import Pages, Touch
from sim.view.layout import DESIGNED, SMALLEST, scale_of
from sim.view.paint import Brush
from sim.view.screen import Screen
from sim.view.window import key_name

FRAMES_PER_S = 60
PAGE_FRAMES_PER_S = 20
BACK = "Back"
DESKS = (Page.RUNNING, Page.PAUSED, Page.REPLAY)
"""Pages that show a desk."""


class DrillWindow:
    """A window of drills. `run` shows it until it is closed; `pictures` keeps one of every page."""

    def __init__(self, flow: Flow, pictures: Path | None = None) -> None:
        self.flow = flow
        self.ended = threading.Event()
        self._pictures = pictures
        self._kept: set[str] = set()
        self._touched: list[Touch] = []
        self._screen: Screen | None = None
        self._fog: Fog | None = None
        self._veiled = False
        """Whether the pause was drawn over everything."""
        self._of: object = None
        """The desk that the screen was made for."""

    def run(self) -> None:
        """Show the window until it is closed."""
        surface = self._open()
        clock = pygame.time.Clock()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: self.ended.set())
        last_s = time.monotonic()
        try:
            while not (self.flow.leaving or self.ended.is_set()):
                now_s = time.monotonic()
                self.flow.tick(self.flow.now_s(), now_s - last_s)
                last_s = now_s
                for event in pygame.event.get():
                    surface = self._act(surface, event)
                self.draw(surface)
                pygame.display.flip()
                self._keep(surface)
                clock.tick(FRAMES_PER_S if self.flow.page in DESKS else PAGE_FRAMES_PER_S)
        finally:
            if self.flow.booth is not None:
                self.flow.booth.stop()
            pygame.display.quit()

    def _open(self) -> pygame.Surface:
        os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
        pygame.display.init()
        pygame.display.set_caption(f"{self.flow.venue.name}: drills, simulated")
        pygame.key.set_repeat(350, 60)
        if pygame.display.get_driver() == "dummy":
            return pygame.display.set_mode(DESIGNED, pygame.RESIZABLE)
        width, height = pygame.display.get_desktop_sizes()[0]
        size = min(DESIGNED[0], width), min(DESIGNED[1], height)
        return pygame.display.set_mode(size, pygame.RESIZABLE)

    def draw(self, on: pygame.Surface) -> None:
        """Draw the page that is open."""
        flow = self.flow
        if flow.page not in DESKS:
            self._screen = None
            self._touched = Pages(on.get_size(), Brush(scale_of(on.get_size()))).draw(on, flow)
            return
        if flow.page is Page.PAUSED and self._veiled:
            return  # nothing moves: one veil is enough
        if self._veiled:
            self._screen = None
        self._veiled = flow.page is Page.PAUSED
        screen, now_s = self._desk(on), flow.now_s()
        screen.draw(now_s)
        if self._fog is not None and flow.page is not Page.REPLAY:
            self._fog.draw(on, screen)
        overlay = Overlay(screen)
        if flow.page is Page.REPLAY:
            self._touched = overlay.replay(on, flow)
        else:
            self._touched = overlay.running(on, flow, now_s)
        if flow.page is Page.PAUSED:
            self._touched = overlay.paused(on)

    def _desk(self, on: pygame.Surface) -> Screen:
        """Give the screen of the desk that is shown; made anew for another one, or after a page."""
        flow = self.flow
        desk = flow.again if flow.page is Page.REPLAY else flow.watching.desk if flow.watching else None
        if desk is None or flow.hands is None:
            raise RuntimeError(f"the page {flow.page} has no desk")
        if self._screen is None or self._of is not desk:
            self._of = desk
            self._screen = Screen(on, desk, flow.hands)
            watching = flow.watching
            self._fog = None if watching is None else Fog(watching.lookout, self._screen.brush)
        return self._screen

    def _act(self, surface: pygame.Surface, event: pygame.event.Event) -> pygame.Surface:
        flow = self.flow
        match event.type:
            case pygame.QUIT:
                self.ended.set()
            case pygame.KEYDOWN:
                name = BACK if event.key == pygame.K_BACKSPACE else key_name(event)
                if name:
                    flow.press(name, flow.now_s())
            case pygame.MOUSEBUTTONDOWN if event.button == 1:
                flow.click(self._target(event.pos), flow.now_s())
            case pygame.MOUSEMOTION if self._screen is not None:
                self._screen.hover = self._screen.target(event.pos)
            case pygame.MOUSEWHEEL:
                self._wheel(event.y)
            case pygame.VIDEORESIZE:
                wide, high = max(event.size[0], SMALLEST[0]), max(event.size[1], SMALLEST[1])
                self._screen, self._veiled = None, False
                return pygame.display.set_mode((wide, high), pygame.RESIZABLE)
        return surface

    def _target(self, spot: tuple[int, int]) -> str:
        """Give what lies under the pointer: the page's or the overlay's before the desk's."""
        for box, target in reversed(self._touched):
            if box.collidepoint(spot):
                return target
        return self._screen.target(spot) if self._screen is not None else ""

    def _wheel(self, steps: int) -> None:
        """Zoom on the map; elsewhere go up or down."""
        if self._screen is not None and self.flow.hands is not None:
            area, (x, y) = self._screen.layout.map, pygame.mouse.get_pos()
            if area.collidepoint(x, y):
                at = (x - area.left) / area.width, (y - area.top) / area.height
                self.flow.hands.lens.nearer(1 if steps > 0 else -1, at)
            return
        self.flow.press("Up" if steps > 0 else "Down", self.flow.now_s())

    def _keep(self, surface: pygame.Surface) -> None:
        """Keep a picture of every page, once it is drawn."""
        page = str(self.flow.page)
        if self._pictures is None or page in self._kept:
            return
        self._kept.add(page)
        self._pictures.mkdir(parents=True, exist_ok=True)
        pygame.image.save(surface, self._pictures / f"{len(self._kept)}-{page}.png")
