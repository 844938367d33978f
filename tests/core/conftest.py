"""A core of a small venue, and a session that calls it."""

from __future__ import annotations

from itertools import count
from typing import Any

import pytest

from signals.core.machine import Core
from signals.core.state import TICK, Decision, Event, Member
from signals.proof.small import small_layout

NOON = 12 * 3_600_000


class Session:
    """Calls a core one after another, always having seen the latest state."""

    def __init__(self, core: Core) -> None:
        self.core = core
        self.state = core.begin("boot1")
        self.now_ms = NOON
        self._ids = count(1)

    def call(self, word: str, post: str = "desk", **fields: Any) -> Decision:
        seen = fields.pop("seen", (self.state.boot, self.state.serial))
        call_id = fields.pop("id", f"c{next(self._ids)}")
        return self._step(Event(word, post, fields, call_id, seen))

    def equipment(self, word: str, **fields: Any) -> Decision:
        return self._step(Event(word, "E", fields))

    def wait(self, ms: int) -> Decision:
        self.now_ms += ms
        return self._step(TICK)

    def ok(self, word: str, post: str = "desk", **fields: Any) -> Decision:
        decision = self.call(word, post, **fields)
        assert decision.accepted, decision.refusals
        return decision

    def refused(self, word: str, post: str = "desk", **fields: Any) -> set[str]:
        before = self.state
        decision = self.call(word, post, **fields)
        assert not decision.accepted
        assert self.state.facts == before.facts
        assert self.state.notes == before.notes
        assert all(refusal.sentence.endswith(".") for refusal in decision.refusals)
        assert not any("{" in refusal.sentence for refusal in decision.refusals)
        return {refusal.rule for refusal in decision.refusals}

    @property
    def picture(self) -> Any:
        return self.core.picture(self.state)

    def stage(self, *karts: int, klass: str = "adult") -> None:
        entries = tuple(Member(kart, f"driver {kart}", klass) for kart in karts or (1, 2))
        self.ok("verdict", verdict="open", until=1, checked=True)
        self.ok("stage", entries=entries)
        for item in self.core.layout.checklist:
            self.ok("confirm", item=item)

    def race(self, *karts: int) -> None:
        """Bring a group to green and its karts out into the first sector."""
        self.stage(*karts)
        self.ok("arm")
        self.ok("start")
        for kart in karts or (1, 2):
            self.ok("let-out", kart=kart)
            self.wait(5_000)
            self.equipment("kart-rolls", kart=kart)
            self.equipment("kart-at", kart=kart, where="s1")

    def _step(self, event: Event) -> Decision:
        decision = self.core.step(self.state, event, self.now_ms)
        self.state = decision.state
        told = self.core.stopped(self.state), self.core.testing(self.state)
        assert told == (self.picture.stopped, self.picture.testing)  # a beat says what the picture says
        return decision


@pytest.fixture(scope="session")
def core() -> Core:
    return Core(small_layout(3, 3, 3, inputs=True))


@pytest.fixture
def session(core: Core) -> Session:
    return Session(core)
