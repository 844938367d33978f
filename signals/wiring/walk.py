"""The walk: every lamp of the wiring table lit alone, and somebody or a sensor says what burns.

It calls as any post does: `lend`, `show` for each lamp, `give-back`. Where every lamp of a head has a sensor,
the proof decides; where not, whoever stands in front of the head is asked. A lamp counts as seen only
if it burns and no other does: so swapped wires are found.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from datetime import date
from typing import Literal

import msgspec
from msgspec import Struct

from signals.caller import Caller
from signals.errors import Unusable
from signals.mqtt.codec import Malformed, decode
from signals.mqtt.contract import Answer, Shown
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.outputs.base import POLL_MS
from signals.outputs.lamps import PROVE_MS
from signals.part import MakeLink
from signals.venue.model import Head, Venue
from signals.venue.wires import Wire
from signals.words import Aspect, Word

Outcome = Literal["seen", "wrong", "not seen"]
Ask = Callable[[Wire, str], Awaitable[bool | None]]
"""Ask whoever stands at a head a question about a lamp; None: nobody can say."""
TAKES_S = 1.0
"""Beyond the venue's settling time: the network, and the device's refresh."""
POLLS_S = 3 * POLL_MS / 1000
"""A sensor is read a few times more before it is believed."""
ANSWER_S = 5.0
"""Nobody drives during a walk: a late answer is better than none."""


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
        topics = Topics.of(venue.id, simulated=venue.simulated)
        self._venue = venue
        self._topics = topics
        self._ask = ask
        self._shown: dict[str, Shown] = {}
        self._news = asyncio.Event()
        self._caller = Caller(topics, post, make_link, device="walk")
        self._ears = make_link(
            f"post-{post}.walk-ears",
            subscriptions=((topics.name("head", "+", "shown"), 0),),
            owner=Owner(on_message=self._take),
        )

    async def run(self, tell: Callable[[Walked], None] = lambda _: None) -> list[Walked]:
        """Walk every lamp; the lamps are given back whatever happens."""
        tasks = [asyncio.create_task(self._caller.run()), asyncio.create_task(self._ears.run())]
        try:
            await self._caller.connected()
            await self._caller.heard.wait()
            await self._call(Word.LEND)
            walked = []
            for head, wire in self._lamps():
                walked.append(await self._light(head, wire))
                tell(walked[-1])
            await self._call(Word.GIVE_BACK)
            return walked
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    def _lamps(self) -> Iterator[tuple[Head, Wire]]:
        heads = {head.id: head for head in self._venue.heads}
        for wire in self._venue.wires:
            if wire.direction == "out":
                yield heads[wire.place], wire

    async def _light(self, head: Head, wire: Wire) -> Walked:
        self._shown.pop(head.id, None)
        aspect = aspect_with(head, wire.aspect)
        await self._call(Word.SHOW, head=head.id, aspect=aspect, lamp=wire.aspect)
        shown = await self._settled(head, wire)
        driven = list(shown.driven) if shown else []
        proven = None if shown is None or shown.proven is None else list(shown.proven)
        outcome, why = await self._judge(wire, driven, proven, heard=shown is not None)
        return Walked(wire.ref, wire.row, head.id, wire.aspect, driven, proven, outcome, why)

    async def _settled(self, head: Head, wire: Wire) -> Shown | None:
        """Wait until the head drives the lamp alone and its sensors had their time; the last word counts."""
        loop = asyncio.get_running_loop()
        end_s = loop.time() + self._venue.timing.settle / 1000 + TAKES_S
        while loop.time() < end_s:
            shown = self._shown.get(head.id)
            if shown is not None and shown.driven == [wire.aspect]:
                await asyncio.sleep(self._believed_s(wire))
                break
            self._news.clear()
            try:
                async with asyncio.timeout_at(end_s):
                    await self._news.wait()
            except TimeoutError:
                break
        return self._shown.get(head.id)

    def _believed_s(self, wire: Wire) -> float:
        """Give how long a lamp must be driven until its proof counts: a flash, its sensor, a report."""
        flash_ms, report_ms = self._venue.choices.flash_period_ms, self._venue.timing.lease_head / 2
        return ((wire.prove_ms or PROVE_MS) + flash_ms + report_ms) / 1000 + POLLS_S

    async def _judge(
        self, wire: Wire, driven: list[str], proven: list[str] | None, *, heard: bool
    ) -> tuple[Outcome, str]:
        if not heard:
            return "wrong", f"{wire.place} says nothing"
        if driven != [wire.aspect]:
            return "wrong", f"{wire.place} drives {_listed(driven)}"
        if proven is not None:
            if proven == [wire.aspect]:
                return "seen", "proven"
            return (
                "wrong",
                f"its sensors see {_listed(proven)}: the wire, the lamp or the sensor is another's",
            )
        said = await self._ask(wire, f"{wire.place}: does {wire.aspect} burn, and nothing else?")
        if said is None:
            return "not seen", "no sensor, and nobody asked"
        return ("seen", "a person saw it") if said else ("wrong", "a person saw something else")

    async def _call(self, word: Word, **fields: object) -> None:
        answer: Answer | None = await self._caller.ask({"call": word, **fields}, wait_s=ANSWER_S)
        if answer is None:
            raise Unusable(f"{word}: no answer; is `kerblight run` up, and the post's password right?")
        if not answer.accepted:
            raise Unusable(f"{word}: {' '.join(refusal.sentence for refusal in answer.refusals)}")

    def _take(self, arrived: Arrived) -> None:
        levels = self._topics.split(arrived.topic)
        try:
            self._shown[levels[1]] = decode(Shown, arrived.payload)
        except Malformed:
            return
        self._news.set()


def aspect_with(head: Head, lamp: str) -> Aspect:
    """Give the aspect under which a lamp is lit in a test: the one with the fewest lamps that has it."""
    able = [aspect for aspect, lamps in head.aspects.items() if lamp in lamps]
    return min(able, key=lambda aspect: len(head.aspects[aspect]))


def recorded(wires: tuple[Wire, ...], walked: list[Walked], day: date) -> list[Wire]:
    """Write the day into `tested_on` of the lamps that were seen, and of the sensors that proved them."""
    seen = {each.ref: each for each in walked if each.outcome == "seen"}
    tested = set(seen)
    tested |= {w.feedback_ref for w in wires if w.feedback_ref and w.ref in seen and seen[w.ref].proven}
    return [
        msgspec.structs.replace(wire, tested_on=day.isoformat()) if wire.ref in tested else wire
        for wire in wires
    ]


def _listed(lamps: list[str]) -> str:
    return ", ".join(lamps) or "nothing"
