"""The player: walks through a sequence as any client of the contract could.

It calls through the posts' own clients, looks at the published topics, asks simulated parts for
events on `inject`, and processes through whoever keeps them. In virtual time or real, with
simulated equipment or lights: it cannot tell.
"""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, Protocol

from msgspec import Struct

from signals.caller import Caller
from signals.mqtt.contract import Answer, Inject
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.sequence.events import KINDS, addressee
from signals.sequence.expect import Window, expectation_of, until, watch
from signals.sequence.form import EVENT_FIELDS, StepTable, call_fields
from signals.sequence.load import Sequence, Step
from signals.sequence.observer import Observer
from signals.sequence.prelude import bring_about
from signals.sequence.result import Outcome, Result, StepResult
from signals.venue.model import Venue

LONGEST_S = 60.0
LATE_MS = 1000
"""What comes late after its cause is waited for so much longer, to tell how late."""
SETTLE_WITHIN_S = 10.0


class Processes(Protocol):
    """Whoever keeps the processes: a supervisor, or a stage in virtual time."""

    async def kill(self, name: str) -> None:
        """End one as a power cut would; it stays away until `start`."""

    async def start(self, name: str) -> None:
        """Start it again and wait until it is ready."""


class Came(Struct, frozen=True):
    """What came of a step's doing; `ms` where it is not the time the step took."""

    outcome: Outcome
    expected: str
    came: str
    ms: int | None = None


def _met(met: bool, expected: str, came: str) -> Came:  # noqa: FBT001 - reads as a sentence
    return Came("met" if met else "unmet", expected, came)


class Player:
    """Play one sequence.

    Args:
        sequence: as loaded for `venue`.
        make_link: makes the posts' and the observer's links; passwords are found by client name.
        processes: None where nobody keeps them: then their events are not applicable.
        tell: called with every step's result as it comes.
        observer: ears that listen already, of whoever plays several sequences in turn: the venue has then
            heard everybody, and they know since when a head shows what it shows.

    """

    def __init__(
        self,
        sequence: Sequence,
        venue: Venue,
        make_link: MakeLink,
        *,
        processes: Processes | None = None,
        tell: Callable[[StepResult], None] = lambda _: None,
        observer: Observer | None = None,
    ) -> None:
        self._settled_before = observer is not None
        self._cause_s = 0.0
        self._sequence = sequence
        self._venue = venue
        self._processes = processes
        self._tell = tell
        self._results: list[StepResult] = []
        self._observer = observer or Observer(venue, make_link)
        topics = Topics.of(venue.id, simulated=venue.simulated)
        posts = {sequence.file.start.post, *(step.table.post for step in sequence.steps if step.table.post)}
        self._callers = {post: Caller(topics, post, make_link, device="player") for post in sorted(posts)}
        self._first_seen: tuple[str, int] | None = None
        self._began_s = 0.0

    async def run(self) -> Result:
        """Play it through; cancelled midway, `result` tells what was reached."""
        async with self._connected():
            if await self._start():
                self._began_s = asyncio.get_running_loop().time()
                for step in self._sequence.steps:
                    self._note(await self._play(step))
        return self.result()

    def result(self) -> Result:
        """Give what came so far; steps not reached count as unmet."""
        steps = [*self._results, *map(_unreached, self._sequence.steps[max(len(self._results) - 1, 0) :])]
        start = self._sequence.file.start
        return Result(
            title=self._sequence.file.title,
            file=str(self._sequence.path),
            venue=self._venue.id,
            seed=start.seed,
            held=all(step.held for step in steps),
            steps=steps,
        )

    @asynccontextmanager
    async def _connected(self) -> AsyncIterator[None]:
        clients = [caller.run() for caller in self._callers.values()]
        clients += [] if self._settled_before else [self._observer.run()]
        runs = [asyncio.ensure_future(client) for client in clients]
        try:
            yield
        finally:
            for run in runs:
                run.cancel()
            await asyncio.gather(*runs, return_exceptions=True)

    async def _start(self) -> bool:
        """Bring about what `[start]` asks for."""
        clock = _Stopwatch()
        start = self._sequence.file.start
        missing = await self._settled() or await bring_about(start, self._venue, self._callers[start.post])
        state = self._observer.state
        self._first_seen = (state.boot, state.seq) if state else None
        self._note(
            StepResult(
                step=0,
                line=0,
                what="start",
                expected=f"{start.phase}, {len(start.group)} in the group, {len(start.out)} out",
                came=missing or "so it is",
                ms=clock.ms(),
                outcome="unmet" if missing else "met",
            )
        )
        return not missing

    async def _settled(self) -> str:
        """Wait until the controller is heard, and had time to hear everybody; gives what is missing."""
        timing = self._venue.timing
        try:
            async with asyncio.timeout(SETTLE_WITHIN_S):
                await self._observer.connected()
                for caller in self._callers.values():
                    await caller.heard.wait()
                if not self._settled_before:
                    await asyncio.sleep((timing.settle + timing.lease_kart) / 1000)
        except TimeoutError:
            why = next((caller.why for caller in self._callers.values() if caller.why), "")
            return f"no controller was heard within {SETTLE_WITHIN_S:g} s{why}"
        return ""

    async def _play(self, step: Step) -> StepResult:
        missed = await self._wait(step.table)
        clock = _Stopwatch()
        came = missed or await self._do(step)
        return StepResult(
            step=step.number,
            line=step.line,
            what=described(step),
            expected=came.expected,
            came=came.came,
            ms=clock.ms() if came.ms is None else came.ms,
            outcome=came.outcome,
            optional=step.table.optional,
        )

    async def _wait(self, step: StepTable) -> Came | None:
        """Wait until the step is due; gives what was missed where it never is."""
        if step.until is not None:
            longest_ms = round((LONGEST_S if step.longest_s is None else step.longest_s) * 1000)
            awaited = until(step.until, self._observer)
            if not await watch(self._observer, awaited, Window(longest_ms)):
                return Came("unmet", f"until {awaited.words} within {longest_ms / 1000:g} s", awaited.now())
        elif step.at_s is not None:
            await asyncio.sleep(max(0.0, self._began_s + step.at_s - asyncio.get_running_loop().time()))
        elif step.after_ms:
            await asyncio.sleep(step.after_ms / 1000)
        return None

    async def _do(self, step: Step) -> Came:
        if step.form in ("call", "event"):
            self._cause_s = asyncio.get_running_loop().time()
            return await (self._call if step.form == "call" else self._event)(step.table)
        if step.table.since_cause:
            return await self._follows(step)
        expectation = expectation_of(step.table, step.form, self._venue, self._observer)
        window = Window.of(step.table)
        met = await watch(self._observer, expectation, window)
        return _met(met, f"{expectation.words} {window}", expectation.now())

    async def _follows(self, step: Step) -> Came:
        """Look whether a head followed the last cause in time; one that is late is waited for to tell."""
        expectation = expectation_of(step.table, step.form, self._venue, self._observer)
        within_ms = Window.of(step.table).within_ms
        gone_ms = round(1000 * (asyncio.get_running_loop().time() - self._cause_s))
        window = Window(max(0, within_ms - gone_ms) + LATE_MS)
        expected = f"{expectation.words} within {within_ms} ms of its cause"
        if not await watch(self._observer, expectation, window):
            return Came("unmet", expected, expectation.now(), within_ms + LATE_MS)
        ms = max(0, round(1000 * ((expectation.since_s() or self._cause_s) - self._cause_s)))
        late = ms > within_ms
        return Came("unmet" if late else "met", expected, f"{expectation.now()} after {ms} ms", ms)

    async def _call(self, step: StepTable) -> Came:
        expected = _expected_answer(step)
        answer = await self._callers[str(step.post)].ask(self._fields(step))
        if answer is None:
            return Came("unmet", expected, "no answer")
        return _met(_as_expected(step, answer), expected, _spelled(answer))

    def _fields(self, step: StepTable) -> dict[str, Any]:
        fields = call_fields(step)
        if step.id is not None:
            fields["id"] = step.id
        if step.stale and self._first_seen is not None:
            fields["boot"], fields["seq"] = self._first_seen
        if step.valid_s is not None and self._observer.state is not None:
            fields["until"] = self._observer.state.at + round(step.valid_s * 1000)
        return fields

    async def _event(self, step: StepTable) -> Came:
        event = str(step.event)
        kind = KINDS[event]
        if kind.addressee == "process":
            return await self._process(event)
        if kind.addressee == "monitor":
            sent = self._callers[str(step.post)].reset_monitor(str(step.reason))
            return _met(sent, event, "sent" if sent else "not connected")
        if not self._venue.simulated:
            return Came("not-applicable", event, "this equipment is real")
        to = addressee(kind, self._venue, head=step.head, kart=step.kart, wired=step.input)
        fields = {name: value for name in EVENT_FIELDS if (value := getattr(step, name)) is not None}
        done = await self._observer.inject(to, Inject(id=str(uuid.uuid4()), event=event, **fields))
        if done is None:
            return Came("not-applicable", event, f"nobody answers for {to}")
        return Came("met" if done.done else "not-applicable", event, done.said)

    async def _process(self, event: str) -> Came:
        name, _, what = event.rpartition("-")
        if self._processes is None:
            return Came("not-applicable", event, "nobody here keeps the processes")
        try:
            await (self._processes.kill(name) if what == "killed" else self._processes.start(name))
        except NotImplementedError as error:
            return Came("not-applicable", event, str(error))
        return Came("met", event, "done")

    def _note(self, result: StepResult) -> None:
        self._results.append(result)
        self._tell(result)


