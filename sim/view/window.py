"""The window itself: pygame's loop on the main thread, fed by a `Wire`."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pygame

from signals import say
from signals.mqtt.link import Arrived
from signals.supervise.supervisor import STAYS
from signals.venue.model import Venue
from sim.view import picture
from sim.view.desk import Desk
from sim.view.film import Film
from sim.view.hands import Hands
from sim.view.layout import DESIGNED, SMALLEST
from sim.view.screen import Screen
from sim.view.wire import Change, Wire

FRAMES_PER_S = 60
STOPPED_WITHIN_S = 12.0
"""How long closing waits for karts to stand once red was called."""
STANDS_KMH = 0.5
NAMES: dict[int, str] = {
    pygame.K_SPACE: "Space",
    pygame.K_RETURN: "Enter",
    pygame.K_KP_ENTER: "Enter",
    pygame.K_ESCAPE: "Esc",
    pygame.K_LEFT: "Left",
    pygame.K_RIGHT: "Right",
    pygame.K_UP: "Up",
    pygame.K_DOWN: "Down",
    pygame.K_HOME: "Home",
    pygame.K_PAGEUP: "PageUp",
    pygame.K_PAGEDOWN: "PageDown",
    **{getattr(pygame, f"K_F{number}"): f"F{number}" for number in range(1, 13)},
}


def key_name(event: pygame.event.Event) -> str:
    """Name a key as `Hands.press` takes it; empty for one that means nothing."""
    typed = str(getattr(event, "unicode", ""))
    return NAMES.get(event.key, typed.upper() if typed.isprintable() else "")


class Window:
    """A post's window: shows a desk, turns keys and clicks into calls."""

    def __init__(self, venue: Venue, wire: Wire, desk: Desk) -> None:
        self.desk = desk
        self.hands = Hands(desk, wire.publish)
        self._wire = wire
        self._title = f"{venue.name}: {'simulated' if venue.simulated else 'live'} signals"
        self._leaving_s: float | None = None

    def run(self, to: Path | None = None, film: Film | None = None) -> None:
        """Show the window until it is closed or the wire ends; leave a picture at `to`, frames in `film`."""
        screen = self._open()
        clock = pygame.time.Clock()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: self._wire.ended.set())
        try:
            while not self._over():
                now_s = time.monotonic()
                self._listen(now_s)
                for event in pygame.event.get():
                    screen = self._act(screen, event, now_s)
                pygame.display.update(screen.draw(now_s))
                if film is not None:
                    film.look(screen.surface, now_s)
                clock.tick(FRAMES_PER_S)
            if to is not None:
                picture.save(self.desk, self.hands, time.monotonic(), to, screen.layout.size)
        finally:
            pygame.display.quit()

    def _open(self) -> Screen:
        """Open at the designed size, or smaller on a smaller display."""
        # Drawing is copying here: a framebuffer by way of OpenGL would triple processor and memory.
        os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
        pygame.display.init()
        pygame.display.set_caption(self._title)
        pygame.key.set_repeat()
        if pygame.display.get_driver() == "dummy":
            return self._screen(DESIGNED)
        width, height = pygame.display.get_desktop_sizes()[0]
        return self._screen((min(DESIGNED[0], width), min(DESIGNED[1], height)))

    def _screen(self, size: tuple[int, int]) -> Screen:
        """Make the screen of a window size; never smaller than everything needs."""
        wide, high = max(size[0], SMALLEST[0]), max(size[1], SMALLEST[1])
        surface = pygame.display.get_surface()
        if surface is None or surface.get_size() != (wide, high):
            surface = pygame.display.set_mode((wide, high), pygame.RESIZABLE)
        screen = self._made(surface)
        pygame.display.flip()
        return screen

    def _made(self, surface: pygame.Surface) -> Screen:
        """Make the screen itself: what a window of another kind does otherwise."""
        return Screen(surface, self.desk, self.hands)

    def _listen(self, now_s: float) -> None:
        """Take in what the wire brought."""
        inbox = self._wire.inbox
        while inbox:
            at_s, what = inbox.popleft()
            if isinstance(what, Arrived):
                self.desk.hear(what, at_s)
            elif isinstance(what, Change):
                self.desk.linked(up=what is Change.UP)
            elif what.startswith(STAYS):
                self.desk.note = what.removeprefix(STAYS)
            else:
                self.desk.banner(say.capital(what), at_s)
        self.desk.tick(now_s)
        self.hands.tick(now_s)

    def _act(self, screen: Screen, event: pygame.event.Event, now_s: float) -> Screen:
        match event.type:
            case pygame.QUIT:
                self.hands.leave(now_s)
            case pygame.KEYDOWN:
                name = key_name(event)
                if name:
                    self.hands.press(name, now_s)
            case pygame.MOUSEBUTTONDOWN if event.button == 1:
                self.hands.click(screen.target(event.pos), now_s)
            case pygame.MOUSEWHEEL:
                self._wheel(screen, event.y)
            case pygame.MOUSEMOTION:
                screen.hover = screen.target(event.pos)
            case pygame.VIDEORESIZE:
                return self._screen(event.size)
        return screen

    def _wheel(self, screen: Screen, steps: int) -> None:
        """Zoom where the pointer is on the map; elsewhere move on in a long answer."""
        area, (x, y) = screen.layout.map, pygame.mouse.get_pos()
        if area.collidepoint(x, y):
            at = (x - area.left) / area.width, (y - area.top) / area.height
            self.hands.lens.nearer(1 if steps > 0 else -1, at)
        else:
            self.hands.scroll(-steps)

    def _over(self) -> bool:
        """Whether to end: told so, or left, and the karts stand (or had their time to)."""
        if self._wire.ended.is_set():
            return True
        if not self.hands.leaving:
            return False
        now_s = time.monotonic()
        self._leaving_s = self._leaving_s or now_s
        return self.desk.all_stand(STANDS_KMH) or now_s - self._leaving_s > STOPPED_WITHIN_S
