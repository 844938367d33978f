"""The calls of persons: served in order, answered once what came of them is written."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable, Iterable

import msgspec

from signals.controller.calls import PERMISSIVE, WAITING_MAX, CallQueue, Pace, event_of
from signals.controller.deciding import Decider
from signals.controller.log import Complaints
from signals.controller.publish import Publisher
from signals.controller.record import Written
from signals.core.state import Decision
from signals.mqtt.contract import Answer, Call, Refused
from signals.words import Word


class Desk:
    """Takes calls; `look` is called after each permissive one, before the next is served."""

    def __init__(
        self,
        posts: Iterable[str],
        decider: Decider,
        publisher: Publisher,
        complaints: Complaints,
        look: Callable[[], None],
    ) -> None:
        names = tuple(posts)
        self._urgent = CallQueue(names)
        self._patient = CallQueue(names)
        self._decider = decider
        self._publisher = publisher
        self._complaints = complaints
        self._look = look
        self._pace = Pace(asyncio.get_running_loop().time)
        self._answers: asyncio.TaskGroup
        self.answered: Counter[str] = Counter()
        """How many calls were accepted, and how many refused."""

    async def run(self) -> None:
        """Serve until cancelled."""
        async with asyncio.TaskGroup() as tasks:
            self._answers = tasks
            tasks.create_task(self._serve_urgent())
            tasks.create_task(self._serve_patient())

    def take(self, post: str, call: Call) -> None:
        """Act on a stop at once; let the others wait their turn, those that permit apart from the rest."""
        queue = self._patient if call.call in PERMISSIVE else self._urgent
        if call.call is Word.STOP:
            self._restrict(post, call)
        elif not queue.put(post, call):
            self._refuse(post, call)

    def _refuse(self, post: str, call: Call) -> None:
        """Refuse a call that finds too many waiting; of a flood most are only counted."""
        if self._pace.too_many(post):
            self._count(post)
            return
        sentence = f"{WAITING_MAX} of your calls wait already; wait for their answers."
        refused = [Refused(rule="too-many-calls", sentence=sentence)]
        self._publisher.answer(post, self._answer(call, refused))

    async def _serve_urgent(self) -> None:
        while True:
            self._restrict(*await self._urgent.take())

    async def _serve_patient(self) -> None:
        while True:
            await self._permit(*await self._patient.take())

    def _restrict(self, post: str, call: Call) -> None:
        """Act, write, answer; what a flood repeats is only counted: it stands already."""
        event = event_of(post, call)
        if self._pace.too_many(post) and self._decider.changes_nothing(event):
            self._count(post)
            return
        decision = self._decider.decide(event)
        answer = self._answer_to(call, decision)
        written = self._decider.record.acted(self._decider.state, event, decision, answer, call)
        self._answers.create_task(self._answer_once(written, post, answer))

    def _count(self, post: str) -> None:
        self._complaints.take(f"call/{post}", "more calls than can be answered")

    async def _permit(self, post: str, call: Call) -> None:
        """Write, act, write what came of it, answer. If the first fails, the core refuses by itself."""
        record = self._decider.record
        await record.written(record.called(self._decider.state, post, call))
        event = event_of(post, call)
        decision = self._decider.decide(event)
        answer = self._answer_to(call, decision)
        written = record.acted(self._decider.state, event, decision, answer)
        self._look()
        await self._answer_once(written, post, answer)

    async def _answer_once(self, written: Written, post: str, answer: Answer) -> None:
        recorded = await self._decider.record.written(written)
        self._publisher.answer(post, msgspec.structs.replace(answer, recorded=recorded))

    def _answer_to(self, call: Call, decision: Decision) -> Answer:
        return self._answer(
            call, [Refused(rule=one.rule, sentence=one.sentence) for one in decision.refusals]
        )

    def _answer(self, call: Call, refusals: list[Refused]) -> Answer:
        seq = self._decider.state.serial
        self.answered["refused" if refusals else "accepted"] += 1
        return Answer(id=call.id, accepted=not refusals, recorded=False, refusals=refusals, seq=seq)
