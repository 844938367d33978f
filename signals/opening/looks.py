"""Lamps and aspects: a head is told to show something, and sensors or a person say what burns."""

from __future__ import annotations

import random
from typing import Any

import msgspec
from msgspec import UNSET

from signals import say
from signals.opening.flashing import STEADY, Rate
from signals.opening.floor import TURN_S, Floor
from signals.opening.lights import Lit
from signals.opening.rows import FLASHING, Kind, Row, aspect_with, lamps_of, shows_itself
from signals.opening.sheet import Found, Method, Outcome, Question, Said, Standstill
from signals.opening.task import Site, Task, listed
from signals.venue.model import Head, Venue
from signals.words import Aspect, Phase

SPEAKING = (Aspect.NUMBER, Aspect.BLUE_FLASH)
"""Aspects that carry a kart's number."""
STRAYS_S = 1.0
"""A neighbour that was lit before has so long to go dark, its sensor included."""
TAKEN_BACK = "The lamps were taken back while a sensor was read; go on, and it is read again."


class Look(Task):
    """One lamp alone, or one aspect."""

    def __init__(self, site: Site, row: Row) -> None:
        super().__init__(site, row)
        self._head = site.head(row.place)
        self._lamp: str | None = row.what if row.kind is Kind.LAMP else None
        self._aspect = aspect_with(self._head, row.what) if self._lamp else Aspect(row.what)
        self._alone = alone(site.venue, self._head, row.what) if self._lamp else {"number": self._drawn()}
        self._number = self._alone.get("number")
        self._lit = Lit((), None, None)
        self._rate = STEADY

    def _drawn(self) -> int | None:
        """Give the number to show with a call on a kart: one that nobody expects."""
        if self._aspect not in SPEAKING or not self._head.number:
            return None
        numbers = [kart.number for kart in self.site.venue.karts]
        return random.Random(self.site.run + self.row.id).choice(numbers)  # noqa: S311 - no secret

    async def begin(self) -> Question | Found | Standstill:
        """Light it; ask nobody where the head says that it does something else, or proves what it does.

        A head with sensors is first lit lamp by lamp: a wrong lamp under an aspect would trip the monitor.
        """
        if stands := await self._darken():
            return stands
        how = self._alone
        if self._lamp and self._sensored:
            how = gently(self.site.venue, self._head, self._lamp)
        came = await self._light(how)
        if how != self._alone and isinstance(came, Found) and came.outcome == "passed":
            came = await self._light(self._alone)
        return came

    @property
    def _sensored(self) -> bool:
        shown = self.site.floor.ears.shown(self._head.id)
        return shown is not None and shown.proven is not None

    async def _darken(self) -> Standstill | None:
        """Have a head dark that flashes still from before: how fast it did says nothing of what comes."""
        shown = self.site.floor.ears.shown(self._head.id)
        if self._aspect not in FLASHING or shown is None or shown.flash_hz is UNSET:
            return None
        dark = await self.site.lights.show(self._head, Aspect.DARK)
        return Standstill(dark) if isinstance(dark, tuple) else None

    async def _light(self, how: dict[str, Any]) -> Question | Found | Standstill:
        lit = await self.site.lights.show(self._head, self._aspect, **how)
        if isinstance(lit, tuple):
            return Standstill(lit)
        self._lit = lit
        if lit.shown is None:
            return self._found("failed", f"{self._head.id} says nothing", "report")
        if set(lit.driven) != set(lit.wanted):
            return self._found("failed", f"it drives {listed(lit.driven)}", "report")
        floor = self.site.floor
        if not await floor.until(lambda: not strays_of(floor, self._head.id), STRAYS_S):
            strays = strays_of(floor, self._head.id)
            return self._found("failed", f"{listed(strays)} lit up too", "sensor")
        if lit.proven is not None and not self.site.eyes and not self._number:
            return await self._proven(lit.proven)
        return self._question()

    async def _proven(self, proven: tuple[str, ...]) -> Found | Standstill:
        held = set(proven) == set(self._lit.wanted)
        if held:
            await self._measure()
            held = not self._rate.wrong
        if self.site.floor.state.phase is not Phase.TEST:
            return Standstill((TAKEN_BACK,))
        return self._found("passed" if held else "failed", f"{listed(proven)} proven", "sensor")

    def _question(self) -> Question:
        lamps = self._lamp is not None
        choices = lamps_of(self._head) if lamps else tuple(looks_of(self._head))
        return Question(
            number=0,
            of=0,
            asks="lamps" if lamps else "shows",
            place=self._head.id,
            where=where_of(self.site.venue, self._head),
            text="Which lamps burn on it now?" if lamps else "What does it show now?",
            choices=choices,
            reads_number=self._head.number,
        )

    async def judge(self, said: Said) -> Found:
        """Compare what was seen with what was told."""
        if said.unseen:
            return self._found("not seen", "nobody could see it", "eye")
        others = f"; {listed(list(said.elsewhere))} lit up too" if said.elsewhere else ""
        await self._measure()
        seen = self._as_told(said) and self._number_right(said) and not said.elsewhere
        right = seen and not self._rate.wrong
        proof = self._lit.proven
        if proof is not None and set(proof) != set(self._lit.wanted):
            right, others = False, f"{others}; {listed(proof)} proven"
        method: Method = "eye" if proof is None and not self._rate.measured else "sensor and eye"
        return self._found("passed" if right else "failed", f"{self._seen(said)}{others}", method)

    async def _measure(self) -> None:
        """Take how fast it flashes from its sensors, where it is to flash and they measure that.

        Where no rate came, the lamps may have been taken back: that is heard a moment later.
        """
        if self._aspect not in FLASHING:
            return
        floor, hz = self.site.floor, await self.site.lights.flash_hz(self._head, self._lit)
        self._rate = Rate.of(self.site.venue, hz)
        if hz is None:
            await floor.until(lambda: floor.state.phase is not Phase.TEST, TURN_S)

    def _as_told(self, said: Said) -> bool:
        if self._lamp is not None:
            return set(said.lamps or ()) == {self._lamp}
        return said.aspect is self._aspect

    def _number_right(self, said: Said) -> bool:
        return self._number is None or said.number == self._number

    def _seen(self, said: Said) -> str:
        read = f", number {said.number}" if said.number is not None else ""
        if self._lamp is not None:
            return listed(list(said.lamps or ())) + read
        return (say.ASPECTS[said.aspect] if said.aspect else "no answer") + read

    def _found(self, outcome: Outcome, observed: str, method: Method) -> Found:
        read = f", number {self._number}" if self._number else ""
        expected = f"{self._lamp} alone" if self._lamp else say.ASPECTS[self._aspect]
        rate = self._rate
        found = self.found(
            outcome, expected + read + rate.expected, observed + rate.observed, method, ms=self._lit.ms
        )
        return msgspec.structs.replace(found, flash_hz=rate.hz) if isinstance(rate.hz, float) else found


