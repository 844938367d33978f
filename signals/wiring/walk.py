"""The walk: every lamp of the wiring table lit alone, and somebody or a sensor says what burns.

It calls as any post does: `lend`, `show` for each lamp, `give-back`. Where every lamp of a head has a sensor,
the proof decides; where not, whoever stands in front of the head is asked. A lamp counts as seen only
if it burns and no other does: so swapped wires are found. The lamps are lit by what the daily check
lights them with (`signals.opening.lights`); this walk goes by the table, row after row.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterator
from datetime import date
from typing import Literal

import msgspec
from msgspec import Struct

from signals.errors import Unusable
from signals.opening.floor import Floor, Sentences, floor_of
from signals.opening.lights import Lights, Lit
from signals.opening.looks import gently
from signals.opening.rows import aspect_with
from signals.part import MakeLink
from signals.venue.model import Head, Venue
from signals.venue.wires import Wire
from signals.words import Phase, Word

Outcome = Literal["seen", "wrong", "not seen"]
Ask = Callable[[Wire, str], Awaitable[bool | None]]
"""Ask whoever stands at a head a question about a lamp; None: nobody can say."""


class Walked(Struct, frozen=True):
    """What came of one lamp: what its head drove, what was proven, and what follows."""

    ref: str
    row: int
    head: str
    lamp: str
    driven: list[str]
    proven: list[str] | None
    outcome: Outcome
    why: str


class Walk:
    """Walk one venue's table from a post that may lend and show.

    Raises (from `run`):
        Unusable: the controller refuses, or does not answer.

    """

    def __init__(self, venue: Venue, make_link: MakeLink, *, post: str, ask: Ask) -> None:
        self._venue = venue
        self._make_link = make_link
        self._post = post
        self._ask = ask

    async def run(self, tell: Callable[[Walked], None] = lambda _: None) -> list[Walked]:
        """Walk every lamp; the lamps are given back whatever happens."""
        async with floor_of(self._venue, self._make_link, post=self._post, device="walk") as floor:
            lights, walked = Lights(floor), []
            _insist(Word.LEND, await floor.into(Phase.TEST))
            try:
                for head, wire in self._lamps():
                    walked.append(await self._light(lights, head, wire))
                    tell(walked[-1])
            finally:
                await lights.let_go()
                await self._give_back(floor)
            return walked

    async def _give_back(self, floor: Floor) -> None:
        if floor.state.phase is Phase.TEST:
            _insist(Word.GIVE_BACK, await floor.call(Word.GIVE_BACK))

    def _lamps(self) -> Iterator[tuple[Head, Wire]]:
        heads = {head.id: head for head in self._venue.heads}
        for wire in self._venue.wires:
            if wire.direction == "out":
                yield heads[wire.place], wire

    async def _light(self, lights: Lights, head: Head, wire: Wire) -> Walked:
        how = gently(self._venue, head, wire.aspect)
        lit = await lights.show(head, aspect_with(head, wire.aspect), **how)
        if isinstance(lit, tuple):
            raise Unusable(f"{Word.SHOW}: {' '.join(lit)}")
        outcome, why = await self._judge(wire, lit)
        proven = None if lit.proven is None else list(lit.proven)
        return Walked(wire.ref, wire.row, head.id, wire.aspect, list(lit.driven), proven, outcome, why)

    async def _judge(self, wire: Wire, lit: Lit) -> tuple[Outcome, str]:
        if lit.shown is None:
            return "wrong", f"{wire.place} says nothing"
        if lit.driven != (wire.aspect,):
            return "wrong", f"{wire.place} drives {_listed(lit.driven)}"
        if lit.proven is not None:
            if lit.proven == (wire.aspect,):
                return "seen", "proven"
            return (
                "wrong",
                f"its sensors see {_listed(lit.proven)}: the wire, the lamp or the sensor is another's",
            )
        said = await self._ask(wire, f"{wire.place}: does {wire.aspect} burn, and nothing else?")
        if said is None:
            return "not seen", "no sensor, and nobody asked"
        return ("seen", "a person saw it") if said else ("wrong", "a person saw something else")


def _insist(word: Word, against: Sentences) -> None:
    if against:
        raise Unusable(f"{word}: {' '.join(against)}")


def recorded(wires: tuple[Wire, ...], walked: list[Walked], day: date) -> list[Wire]:
    """Write the day into `tested_on` of the lamps that were seen, and of the sensors that proved them."""
    seen = {each.ref: each for each in walked if each.outcome == "seen"}
    tested = set(seen)
    tested |= {w.feedback_ref for w in wires if w.feedback_ref and w.ref in seen and seen[w.ref].proven}
    return [
        msgspec.structs.replace(wire, tested_on=day.isoformat()) if wire.ref in tested else wire
        for wire in wires
    ]


def _listed(lamps: tuple[str, ...]) -> str:
    return ", ".join(lamps) or "nothing"
