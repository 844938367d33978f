"""Breadth-first over the real rule table: every reachable state of a small venue, every property in each.

Timers are abstracted to "may expire whenever they run"; what comes with a call (checked, reasoned …) takes
every value that its rule reads. The ids, groups and clocks that stand beside the facts are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product

from signals.core.binding import Bound
from signals.core.forms import Rule
from signals.core.ground import CALLED, Facts, GroundRule
from signals.core.machine import Core
from signals.core.schema import GIVEN
from signals.proof.spelled import STATE, STEPS, Reader, Seen, Step

ALWAYS = {"stale": False, "reused": False, "barred": False}
"""What an exploring caller does: it sees the latest state, uses new ids, brings nobody who is barred."""

_PARTICULAR = tuple(prop for prop in STEPS if prop.particular)
_KEPT = 20_000
"""States kept spelled out; neighbours are visited close together."""


@dataclass(frozen=True, slots=True)
class Breach:
    """A broken property with the shortest way there: the rules with their parameters."""

    name: str
    way: tuple[str, ...]


@dataclass(slots=True)
class Explored:
    """What came of an exploration."""

    states: int = 0
    steps: int = 0
    complete: bool = True
    breaches: list[Breach] = field(default_factory=list)
    reached: set[Facts] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class Scope:
    """What is explored: rules left out by name, parameter values left out, facts set at the start."""

    without: frozenset[str] = frozenset()
    values: dict[str, frozenset[str]] = field(default_factory=dict)
    """"rule.parameter" -> the members it may take; all where it is not named."""
    start: dict[str, str] = field(default_factory=dict)


class Explorer:
    """Explores one core within a scope."""

    def __init__(self, core: Core, scope: Scope) -> None:
        self.core = core
        self.scope = scope
        self.reader = Reader(core.ground, core.outputs)
        self.events = [event for ground in core.ground.rules.values() for event in self._events(ground)]
        self._timers = {timer.then: timer for timer in core.ground.table.timers}
        self._keys = [(core.ground.table.timers[n].name, index) for n, index in core.ground.timers]
        self._phase = core.ground.index("phase")
        self._by_phase = [
            [
                event
                for event in self.events
                if not event[0].ground.rule.phases or phase in event[0].ground.rule.phases
            ]
            for phase in core.ground.schema.sorts["phase"].members
        ]
        self.seen = lru_cache(maxsize=_KEPT)(lambda facts: Seen(self.reader, facts))

    def start(self) -> Facts:
        """Give the initial state of the scope."""
        facts = list(self.core.ground.start)
        for name, member in self.scope.start.items():
            array = self.core.ground.schema.facts[name]
            for number in range(array.size):
                facts[array.base + number] = array.domain.members.index(member)
        return tuple(facts)

    def _events(self, ground: GroundRule) -> Iterator[tuple[Bound, Step]]:
        """Give every way to raise a rule."""
        rule = ground.rule
        if rule.name in self.scope.without:
            return
        holders = self.core.ground.schema.sorts["holder"].members
        posts = range(len(holders) - 1) if rule.kind in CALLED else [len(holders) - 1]
        choices = [
            [n for n, member in enumerate(domain.members) if self._allowed(rule.name, name, member)]
            for name, domain in ground.params
        ]
        for post, params, given, staged in product(
            posts, product(*choices), _truths(ground), self._staged(rule)
        ):
            bound = Bound(ground, post, params, given, staged, None)
            names = {"post": holders[post], **bound.named()}
            yield bound, Step(rule.name, rule.kind, names, dict(zip(GIVEN, given, strict=True)))

    def _allowed(self, rule: str, name: str, member: str) -> bool:
        allowed = self.scope.values.get(f"{rule}.{name}")
        return allowed is None or member in allowed

    def _staged(self, rule: Rule) -> list[tuple[int, ...]]:
        classes, karts = len(self.core.layout.classes), len(self.core.layout.karts)
        if rule.name != "stage":
            return [(classes,) * karts]
        return list(product(range(classes + 1), repeat=karts))

    def enabled(self, facts: Facts, bound: Bound) -> bool:
        """Whether an event that is for this phase would act in a state."""
        look = self.core.outputs.look(facts)
        if bound.ground.rule.word in self._timers and not self._runs(look.running, bound):
            return False
        return not bound.ground.needs or not bound.ground.fails(facts, look.derived, *bound.arguments)

    def choices(self, facts: Facts) -> list[tuple[Bound, Step]]:
        """Give every event that would act in a state."""
        events = self._by_phase[facts[self._phase]]
        return [event for event in events if self.enabled(facts, event[0])]

    def after(self, facts: Facts, bound: Bound) -> Facts:
        """Give the state after an event, by the compiled moves."""
        return bound.ground.advance(facts, self.core.outputs.look(facts).derived, *bound.arguments)

    def _runs(self, running: tuple[bool, ...], bound: Bound) -> bool:
        index = next(iter(bound.named().values()), "")
        return running[self._keys.index((self._timers[bound.ground.rule.word].name, index))]

    def run(self, limit: int, *, breaches: int = 1) -> Explored:
        """Explore up to `limit` states; stop at that many breaches."""
        found, start = Explored(), self.start()
        parents: dict[Facts, tuple[Facts, str] | None] = {start: None}
        frontier = [start]
        while frontier and len(found.breaches) < breaches:
            following: list[Facts] = []
            for facts in frontier:
                self._visit(facts, found, parents, following)
                if len(parents) > limit:
                    found.complete = False
                    following = []
                    break
            frontier = following
        found.states = len(parents)
        found.reached = set(parents)
        return found

    def _visit(
        self,
        facts: Facts,
        found: Explored,
        parents: dict[Facts, tuple[Facts, str] | None],
        following: list[Facts],
    ) -> None:
        before = self.seen(facts)
        for prop in STATE:
            if not prop.holds(before):
                found.breaches.append(Breach(prop.name, _way(parents, facts, "")))
        asked: set[tuple[Facts, str]] = set()
        for bound, step in self.choices(facts):
            after = self.after(facts, bound)
            found.steps += 1
            if after not in parents:
                parents[after] = (facts, _told(step))
                following.append(after)
            again = (after, step.rule) in asked
            asked.add((after, step.rule))
            for prop in _PARTICULAR if again else STEPS:
                if not prop.holds(before, step, self.seen(after)):
                    found.breaches.append(Breach(prop.name, _way(parents, facts, _told(step))))


def _truths(ground: GroundRule) -> list[tuple[bool, ...]]:
    """Give the truths that may come with a call: every value of those its rule reads."""
    texts = [case.when for interlock in ground.needs for case in interlock.cases] + list(
        ground.rule.sets.values()
    )
    read = [name for name in GIVEN if name not in ALWAYS and any(name in text for text in texts)]
    made = []
    for values in product((False, True), repeat=len(read)):
        truths = dict.fromkeys(GIVEN, False) | ALWAYS | dict(zip(read, values, strict=True))
        made.append(tuple(truths[name] for name in GIVEN))
    return made


def _told(step: Step) -> str:
    names = " ".join(f"{name}={member}" for name, member in step.names.items())
    truths = " ".join(name for name, truth in step.truths.items() if truth)
    return f"{step.rule} {names} {truths}".strip()


def _way(parents: dict[Facts, tuple[Facts, str] | None], facts: Facts, last: str) -> tuple[str, ...]:
    way = [last] if last else []
    here = parents[facts]
    while here is not None:
        facts, told = here
        way.append(told)
        here = parents[facts]
    return tuple(reversed(way))