def alone(venue: Venue, head: Head, lamp: str) -> dict[str, Any]:
    """Give how `Lights.show` lights one lamp alone: by an aspect of its own, a number in all its segments."""
    if not shows_itself(head, lamp):
        return {"lamp": lamp}
    if aspect_with(head, lamp) is not Aspect.NUMBER:
        return {}
    return {"number": int("8" * len(str(max(kart.number for kart in venue.karts))))}


def gently(venue: Venue, head: Head, lamp: str) -> dict[str, Any]:
    """Give how one lamp is lit alone so that the monitor bears another's light: as a lamp, or a number."""
    how = alone(venue, head, lamp)
    return how if "number" in how else {"lamp": lamp}


def looks_of(head: Head) -> list[Aspect]:
    """Give every aspect a person may take a head for: its own, and what flashes as if it were steady."""
    steady = {Aspect.YELLOW} if Aspect.YELLOW_FLASH in head.aspects else set()
    return [aspect for aspect in Aspect if aspect in head.aspects or aspect in steady]


def strays_of(floor: Floor, besides: str) -> list[str]:
    """Name the other heads that show, as far as they tell or prove, more than they are told."""
    found = []
    for head in floor.venue.heads:
        shown, told = floor.ears.shown(head.id), floor.ears.told.get(head.id)
        if head.id == besides or shown is None or told is None:
            continue
        lamps = told.lamps if told.lamps is not None else head.aspects.get(told.aspect, ())
        if set(shown.driven if shown.proven is None else shown.proven) - set(lamps):
            found.append(head.id)
    return found


def where_of(venue: Venue, head: Head) -> str:
    """Say where to stand."""
    side = "above the track" if head.side == "above" else f"{head.side} of the track"
    name = say.sector_name(venue, head.protects[0])
    return f"{head.id}, {side} at {head.at_m:g} m, for {name}"
