"""Every reachable state of the smallest venue, and long random walks through larger ones."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from signals.core.forms import Kind
from signals.core.machine import Core
from signals.core.table import TABLE
from signals.proof.explore import Explored, Explorer, Scope
from signals.proof.spelled import STATE, STEPS
from signals.proof.small import small_layout
from signals.words import HeadRole

ADDED = frozenset(rule.name for rule in TABLE.rules if rule.added)

SMALLEST = small_layout(
    1,
    1,
    2,
    heads=("h1", "px1"),
    roles={"h1": HeadRole.TRACK, "px1": HeadRole.PIT_EXIT},
    protects={"h1": ("s1",), "px1": ("s1",)},
    before={"h1": "h1", "px1": "h1"},
    approach={},
    classes=("adult",),
    checklist=("briefing",),
)
"""One sector, one kart, two posts."""


EQUIPMENT = {
    "heads": {"head-lost", "head-back"},
    "monitor": {"monitor-lost", "monitor-back", "monitor-tripped", "monitor-reset"},
    "karts": {"kart-lost", "kart-back", "kart-pressed", "button-reset"},
    "bus and record": {"broker-lost", "foreign-controller", "journal-failed", "journal-back", "restart"},
}
"""Explored with one kind of equipment failing at a time; together in the night run."""
ALL_OF_IT = frozenset().union(*EQUIPMENT.values())


def explore(without: frozenset[str], limit: int) -> Explored:
    scope = Scope(
        without=ADDED | {"kart-rolls", "kart-stands"} | without,
        values={
            "stop.kind": frozenset({"incident"}),
            "caution.kind": frozenset({"incident"}),
            "caution.where": frozenset({"s1"}),
        },
        start={"opening": "open"},
    )
    explored = Explorer(Core(SMALLEST), scope).run(limit)
    print(f"{explored.states} states, {explored.steps} steps")
    return explored


@pytest.mark.parametrize("kind", EQUIPMENT)
def test_the_smallest_venue_whole(kind: str) -> None:
    explored = explore(ALL_OF_IT - EQUIPMENT[kind], 20_000)
    assert explored.breaches == []
    assert explored.complete


@pytest.mark.night
def test_the_smallest_venue_with_everything_failing() -> None:
    explored = explore(frozenset(), 150_000)
    assert explored.breaches == []


WALKED = Core(small_layout(2, 2, 2, inputs=True))
EXPLORER = Explorer(WALKED, Scope())
ALWAYS_TAKEN = [event for event in EXPLORER.events if event[1].rule in ("stop", "caution")]


class Walk(RuleBasedStateMachine):
    """All calls by all posts, all that equipment and time do, with every property watched."""

    @initialize()
    def begin(self) -> None:
        self.facts = EXPLORER.start()
        self.seen = EXPLORER.seen(self.facts)

    def happen(self, data: Any, kind: Kind) -> None:
        enabled = [event for event in EXPLORER.choices(self.facts) if event[1].kind is kind]
        if not enabled:
            return
        bound, step = data.draw(st.sampled_from(enabled), label=kind)
        after = EXPLORER.after(self.facts, bound)
        assert WALKED.advance(self.facts, bound) == after, "the machines and the compiled moves part ways"
        seen = EXPLORER.seen(after)
        broken = [prop.name for prop in STEPS if not prop.holds(self.seen, step, seen)]
        assert not broken, (broken, step)
        self.facts, self.seen = after, seen

    @rule(data=st.data())
    def permissive(self, data: Any) -> None:
        self.happen(data, Kind.PERMISSIVE)

    @rule(data=st.data())
    def restrictive(self, data: Any) -> None:
        self.happen(data, Kind.RESTRICTIVE)

    @rule(data=st.data())
    def fault(self, data: Any) -> None:
        self.happen(data, Kind.FAULT)

    @rule(data=st.data())
    def repair(self, data: Any) -> None:
        self.happen(data, Kind.REPAIR)

    @rule(data=st.data())
    def world(self, data: Any) -> None:
        self.happen(data, Kind.WORLD)

    @invariant()
    def properties_hold(self) -> None:
        if hasattr(self, "seen"):
            assert [prop.name for prop in STATE if not prop.holds(self.seen)] == []

    @invariant()
    def stop_and_caution_are_always_taken(self) -> None:
        """E1: enabled in every state for every post."""
        if hasattr(self, "facts"):
            assert all(EXPLORER.enabled(self.facts, bound) for bound, _ in ALWAYS_TAKEN)


TestWalk = Walk.TestCase
TestWalk.settings = settings(
    max_examples=40, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
)
