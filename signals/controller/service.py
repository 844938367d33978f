"""The controller: calls and reports in, decisions of the core, beats, commands and answers out.

Everything that must be fast runs in one turn of the loop, without waiting: a stop goes from its
arrival to the beat and the aspects before anything else is done. Only the disk is waited for.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Callable
from importlib.metadata import version
from typing import Any, Literal

from signals.clock import Clock
from signals.controller.beats import Beats
from signals.controller.broker import BrokerWatch
from signals.controller.day import day_end_after
from signals.controller.deciding import Decider
from signals.controller.desk import Desk
from signals.controller.equipment import Equipment
from signals.controller.health import Pulse, health_of
from signals.controller.intake import Heard, Intake
from signals.controller.layout import layout_of
from signals.controller.log import Complaints, say
from signals.controller.opening import OpeningWatch
from signals.controller.publish import Publisher
from signals.controller.restart import begin
from signals.core.machine import Core
from signals.core.state import Event, Layout
from signals.health.report import Health
from signals.journal import Journal
from signals.mqtt import contract
from signals.mqtt.codec import encode
from signals.mqtt.contract import ControllerStatus
from signals.mqtt.link import Arrived, Owner, Will
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue
from signals.words import Phase

FIRST_CONTACT_S = 5.0
"""How long equipment may take to be heard after a start: then it is lost, before the monitor misses it."""
MakeCore = Callable[[Layout], Core]
QUIET = (Phase.CLOSED, Phase.TEST, Phase.STAGING)
"""Phases in which no head is told green by itself and no kart may leave the pit."""


def patience_s(venue: Venue) -> float:
    """Give how long equipment may take to be heard after a start: a silence of its lease is none."""
    return max(FIRST_CONTACT_S, *(node.lease_ms / 1000 for node in venue.nodes))


class Controller:
    """Runs one venue. `threaded` writes the journal beside the loop: for real time only.

    `make_core` compiles the rules for a layout, which takes a second: a core is pure, so whoever runs
    many controllers of one venue in turn may give them the same one.
    """

    def __init__(
        self,
        venue: Venue,
        make_link: MakeLink,
        *,
        journal: Journal,
        clock: Clock,
        threaded: bool = False,
        make_core: MakeCore | None = None,
    ) -> None:
        self._venue = venue
        self._make_link = make_link
        self._journal = journal
        self._clock = clock
        self._threaded = threaded
        self._make_core = make_core
        self._boot: _Boot | None = None

    async def run(self, ready: Callable[[], None]) -> None:
        """Work until cancelled; `ready` is called once everything was published.

        Raises:
            Unusable: the journal holds a state that does not fit the venue.

        """
        boot = _Boot(
            self._venue,
            self._make_link,
            self._journal,
            self._clock,
            threaded=self._threaded,
            make_core=self._make_core or Core,
        )
        self._boot = boot
        await boot.run(ready)

    def health(self) -> Health:
        """Tell how it is."""
        return self._boot.health() if self._boot else Health("starting", well=False)


class _Boot:
    """One boot of the controller, from its start to its end."""

    def __init__(
        self,
        venue: Venue,
        make_link: MakeLink,
        journal: Journal,
        clock: Clock,
        *,
        threaded: bool,
        make_core: MakeCore,
    ) -> None:
        self._boot = secrets.token_hex(4)
        self._venue = venue
        self._clock = clock
        self._loop = asyncio.get_running_loop()
        core = make_core(layout_of(venue, clock.now_ms()))
        beginning = begin(core, journal, self._boot)
        self._beginning = beginning
        self._since_ms = beginning.since_ms
        self._opening = OpeningWatch(venue, clock, real_time=threaded)
        self._day_end_ms = day_end_after(venue.operating, self._since_ms or clock.now_ms())
        topics = Topics.of(venue.id, simulated=venue.simulated)
        self._complaints = Complaints()
        self._intake = Intake(venue, topics, self._complaints)
        self._link = make_link(
            "controller",
            subscriptions=self._intake.subscriptions,
            will=Will(topics.name("controller", "status"), encode(self._status("gone"))),
            owner=Owner(self._on_message, self._on_up, self._on_down),
        )
        self._publisher = Publisher(venue, topics, self._link.publish, clock.now_ms)
        self._beats = Beats(self._boot)
        self._equipment = Equipment(venue, self._beats.sent_at, self._complaints)
        self._decider = Decider(
            core,
            beginning.state,
            self._equipment,
            self._publisher,
            self._beats,
            journal=journal,
            clock=clock,
            threaded=threaded,
        )
        posts = (post.id for post in venue.posts)
        self._desk = Desk(posts, self._decider, self._publisher, self._complaints, self._sweep)
        self._broker = BrokerWatch(venue.timing.lease_controller / 1000)
        self._connected = asyncio.Event()
        self._patient_until_s = float("inf")
        self._beat_s = self._loop.time()
        self._late_s = 0.0
        self._beats_made = 0

    async def run(self, ready: Callable[[], None]) -> None:
        """Begin, connect, and keep time until cancelled."""
        try:
            self._begin()
            async with asyncio.TaskGroup() as tasks:
                tasks.create_task(self._desk.run())
                tasks.create_task(self._link.run())
                await self._connected.wait()
                self._patient_until_s = self._loop.time() + patience_s(self._venue)
                ready()
                try:
                    await self._keep_time()
                finally:
                    self._publisher.status(self._status("gone"))
        finally:
            self._complaints.sum_up()
            await self._decider.record.close()

    def _begin(self) -> None:
        """Take up what the last boot left, and say so."""
        about: dict[str, Any] = {
            "version": version("kerblight"),
            "venue": self._venue.id,
            "digest": self._venue.digest,
            "simulated": self._venue.simulated,
            "restart": self._since_ms is not None,
        }
        say("begins", boot=self._boot, **about)
        decider = self._decider
        decider.record.booted(decider.state, about)
        if self._since_ms is not None:
            decider.happens(Event("restart", fields={"reason": "the controller began anew"}))
        if decider.picture.journal == "failed" and decider.record.works:
            decider.happens(Event("journal-back"))
        self._end_day()
        for event in self._opening.begin(decider.state, self._beginning, self._day_end_ms):
            say("opening-set", **event.fields)
            decider.happens(event)

    async def _keep_time(self) -> None:
        """Beat on a fixed schedule; a beat that is late does not move the next one."""
        period_s = self._venue.timing.beat / 1000
        due_s = self._loop.time()
        while True:
            self._decider.beat()
            self._beat_s, self._beats_made = self._loop.time(), self._beats_made + 1
            self._late_s = max(self._late_s, self._beat_s - due_s)
            self._sweep()
            due_s = max(due_s + period_s, self._loop.time())
            await asyncio.sleep(due_s - self._loop.time())

    def health(self) -> Health:
        """Tell how it is, and begin to measure anew how late beats come."""
        late_s, self._late_s = self._late_s, 0.0
        pulse = Pulse(
            up=self._link.up,
            beat_s=self._loop.time() - self._beat_s if self._connected.is_set() else 0.0,
            late_s=late_s,
            beats=self._beats_made,
            answers=self._desk.answered,
            not_taken=self._complaints.total,
            moved_ms=self._clock.moved_ms(),
        )
        return health_of(self._decider.picture, pulse)

    def _sweep(self) -> None:
        """Look at what time alone brings about: deadlines, silence, the end of the day."""
        decider, now_s = self._decider, self._loop.time()
        decider.tick()
        decider.happen(self._broker.sweep(now_s))
        decider.happen(self._equipment.sweep(decider.picture, now_s, settling=self._settling))
        self._end_day()
        for event in self._opening.sweep(decider.state):
            say("opening-set", level=logging.WARNING, **event.fields)
            decider.happens(event)
        decider.publish_state()

    @property
    def _settling(self) -> bool:
        """Whether equipment that was never heard may still be starting: nothing permissive is commanded."""
        picture = self._decider.picture
        return (picture.stopped or picture.phase in QUIET) and self._loop.time() < self._patient_until_s

    def _end_day(self) -> None:
        if self._clock.now_ms() >= self._day_end_ms:
            self._day_end_ms = day_end_after(self._venue.operating, self._clock.now_ms())
            self._decider.happens(Event("day-ended"))

    def _on_up(self) -> None:
        """Say everything anew: the broker may remember nothing."""
        say("connected")
        self._broker.reach(self._loop.time())
        self._publisher.forget()
        self._publisher.status(self._status("ready"))
        self._decider.beat()
        self._decider.publish()
        self._connected.set()

    def _on_down(self, reason: str) -> None:
        say("disconnected", level=logging.WARNING, reason=reason)

    def _on_message(self, arrived: Arrived) -> None:
        if heard := self._intake.take(arrived):
            self._hear(heard)

    def _hear(self, heard: Heard) -> None:
        match heard.message:
            case contract.Call() as call:
                self._desk.take(heard.name, call)
            case contract.Beat(boot=boot, seq=seq) if boot == self._boot:
                self._broker.reach(self._beats.sent_at(seq))
            case contract.Beat(boot=boot):
                self._foreign(boot)
            case ControllerStatus(status="ready", boot=boot) if boot != self._boot:
                self._foreign(boot)
            case _:
                self._hear_equipment(heard)

    def _hear_equipment(self, heard: Heard) -> None:
        """Act on a report. For a node's status: its losses first, only then its new incarnation is told."""
        decider, now_s = self._decider, self._loop.time()
        decider.happen(self._equipment.hear(heard, decider.picture, now_s, settling=self._settling))
        if isinstance(heard.message, contract.NodeStatus):
            self._equipment.nodes.address(heard.name, heard.message, now_s)
            decider.publish()

    def _foreign(self, boot: str) -> None:
        reason = f"another controller speaks on this venue's topics (boot {boot})"
        self._decider.happens(Event("foreign-controller", fields={"reason": reason}))

    def _status(self, status: Literal["ready", "gone"]) -> ControllerStatus:
        return ControllerStatus(status=status, boot=self._boot)
