"""Karts: one is commanded and a person says which answers; then each limit, on a stand or in the pit lane."""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any

from signals.errors import Unusable
from signals.mqtt.contract import Passed
from signals.opening.rows import Row, kart_of
from signals.opening.sheet import Found, Method, Outcome, Question, Said, Standstill
from signals.opening.task import Site, Task, listed
from signals.words import PIT, Word

OVER_KMH, OVER_SHARE = 1.0, 0.1
"""What a reading may lie above a limit, whichever is more; typical of displays, no source."""
SAME_KMH = 0.05
TAKES_S = 1.0


class Allowed(Task):
    """A row for which a kart is allowed a limit as long as somebody looks."""

    def __init__(self, site: Site, row: Row) -> None:
        super().__init__(site, row)
        self.number = kart_of(row.place)
        self.ms: int | None = None
        self._renewing: asyncio.Task[None] | None = None

    async def allow(self, limit_kmh: float) -> Standstill | str:
        """Allow it; gives what refuses, or what the kart says against it ("": it took the limit)."""
        floor, loop = self.site.floor, asyncio.get_running_loop()
        fields = {"kart": self.number, "limit_kmh": limit_kmh}
        began_s = loop.time()
        if against := await floor.call(Word.ALLOW, **fields):
            return Standstill(against)
        self._renewing = asyncio.create_task(self._renew(fields))

        def took() -> bool:
            taken = floor.ears.taken(self.number)
            return taken is not None and abs(taken.limit_kmh - limit_kmh) < SAME_KMH

        if await floor.until(took, floor.venue.timing.settle / 1000 + TAKES_S):
            self.ms = round(1000 * (loop.time() - began_s))
            return ""
        taken = floor.ears.taken(self.number)
        return "it says nothing" if taken is None else f"it took {taken.limit_kmh:g} km/h"

    async def end(self) -> None:
        """Allow it nothing any more."""
        task, self._renewing = self._renewing, None
        if task is None:
            return
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError, Unusable):
            await task
        await self.site.floor.call(Word.ALLOW, kart=self.number, limit_kmh=0.0)

    async def _renew(self, fields: dict[str, Any]) -> None:
        while True:
            await asyncio.sleep(self.site.venue.timing.show / 3000)
            if await self.site.floor.call(Word.ALLOW, **fields):
                return


class Answers(Allowed):
    """Painted number, radio and transponder belong to one kart: it alone may creep."""

    async def begin(self) -> Question | Found | Standstill:
        """Command it, and ask which kart it was."""
        self._passed: dict[str, Passed] = dict(self.site.floor.ears.passed)
        against = await self.allow(self.site.venue.limits.creep)
        if isinstance(against, Standstill):
            return against
        if against:
            return self.found("failed", f"kart {self.number} alone", against, "report", ms=self.ms)
        return Question(
            number=0,
            of=0,
            asks="answers",
            place=PIT,
            where="Pit lane, everybody clear of the karts",
            text="One kart may creep now. Press pedals: which painted number answers?",
            choices=tuple(str(kart.number) for kart in self.site.venue.karts),
        )

    async def judge(self, said: Said) -> Found:
        """Compare the painted number with the one commanded, and with what a loop saw meanwhile."""
        expected = f"kart {self.number} alone"
        if said.unseen:
            return self.found("not seen", expected, "nobody could see it", "eye", ms=self.ms)
        ears = self.site.floor.ears
        seen = {loop: p.kart for loop, p in ears.passed.items() if p != self._passed.get(loop)}
        right = said.kart == self.number and set(seen.values()) <= {self.number}
        words = f"kart {said.kart}" if said.kart is not None else "none"
        by_loop = "".join(f", loop {loop} saw {kart}" for loop, kart in sorted(seen.items()))
        outcome: Outcome = "passed" if right else "failed"
        return self.found(outcome, expected, f"{words} answered{by_loop}", "eye", ms=self.ms)


class Limit(Allowed):
    """One limit: taken by the kart, and read as a speed where something measures it."""

    @property
    def limit_kmh(self) -> float:
        """The limit it is told."""
        return float(self.row.what)

    async def begin(self) -> Question | Found | Standstill:
        """Allow the limit, and ask how fast the kart really is."""
        self._most_kmh: float | None = None
        self._ignore = self.site.floor.ears.listen(self._look)
        against = await self.allow(self.limit_kmh)
        if isinstance(against, Standstill):
            return against
        if against:
            return self.found("failed", self._expected, against, "report", ms=self.ms)
        where = "on the stand, or rolling inside the pit lane"
        if self.limit_kmh > self.site.venue.limits.pit:
            where = "on the stand, nobody near its wheels"
        return Question(
            number=0,
            of=0,
            asks="speed",
            place=self.row.place,
            where=f"Kart {self.number}, {where}",
            text="Pedal down: how fast is it, in km/h?",
        )

    async def end(self) -> None:
        """Stop listening, and allow it nothing any more."""
        if hasattr(self, "_ignore"):
            self._ignore()
            del self._ignore
        await super().end()

    async def judge(self, said: Said) -> Found:
        """Compare a reading, or what the track's own sensors saw, with the limit."""
        readings = [kmh for kmh in (said.kmh, self._most_kmh) if kmh is not None]
        if not readings:
            return self.found("passed", self._expected, "taken; speed not measured", "report", ms=self.ms)
        most = self.limit_kmh + max(OVER_KMH, OVER_SHARE * self.limit_kmh)
        outcome: Outcome = "passed" if max(readings) <= most else "failed"
        observed = listed([f"{kmh:g} km/h" for kmh in readings])
        method: Method = "sensor and eye"
        if self._most_kmh is None or said.kmh is None:
            method = "sensor" if said.kmh is None else "eye"
        return self.found(outcome, self._expected, observed, method, ms=self.ms)

    @property
    def _expected(self) -> str:
        return f"at most {self.limit_kmh:g} km/h" if self.limit_kmh else "stands"

    def _look(self) -> None:
        """Keep the greatest speed that is reported meanwhile."""
        where = self.site.floor.ears.where.get(self.number)
        if where is not None and where.speed_kmh:
            self._most_kmh = max(self._most_kmh or 0.0, where.speed_kmh)