class _Stopwatch:
    def __init__(self) -> None:
        self._from_s = asyncio.get_running_loop().time()

    def ms(self) -> int:
        return round((asyncio.get_running_loop().time() - self._from_s) * 1000)


def _expected_answer(step: StepTable) -> str:
    if step.rules is not None:
        return f"refused by {', '.join(sorted(step.rules))}"
    recorded = {None: "", True: ", recorded", False: ", not recorded"}[step.recorded]
    return (step.answer or "accepted") + recorded


def _as_expected(step: StepTable, answer: Answer) -> bool:
    refused = step.answer == "refused" or step.rules is not None
    names = {refusal.rule for refusal in answer.refusals}
    return (
        answer.accepted != refused
        and (step.rules is None or names == set(step.rules))
        and step.recorded in (None, answer.recorded)
    )


def _spelled(answer: Answer) -> str:
    recorded = "" if answer.recorded else ", not recorded"
    if answer.accepted:
        return "accepted" + recorded
    return f"refused by {', '.join(sorted({refusal.rule for refusal in answer.refusals}))}"


def described(step: Step) -> str:
    """Say in a few words what a step does or looks at."""
    table = step.table
    if step.form == "call":
        about = (table.where, table.kart, table.head, table.item, table.hold, table.to)
        return _words(f"{table.post}:", table.call, *about)
    if step.form == "event":
        return _words(table.event, table.kart, table.head, table.where, table.input)
    return f"{step.form.replace('_', ' ')} {getattr(table, step.form)}"


def _words(*words: object) -> str:
    return " ".join(str(word) for word in words if word is not None)


def _unreached(step: Step) -> StepResult:
    return StepResult(
        step=step.number,
        line=step.line,
        what=described(step),
        expected="to be reached",
        came="the sequence ended before",
        ms=0,
        outcome="unreached",
    )
