"""The instructor's window on a drill that runs elsewhere: the whole track, and what is let happen on it."""

from __future__ import annotations

import asyncio
import os
from collections import deque
from collections.abc import Callable
from functools import partial

import pygame

from signals import say
from signals.mqtt.contract import Inject, Injected
from signals.part import MakeLink, run_ready
from signals.sequence.events import KINDS, WORLD
from signals.sequence.observer import Observer
from signals.venue.model import Venue
from sim.drill.asks import ASKS
from sim.drill.throwing import TO_NOBODY, event
from sim.view.asking import Choice
from sim.view.desk import Desk, Outcome
from sim.view.drill.joined import HostedScreen
from sim.view.screen import Screen
from sim.view.window import Window, key_name
from sim.view.wire import Wire

LETS, KEY = "let-happen", "F4"
WHOSE = "Instructor"
OF_WORLD = tuple(name for name, kind in KINDS.items() if name in ASKS and kind.addressee == WORLD)
"""What can be let happen here: what asks something of a marshal."""


class Throwing:
    """Asks the simulated track for events, on a wire's loop. What came of each waits in `told`."""

    def __init__(self, venue: Venue, make_link: MakeLink) -> None:
        client = f"instructor.window-{os.getpid()}"
        self._observer = Observer(venue, make_link, client=client, filters=("injected/+",))
        self._loop: asyncio.AbstractEventLoop | None = None
        self.told: deque[Injected] = deque()

    async def run(self, ready: Callable[[], None]) -> None:
        """Stay connected until cancelled."""
        self._loop = asyncio.get_running_loop()
        await run_ready(self._observer.run(), self._observer.connected(), ready)

    def throw(self, asked: Inject) -> None:
        """Let something happen, from the window's thread."""
        if self._loop is not None:
            asyncio.run_coroutine_threadsafe(self._throw(asked), self._loop)

    async def _throw(self, asked: Inject) -> None:
        answer = await self._observer.inject(WORLD, asked)
        self.told.append(answer or Injected(id=asked.id, done=False, said=TO_NOBODY.format(to=WORLD)))


class InstructorScreen(HostedScreen):
    """The whole track, and how to let something happen on it."""

    def lay_over(self, now_s: float) -> pygame.Rect:
        """Write whose window it is, and the key."""
        whose, px = super().lay_over(now_s), self.brush.px
        at = whose.right + px(16), whose.centery
        key = self.brush.write(self.surface, f"let something happen ({KEY})", at, colour="muted")
        self._touched["lets"] = [(key.inflate(px(8), px(8)), LETS)]
        return whose.union(key)


class InstructorWindow(Window):
    """A desk's window that can let things happen, to the chosen kart and in the chosen sector."""

    def __init__(self, venue: Venue, wire: Wire, desk: Desk, throwing: Throwing) -> None:
        super().__init__(venue, wire, desk)
        self._title = f"{venue.name}: a drill, instructor"
        self._throwing = throwing

    def _made(self, surface: pygame.Surface) -> Screen:
        return InstructorScreen(surface, self.desk, self.hands, WHOSE)

    def _listen(self, now_s: float) -> None:
        """Take in what the wire brought, and what came of what was let happen."""
        super()._listen(now_s)
        while self._throwing.told:
            answer = self._throwing.told.popleft()
            said = f"{answer.said[:1].upper()}{answer.said[1:]}"
            self.desk.outcome = Outcome(LETS, said, (), accepted=answer.done)

    def _act(self, screen: Screen, event: pygame.event.Event, now_s: float) -> Screen:
        pressed = event.type == pygame.KEYDOWN and key_name(event) == KEY
        clicked = event.type == pygame.MOUSEBUTTONDOWN and event.button == 1
        if pressed or (clicked and screen.target(event.pos) == LETS):
            self.ask()
            return screen
        return super()._act(screen, event, now_s)

    def ask(self) -> None:
        """Ask what is to happen."""
        kart, sector = self.hands.kart, say.sector_name(self.desk.venue, self.hands.sector)
        whom = "to a kart (choose one first: up, down)" if kart is None else f"to kart {kart}"
        self.hands.choose(LETS, f"What is to happen {whom}, or in {sector}?", self._choices())

    def _choices(self) -> list[Choice]:
        """Give what can be let happen to the chosen kart, and in the chosen sector."""
        kart, where = self.hands.kart, self.hands.sector
        known = {"kart": kart, "where": where}
        choices: list[Choice] = []
        for name in OF_WORLD:
            needs = KINDS[name].needs
            if any(known[each] is None for each in needs):
                continue
            of_kart = "kart" in needs
            whom = f"kart {kart}" if of_kart else say.sector_name(self.desk.venue, where)
            words = f"{name.replace('-', ' ').capitalize()}, {whom}"
            asked = partial(event, name, kart=kart) if of_kart else partial(event, name, where=where)
            choices.append((words, partial(self._throw, words, asked)))
        return choices

    def _throw(self, words: str, asked: Callable[[], Inject], _: float) -> None:
        self.desk.outcome = Outcome(LETS, f"{words} …")
        self._throwing.throw(asked())
