"""`Core`: one venue's decisions. The public face of this package.

core = Core(layout)
state = core.begin(boot)                 # closed, empty, everything healthy
decision = core.step(state, event, now_ms)
core.picture(decision.state)             # aspects, limits, holds, spelled out
core.next_deadline(decision.state)       # ms, or None
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import compress
from typing import Any

from signals.core import dump
from signals.core.beside import remember, settle
from signals.core.binding import Binder, Bound, fingerprint, seen_before
from signals.core.forms import Kind, Table
from signals.core.ground import Facts, Ground
from signals.core.holds import Holds
from signals.core.machines import Machines
from signals.core.outputs import Outputs
from signals.core.picture import Pictures
from signals.core.refuse import Refuser
from signals.core.state import TICK, Decision, Event, Hold, Layout, Picture, Refusal, State
from signals.core.table import TABLE
from signals.words import Word


class Core:
    """Decide for one venue. Pure: the same arguments give the same answer, and nothing else happens."""

    def __init__(self, layout: Layout, table: Table = TABLE) -> None:
        self.layout = layout
        self.ground = Ground(table, layout)
        self.outputs = Outputs(self.ground)
        self._machines = Machines(table, self.ground.schema)
        self._binder = Binder(self.ground)
        self._holds = Holds(self.ground)
        self._refuser = Refuser(self.ground, self._binder)
        self._pictures = Pictures(self.ground, self.outputs, self._holds)
        self._latch = self.ground.index("latch")
        self._stopped = self.ground.schema.sorts["latch"].members.index("stop")
        self._phase = self.ground.index("phase")
        self._test = self.ground.schema.facts["phase"].domain.members.index("test")

    def begin(self, boot: str) -> State:
        """Give the state of a venue that was never run: closed, every kart in the pit, all healthy."""
        return State(boot, self.ground.start)

    def step(self, state: State, event: Event, now_ms: int) -> Decision:
        """Act on what is due, then on `event`. Total: a refusal is a value."""
        happened = []
        current = state
        for word, index in self._due(state, now_ms):
            decision = self._decide(current, self._timer_event(word, index), now_ms)
            happened.append(word)
            current = decision.state
        decision = Decision(current) if event is TICK else self._decide(current, event, now_ms)
        if not happened:
            return decision
        return self._since(state, decision, tuple(happened))

    def next_deadline(self, state: State) -> int | None:
        """When `step` wants to be called with TICK at the latest, in the terms of `now_ms`."""
        return min(state.due.values(), default=None)

    def picture(self, state: State) -> Picture:
        """Spell a state out: conditions, aspects, limits with the reason that won, holds, faults."""
        return self._pictures.of(state)

    def stopped(self, state: State) -> bool:
        """Tell, at once, what the picture's `stopped` says: it is what a beat must carry first of all."""
        return state.facts[self._latch] == self._stopped

    def testing(self, state: State) -> bool:
        """Tell what the picture's `testing` says, likewise."""
        return state.facts[self._phase] == self._test

    def dump(self, state: State) -> dict[str, Any]:
        """Spell a state out as JSON values, by names, for the journal's snapshots."""
        return dump.dump(self.ground, state)

    def load(self, dumped: Mapping[str, Any], boot: str) -> State:
        """Read a snapshot back under a new boot (step a `restart` event next); raises ValueError."""
        return dump.load(self.ground, dumped, boot)

    # -- deciding ------------------------------------------------------------------------------------

    def _decide(self, state: State, event: Event, now_ms: int) -> Decision:
        seen = seen_before(state, event)
        if seen is not None and seen[0] == fingerprint(event):
            return Decision(state, refusals=seen[1])
        bound = self._binder.bind(state, event)
        if isinstance(bound, Refusal):
            return self._refused(state, event, (bound,))
        refusals = self._refuser.refusals(state, event, bound, self.outputs.look(state.facts).derived)
        return self._refused(state, event, refusals) if refusals else self._act(state, event, bound, now_ms)

    def _refused(self, state: State, event: Event, refusals: tuple[Refusal, ...]) -> Decision:
        return Decision(replace(state, beside=remember(state.beside, event, refusals)), refusals=refusals)

    def advance(self, facts: Facts, bound: Bound) -> Facts:
        """Give the facts after an accepted event: the sets by compiled code, the moves by the machines."""
        ground = bound.ground
        derived = self.outputs.look(facts).derived
        after = ground.assign(facts, derived, *bound.arguments)
        for place, number in ground.fires(facts, derived, *bound.arguments):
            machine = ground.rule.moves[number].target.partition("[")[0]
            members = self.ground.schema.facts[machine].domain.members
            after[place] = members.index(
                self._machines.move(machine, members[facts[place]], ground.rule.name, number)
            )
        return tuple(after)

    def _act(self, state: State, event: Event, bound: Bound, now_ms: int) -> Decision:
        facts = self.advance(state.facts, bound)
        beside = settle(state.beside, event, bound, now_ms)
        notes, placed, ended = self._notes(state, facts, event, now_ms)
        due = self._timers(state, facts, event, now_ms)
        rises = self._epoch_rises(state.facts, facts, event, placed)
        changed = rises or facts != state.facts or beside != state.beside or notes != state.notes
        serial = state.serial + changed
        narrowed = changed and bound.ground.rule.kind in (Kind.RESTRICTIVE, Kind.FAULT)
        after = State(
            state.boot,
            facts,
            notes,
            due,
            remember(beside, event, ()),
            serial,
            serial if narrowed or rises else state.restrictive_at,
            state.epoch + rises,
        )
        effects = self.outputs.effects((state.facts, state.beside), (facts, beside)) if changed else ()
        return Decision(after, effects, changed=changed, placed=placed, ended=ended)

    def _epoch_rises(self, old: Facts, new: Facts, event: Event, placed: tuple[str, ...]) -> bool:
        """Every stop and every last lift."""
        lifted = old[self._latch] == self._stopped != new[self._latch]
        return event.word == Word.STOP or lifted or any(key.startswith("stop:") for key in placed)

    def _notes(
        self, state: State, facts: Facts, event: Event, now_ms: int
    ) -> tuple[Mapping[str, Hold], tuple[str, ...], tuple[str, ...]]:
        if event.word not in (Word.STOP, Word.CAUTION) and self._holds.same(state.facts, facts):
            return state.notes, (), ()
        return self._holds.noted(state, facts, event, now_ms)

    # -- time ----------------------------------------------------------------------------------------

    def _due(self, state: State, now_ms: int) -> list[tuple[str, str]]:
        """Give the timers that are due, as (word, index), the earliest first."""
        due = sorted((at, key) for key, at in state.due.items() if at <= now_ms)
        names = {timer.name: timer.then for timer in self.ground.table.timers}
        return [(names[key.partition(":")[0]], key.partition(":")[2]) for _, key in due]

    def _timer_event(self, word: str, index: str) -> Event:
        params = self.ground.rules[word].params
        return Event(word, fields={name: index for name, _ in params})

    def _timers(self, state: State, facts: Facts, event: Event, now_ms: int) -> Mapping[str, int]:
        """Keep what runs on, start what began to run or was renewed, drop what ended."""
        renewed = event.word in ("show", "allow", "let-out")
        if facts == state.facts and not renewed:
            return state.due
        due: dict[str, int] = {}
        for number, index in compress(self.ground.timers, self.outputs.look(facts).running):
            timer = self.ground.table.timers[number]
            key = f"{timer.name}:{index}"
            named = str(event.fields.get(next(iter(timer.over), ""), index)) == index
            again = timer.renewed_by == event.word and named
            due[key] = (
                now_ms + getattr(self.layout, timer.ms) if again or key not in state.due else state.due[key]
            )
        return due

    def _since(self, state: State, decision: Decision, happened: tuple[str, ...]) -> Decision:
        """Give a decision whose effects count from before the timers acted."""
        old, new = (state.facts, state.beside), (decision.state.facts, decision.state.beside)
        before, after = set(state.notes), set(decision.state.notes)
        return replace(
            decision,
            effects=self.outputs.effects(old, new),
            changed=decision.state.serial != state.serial,
            happened=happened,
            placed=tuple(sorted(after - before)),
            ended=tuple(sorted(before - after)),
        )
