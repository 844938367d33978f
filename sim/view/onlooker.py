"""A window that only looks: at a venue in the venue's own time, for pictures, films and rehearsals."""

from __future__ import annotations

import os
from pathlib import Path

import pygame

from signals.mqtt.link import Arrived
from signals.venue.model import Venue
from sim.view.desk import Desk
from sim.view.film import Film
from sim.view.hands import Hands
from sim.view.layout import DESIGNED
from sim.view.screen import PANEL_EVERY_S, Screen
from sim.view.window import key_name


class Onlooker:
    """Draws a desk's window; its calls go nowhere.

    Args:
        venue: whose window.
        shown: opens it on the display; otherwise it is drawn without one.
        film: where its last seconds are kept.

    """

    def __init__(self, venue: Venue, *, shown: bool = False, film: Path | None = None) -> None:
        self.desk = Desk(venue)
        self.hands = Hands(self.desk, lambda *_: False)
        self.client = f"post-{self.desk.post}"
        self._film = Film(film) if film else None
        self._last_s = 0.0
        self.shown = shown
        self.surface = self._open(venue.name) if shown else pygame.Surface(DESIGNED)
        self._screen = Screen(self.surface, self.desk, self.hands)

    def _open(self, title: str) -> pygame.Surface:
        os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
        pygame.display.init()
        pygame.display.set_caption(f"{title}: a rehearsal")
        return pygame.display.set_mode(DESIGNED)

    def subscriptions(self) -> tuple[tuple[str, int], ...]:
        """Give what the desk hears."""
        return self.desk.subscriptions()

    def linked(self, *, up: bool) -> None:
        """Note that the link is up."""
        self.desk.linked(up=up)

    def hear(self, arrived: Arrived, now_s: float) -> None:
        """Hear a message."""
        self.desk.hear(arrived, now_s)

    def look(self, now_s: float) -> None:
        """Draw what changed; closing the window ends the looking, not the rehearsal."""
        self._last_s = now_s
        self.desk.tick(now_s)
        changed = self._screen.draw(now_s)
        if self._film is not None:
            self._film.look(self.surface, now_s)
        if not self.shown:
            return
        for event in pygame.event.get():
            if event.type == pygame.QUIT:
                self.close()
                return
            if event.type == pygame.KEYDOWN and (name := key_name(event)):
                self.hands.press(name, now_s)
        pygame.display.update(changed)

    def close(self) -> None:
        """Close the window; what is drawn from then on is not shown."""
        if not self.shown:
            return
        self.shown = False
        self.surface = pygame.Surface(DESIGNED)
        self._screen = Screen(self.surface, self.desk, self.hands)
        pygame.display.quit()

    def keep(self, picture: Path | None) -> None:
        """Write the picture and the film that were asked for."""
        if picture is not None:
            self._screen.draw(self._last_s + PANEL_EVERY_S)  # panels too; trails and marks are kept
            pygame.image.save(self.surface, picture)
        if self._film is not None:
            self._film.save()
