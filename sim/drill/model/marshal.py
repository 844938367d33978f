"""One post's marshal: looks, touches what it notices, does the most urgent thing it may."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.drill.deeds import Deed
from sim.drill.model import lift, restrict, session
from sim.drill.model.manner import EVERYTHING, Manner
from sim.drill.model.memory import Memory
from sim.drill.seat import Eyes

BETWEEN_S = 0.4
"""Between two calls."""


class Marshal:
    """An `Answerer`; with a manner of its own, somebody who makes typical mistakes."""

    def __init__(self, manner: Manner | None = None) -> None:
        self.manner = manner or Manner()
        self._memory = Memory(skips=self.manner.skips)
        self._called_s = -BETWEEN_S

    def look(self, eyes: Eyes) -> Iterable[Deed]:
        """Look once, and do at most one thing beside touching what was noticed."""
        if self.manner.skips == EVERYTHING:
            return
        self._memory.look(eyes)
        yield from restrict.marks(eyes, self._memory, self.manner)
        if eyes.now_s - self._called_s < BETWEEN_S:
            return
        deed = next(self._wishes(eyes), None)
        if deed is not None:
            self._called_s = eyes.now_s
            yield deed

    def _wishes(self, eyes: Eyes) -> Iterator[Deed]:
        """Give what is to be done, the most urgent first."""
        memory, manner, state = self._memory, self.manner, eyes.state
        if not eyes.device or state is None:
            yield from restrict.boxes(eyes, memory, manner)
            return
        yield from restrict.answers(eyes, state, memory, manner)
        yield from restrict.people(eyes, state, memory, manner)
        yield from restrict.stopped(eyes, state, memory, manner)
        yield from restrict.alarms(eyes, state, memory, manner)
        yield from restrict.words(eyes, memory, manner)
        yield from lift.lifts(eyes, state, memory, manner)
        yield from session.karts(eyes, state, memory, manner)
        yield from session.steps(eyes, state, memory, manner)
