"""The trees that every explorer walks decide as the running core does: who is refused, what comes of it."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping

import pytest

from signals.core.binding import Bound
from signals.core.machine import Core
from signals.core.schema import GIVEN
from signals.proof.nodes import Node, Value, rebuild
from signals.proof.program import Asking, Move, Program
from signals.proof.scopes import all_rows
from signals.proof.small import small_layout

CORE = Core(
    small_layout(2, 2, 2, inputs=True, may={"desk": frozenset({"lift", "stage", "arm"}), "p1": frozenset()})
)
BROAD = Core(small_layout(2, 2, 2, inputs=True))


def values(value: Value, facts: tuple[int, ...], free: Mapping[str, int]) -> int:
    def leaf(node: Node) -> Value:
        return facts[node.args[0]] if node.op == "slot" else free[node.args[0]]

    made = rebuild(value, leaf, {})
    assert isinstance(made, int)
    return made


class Walker:
    """Walks a program and the core side by side."""

    def __init__(self, core: Core, seed: int) -> None:
        self.core, self.ground = core, core.ground
        self.program = Program(core.ground, all_rows())
        self.dice = random.Random(seed)  # noqa: S311 - a walk, no secret
        self.facts = self.program.start
        self.holders = self.ground.schema.sorts["holder"].members
        self.refused = self.taken = 0

    def reports(self, move: Move) -> tuple[tuple[int, ...], dict[str, int]]:
        """Give the facts with what equipment reports drawn at random, but as the move has it."""
        facts, free = list(self.facts), {}
        for place, name in self.program.hidden.items():
            named = move.names.get(name)
            fact = name.partition("[")[0]
            size = len(self.ground.schema.facts[fact].domain.members)
            facts[place] = int(named == "true") if named else self.dice.randrange(size)
            free[name] = facts[place]
        return tuple(facts), free

    def asked(self, move: Move, asking: Asking) -> tuple[Bound, dict[str, int]]:
        rule = self.ground.rules[move.rule.name]
        truths = {
            name: int(move.names[name] == "true") if name in move.names else self.dice.randrange(2)
            for name in GIVEN
        }
        params = tuple(domain.members.index(move.names[name]) for name, domain in rule.params)
        entries = self.ground.schema.sorts["entry"].members
        staged = tuple(
            entries.index(move.names.get(f"staged[{n}]", "none")) for n in range(len(self.core.layout.karts))
        )
        given = tuple(bool(truths[name]) for name in GIVEN)
        return Bound(rule, self.holders.index(asking.post), params, given, staged, None), truths

    def open_in_core(self, facts: tuple[int, ...], bound: Bound) -> bool:
        look = self.core.outputs.look(facts)
        rule = bound.ground.rule
        if rule.phases and self.ground.value(facts, "phase") not in rule.phases:
            return False
        for (number, index), runs in zip(self.ground.timers, look.running, strict=True):
            timer = self.ground.table.timers[number]
            if timer.then == rule.word and index == next(iter(bound.named().values()), "") and not runs:
                return False
        return not bound.ground.needs or not bound.ground.fails(facts, look.derived, *bound.arguments)

    def look(self) -> Iterator[tuple[int, ...]]:
        """Ask for a handful of moves, compare, and give where those that are open lead."""
        for move in self.dice.sample(self.program.moves, 25):
            asking = self.dice.choice(move.asked)
            facts, free = self.reports(move)
            bound, truths = self.asked(move, asking)
            expected = self.open_in_core(facts, bound)
            assert bool(values(asking.guard, facts, free | truths)) == expected, (
                move.name,
                asking.post,
                truths,
            )
            if not expected:
                self.refused += 1
                continue
            self.taken += 1
            assert values(move.guard, facts, free), move.name
            after = self.core.advance(facts, bound)
            made = list(facts)
            for place, value in (*move.updates, *move.reports):
                made[place] = values(value, facts, free | truths)
            assert tuple(made) == after, move.name
            yield after


@pytest.mark.parametrize("core", [CORE, BROAD], ids=["few may", "all may"])
def test_the_program_and_the_core_decide_alike(core: Core) -> None:
    walker = Walker(core, seed=7)
    for _ in range(350):
        reached = list(walker.look())
        if reached:
            walker.facts = walker.dice.choice(reached)
    assert walker.refused > 1000
    assert walker.taken > 1000


def test_what_never_changes_is_no_slot() -> None:
    program = Program(BROAD.ground, all_rows())
    assert "entry[1]" in {slot.name for slot in program.slots}
    assert not {slot.fact for slot in program.slots} & {"link", "taken", "moving", "input"}
    assert all(len(program.domains[slot.place]) > 1 for slot in program.slots)
