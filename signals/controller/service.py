"""The controller: calls and reports in, decisions of the core, beats, commands and answers out.

Everything that must be fast runs in one turn of the loop, without waiting: a stop goes from its
arrival to the beat and the aspects before anything else is done. Only the disk is waited for.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Callable, Iterable
from importlib.metadata import version
from typing import Any

import msgspec

from signals.clock import Clock
from signals.controller.beats import Beats
from signals.controller.broker import BrokerWatch
from signals.controller.calls import PERMISSIVE, WAITING_MAX, CallQueue, event_of
from signals.controller.contacts import Inputs, MonitorWatch
from signals.controller.day import day_end_after
from signals.controller.heads import Heads
from signals.controller.intake import Heard, Intake
from signals.controller.karts import Karts
from signals.controller.layout import layout_of
from signals.controller.log import Complaints, say
from signals.controller.nodes import Nodes
from signals.controller.places import Places
from signals.controller.publish import Publisher
from signals.controller.record import FAULTS, Record, Written
from signals.controller.restart import begin
from signals.core.machine import Core
from signals.core.state import TICK, Decision, Event, Picture
from signals.journal import Journal
from signals.mqtt import contract
from signals.mqtt.codec import encode
from signals.mqtt.contract import Answer, Call, ControllerStatus, Refused
from signals.mqtt.link import Arrived, Owner, Will
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue
from signals.words import Phase, Verdict, Word

FIRST_CONTACT_S = 10.0
"""How long equipment may take to be heard after a start: as long as a process may take to be ready."""


class Controller:
    """Runs one venue. `threaded` writes the journal beside the loop: for real time only.

    Raises Unusable if the journal holds a state that does not fit the venue.
    """

    def __init__(
        self, venue: Venue, make_link: MakeLink, *, journal: Journal, clock: Clock, threaded: bool = False
    ) -> None:
        self._venue = venue
        self._make_link = make_link
        self._journal = journal
        self._clock = clock
        self._threaded = threaded

    async def run(self, ready: Callable[[], None]) -> None:
        """Work until cancelled; `ready` is called once everything was published."""
        boot = _Boot(self._venue, self._make_link, self._journal, self._clock, threaded=self._threaded)
        await boot.run(ready)


class _Boot:
    """One boot of the controller, from its start to its end."""

    def __init__(
        self, venue: Venue, make_link: MakeLink, journal: Journal, clock: Clock, *, threaded: bool
    ) -> None:
        self.boot = secrets.token_hex(4)
        self.venue = venue
        self.clock = clock
        self.loop = asyncio.get_running_loop()
        self.core = Core(layout_of(venue, clock.now_ms()))
        beginning = begin(self.core, journal, self.boot)
        self.state = beginning.state
        self.began_from_ms = beginning.since_ms
        topics = Topics.of(venue.id, simulated=venue.simulated)
        self.complaints = Complaints()
        self.intake = Intake(venue, topics, self.complaints)
        self.link = make_link(
            "controller",
            subscriptions=self.intake.subscriptions,
            will=Will(topics.name("controller", "status"), encode(self._status("gone"))),
            owner=Owner(self._on_message, self._on_up, self._on_down),
        )
        self.publisher = Publisher(venue, topics, self.link.publish, clock.now_ms)
        self.beats = Beats(self.boot)
        self.nodes = Nodes(venue)
        self.heads = Heads(venue, self.nodes)
        self.karts = Karts(venue, self.nodes)
        self.inputs = Inputs(venue, self.nodes)
        self.places = Places(venue)
        self.monitor = MonitorWatch()
        self.broker = BrokerWatch(venue.timing.lease_controller / 1000)
        self.urgent = CallQueue(post.id for post in venue.posts)
        self.patient = CallQueue(post.id for post in venue.posts)
        self.record = Record(
            journal, self.core, clock.now_ms, self._on_journal, boot=self.boot, threaded=threaded
        )
        self.tasks = asyncio.TaskGroup()
        self.connected = asyncio.Event()
        self.patient_until_s = float("inf")
        self.day_end_ms = day_end_after(venue.operating, self.began_from_ms or clock.now_ms())

    # ── the run ──

    async def run(self, ready: Callable[[], None]) -> None:
        """Begin, connect, and keep time until cancelled."""
        try:
            self._begin()
            async with self.tasks:
                self.tasks.create_task(self.link.run())
                await self.connected.wait()
                self.tasks.create_task(self._serve_urgent())
                self.tasks.create_task(self._serve_patient())
                self.patient_until_s = self.loop.time() + FIRST_CONTACT_S
                ready()
                try:
                    await self._keep_time()
                finally:
                    self.publisher.status(self._status("gone"))
        finally:
            self.complaints.sum_up()
            await self.record.close()

    def _begin(self) -> None:
        """Take up what the last boot left, and say so."""
        about: dict[str, Any] = {
            "version": version("kerblight"),
            "venue": self.venue.id,
            "digest": self.venue.digest,
            "simulated": self.venue.simulated,
            "restart": self.began_from_ms is not None,
        }
        say("begins", boot=self.boot, **about)
        self.record.booted(self.state, about)
        if self.began_from_ms is not None:
            self.happens(Event("restart", fields={"reason": "the controller began anew"}))
        if self.picture.journal == "failed" and self.record.works:
            self.happens(Event("journal-back"))
        self._end_day()
        if self.venue.simulated:
            say("opening-verdict-is-simulated", until=self.day_end_ms)
            self.happens(
                Event("verdict-simulated", fields={"verdict": Verdict.OPEN, "until": self.day_end_ms})
            )

    async def _keep_time(self) -> None:
        """Beat on a fixed schedule; a beat that is late does not move the next one."""
        period_s = self.venue.timing.beat / 1000
        due_s = self.loop.time()
        while True:
            self._beat()
            self._sweep()
            due_s = max(due_s + period_s, self.loop.time())
            await asyncio.sleep(due_s - self.loop.time())

    def _sweep(self) -> None:
        """Look at what time alone brings about: silence, deadlines, the end of the day."""
        now_s, settling = self.loop.time(), self.settling
        deadline_ms = self.core.next_deadline(self.state)
        if deadline_ms is not None and deadline_ms <= self.clock.now_ms():
            self.happens(TICK)
        self._happen(self.broker.sweep(now_s))
        self._happen(self.monitor.sweep(self.picture, settling=settling))
        self._happen(self.heads.sweep(self.picture, now_s, settling=settling))
        self._happen(self.karts.sweep(self.picture, now_s, settling=settling))
        self._happen(self.inputs.sweep(now_s, settling=settling))
        self._end_day()
        self.publisher.state(self.state, self.picture, self.heads.shown)

    def _end_day(self) -> None:
        if self.clock.now_ms() >= self.day_end_ms:
            self.day_end_ms = day_end_after(self.venue.operating, self.clock.now_ms())
            self.happens(Event("day-ended"))

    @property
    def settling(self) -> bool:
        """Whether equipment that was never heard may still be starting: nothing permissive is commanded."""
        quiet = self.picture.stopped or self.picture.phase in (Phase.CLOSED, Phase.TEST)
        return quiet and self.loop.time() < self.patient_until_s

    # ── deciding ──

    @property
    def picture(self) -> Picture:
        """The state spelled out (the core keeps it per state)."""
        return self.core.picture(self.state)

    def happens(self, event: Event) -> None:
        """Let equipment or time do something: act, then write it down."""
        decision = self._decide(event)
        if decision.changed:
            if event.word in FAULTS:
                say(event.word, level=logging.WARNING, **event.fields)
            self.record.happened(self.state, event, decision)

    def _happen(self, events: Iterable[Event]) -> None:
        for event in events:
            self.happens(event)

    def _decide(self, event: Event) -> Decision:
        """Decide and publish: the beat first, for its stop flag is the fast path."""
        decision = self.core.step(self.state, event, self.clock.now_ms())
        self.state = decision.state
        if decision.changed:
            self._beat()
            self._publish()
        return decision

    def _beat(self) -> None:
        beat = self.beats.make(self.picture, self.state.epoch, self.loop.time(), self.clock.now_ms())
        self.publisher.beat(beat)

    def _publish(self) -> None:
        self.publisher.all(self.state, self.picture, self.nodes, self.heads.shown)

    # ── calls ──

    def _take_call(self, post: str, call: Call) -> None:
        """Act on a stop at once; let the others wait their turn, those that permit apart from the rest."""
        if call.call is Word.STOP:
            self._restrict(post, call)
        elif not (self.patient if call.call in PERMISSIVE else self.urgent).put(post, call):
            sentence = f"{WAITING_MAX} calls of {post} wait already; wait for their answers."
            refused = [Refused(rule="too-many-calls", sentence=sentence)]
            self.publisher.answer(post, self._answer(call, refused))

    async def _serve_urgent(self) -> None:
        while True:
            self._restrict(*await self.urgent.take())

    async def _serve_patient(self) -> None:
        while True:
            await self._permit(*await self.patient.take())

    def _restrict(self, post: str, call: Call) -> None:
        """Act, write, answer."""
        event = event_of(post, call)
        decision = self._decide(event)
        answer = self._answer_to(call, decision)
        written = self.record.acted(self.state, event, decision, answer, call)
        self.tasks.create_task(self._answer_once(written, post, answer))

    async def _permit(self, post: str, call: Call) -> None:
        """Write, act, write what came of it, answer. If the first fails, the core refuses by itself."""
        await self.record.written(self.record.called(self.state, post, call))
        event = event_of(post, call)
        decision = self._decide(event)
        answer = self._answer_to(call, decision)
        await self._answer_once(self.record.acted(self.state, event, decision, answer), post, answer)

    async def _answer_once(self, written: Written, post: str, answer: Answer) -> None:
        recorded = await self.record.written(written)
        self.publisher.answer(post, msgspec.structs.replace(answer, recorded=recorded))

    def _answer_to(self, call: Call, decision: Decision) -> Answer:
        refusals = [Refused(rule=one.rule, sentence=one.sentence) for one in decision.refusals]
        return self._answer(call, refusals)

    def _answer(self, call: Call, refusals: list[Refused]) -> Answer:
        return Answer(
            id=call.id, accepted=not refusals, recorded=False, refusals=refusals, seq=self.state.serial
        )

    def _on_journal(self, works: bool) -> None:  # noqa: FBT001 - a callback of one argument
        self.happens(Event("journal-back" if works else "journal-failed"))

    # ── what arrives ──

    def _on_up(self) -> None:
        """Say everything anew: the broker may remember nothing."""
        say("connected")
        self.broker.reach(self.loop.time())
        self.publisher.forget()
        self.publisher.status(self._status("ready"))
        self._beat()
        self._publish()
        self.connected.set()

    def _on_down(self, reason: str) -> None:
        say("disconnected", level=logging.WARNING, reason=reason)

    def _on_message(self, arrived: Arrived) -> None:
        heard = self.intake.take(arrived)
        if heard is not None:
            self._hear(heard, arrived)

    def _hear(self, heard: Heard, arrived: Arrived) -> None:
        name = heard.name
        match heard.message:
            case Call() as call:
                self._take_call(name, call)
            case contract.Beat() as beat:
                self._hear_beat(beat)
            case contract.Shown() as shown:
                self.heads.hear(name, shown, self.beats.sent_at(shown.beat_seq))
            case contract.Taken() as taken:
                self.karts.hear(int(name), taken, self.beats.sent_at(taken.beat_seq))
            case contract.Where() as where:
                self._hear_where(int(name), where, arrived.topic)
            case contract.Passed() as passed:
                self._hear_passed(name, passed, arrived.topic)
            case contract.NodeStatus() as status:
                self._hear_node(name, status)
            case contract.InputReport() as report:
                self._happen(self.inputs.hear(name, report, self.beats.sent_at(report.beat_seq)))
            case contract.MonitorStatus() | contract.Trip() as said:
                self.monitor.hear(said)
                self._happen(self.monitor.sweep(self.picture, settling=self.settling))
            case ControllerStatus(status="ready") as status if status.boot != self.boot:
                self._foreign(status.boot)

    def _hear_beat(self, beat: contract.Beat) -> None:
        if beat.boot == self.boot:
            self.broker.reach(self.beats.sent_at(beat.seq))
        else:
            self._foreign(beat.boot)

    def _foreign(self, boot: str) -> None:
        reason = f"another controller speaks on this venue's topics (boot {boot})"
        self.happens(Event("foreign-controller", fields={"reason": reason}))

    def _hear_where(self, kart: int, where: contract.Where, topic: str) -> None:
        if not self.places.knows(where):
            self.complaints.take(topic, f"the venue has no place {where.sector}, in_pit {where.in_pit}")
            return
        self.karts.see(kart, where, self.loop.time())
        place = self.picture.karts[kart].place
        self._happen(self.places.report(kart, where, place, self.loop.time()))

    def _hear_passed(self, loop: str, passed: contract.Passed, topic: str) -> None:
        if not self.places.has(passed.kart):
            self.complaints.take(topic, f"the venue has no kart {passed.kart}")
            return
        place = self.picture.karts[passed.kart].place
        self._happen(self.places.passed(loop, passed.kart, place, self.loop.time()))

    def _hear_node(self, name: str, status: contract.NodeStatus) -> None:
        """Place the equipment's hold first, then address the new incarnation."""
        self._happen(self.nodes.lost_with(name, status, first_may_join=self.settling))
        self.nodes.address(name, status, self.loop.time())
        self._publish()

    def _status(self, status: str) -> ControllerStatus:
        return ControllerStatus(status="ready" if status == "ready" else "gone", boot=self.boot)
