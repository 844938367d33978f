"""Decide and act: one event, one decision of the core, and what follows from it on the bus.

A change is published within the same turn of the loop, the beat first: its stop flag is the fast
path to every head and kart.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterable

from signals.clock import Clock
from signals.controller.beats import Beats
from signals.controller.equipment import Equipment
from signals.controller.log import say
from signals.controller.publish import Publisher
from signals.controller.record import FAULTS, Record
from signals.core.machine import Core
from signals.core.state import TICK, Decision, Event, Picture, State
from signals.journal import Journal


class Decider:
    """Holds the state of one boot; everything that changes it goes through here."""

    def __init__(
        self,
        core: Core,
        state: State,
        equipment: Equipment,
        publisher: Publisher,
        beats: Beats,
        *,
        journal: Journal,
        clock: Clock,
        threaded: bool,
    ) -> None:
        self.state = state
        self.record = Record(
            journal, core, clock.now_ms, self._on_journal, boot=state.boot, threaded=threaded
        )
        self._core = core
        self._equipment = equipment
        self._publisher = publisher
        self._beats = beats
        self._clock = clock
        self._loop = asyncio.get_running_loop()
        self._pictured: tuple[State, Picture] | None = None

    @property
    def picture(self) -> Picture:
        """The state spelled out, once for each state."""
        if self._pictured is None or self._pictured[0] is not self.state:
            self._pictured = (self.state, self._core.picture(self.state))
        return self._pictured[1]

    def decide(self, event: Event) -> Decision:
        """Decide, and publish what changed."""
        decision = self._foresee(event)
        self.state = decision.state
        if decision.changed:
            self._say()
        return decision

    def changes_nothing(self, event: Event) -> bool:
        """Tell whether an event would leave every fact as it is; nothing is decided."""
        return self._foresee(event).state.facts == self.state.facts

    def happens(self, event: Event) -> None:
        """Let equipment or time do something: see `happen`."""
        self.happen((event,))

    def happen(self, events: Iterable[Event]) -> None:
        """Let equipment or time do several things at once: act on all, publish, then write them down.

        Raises:
            RuntimeError: the core refused one. What equipment does is never refused: rather no controller
                than one that overlooks it.

        """
        changes = [(event, decision) for event in events if (decision := self._taken(event)).changed]
        if not changes:
            return
        self._say()
        for event, _ in changes:
            if event.word in FAULTS:
                say(event.word, level=logging.WARNING, **event.fields)
        self.record.happened(changes)

    def _taken(self, event: Event) -> Decision:
        decision = self._foresee(event)
        if not decision.accepted:
            raise RuntimeError(f"the core refused {event}: {decision.refusals}")
        self.state = decision.state
        return decision

    def _foresee(self, event: Event) -> Decision:
        return self._core.step(self.state, event, self._clock.now_ms())

    def _say(self) -> None:
        self.beat()
        self.publish()

    def tick(self) -> None:
        """Let due deadlines act."""
        deadline_ms = self._core.next_deadline(self.state)
        if deadline_ms is not None and deadline_ms <= self._clock.now_ms():
            self.happens(TICK)

    def beat(self) -> None:
        """Send a beat now: before the whole picture is spelled out, which takes as long as deciding did."""
        stop, test = self._core.stopped(self.state), self._core.testing(self.state)
        now_s, at_ms = self._loop.time(), self._clock.now_ms()
        self._publisher.beat(self._beats.make(self.state.epoch, now_s, at_ms, stop=stop, test=test))

    def publish(self) -> None:
        """Say whatever was not said yet."""
        self._publisher.all(self.state, self.picture, self._equipment.nodes, self._equipment.heads.shown)

    def publish_state(self) -> None:
        """Say the whole picture, if only what heads show has changed in it."""
        self._publisher.state(self.state, self.picture, self._equipment.heads.shown)

    def _on_journal(self, works: bool) -> None:  # noqa: FBT001 - a callback of one argument
        self.happens(Event("journal-back" if works else "journal-failed"))
