"""What the models for other checkers say, before it is written in any of their languages.

A model has one variable for every stored slot, one transition for every move, a name for what every
head shows and every kart is limited to, and what would break each property: a condition of a state, or
of a step as it stands between the values before (`slot`) and after (`after`). The explorer works step
properties out from the state before alone; here they stay as they are stated, and the checkers compare
old values with new ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace

from signals.core.expr import Domain
from signals.proof.nodes import (
    Leaf,
    Node,
    Value,
    after,
    choose,
    conj,
    disj,
    free,
    negate,
    propagate,
    rebuild,
    slot,
)
from signals.proof.program import Move, Program, exists
from signals.proof.properties import ENABLED, STATE, STEPS
from signals.proof.stating import Breach, Statements

FIRST_OUTPUT = 1 << 16
"""Outputs are spoken of as slots from here on, so that trees can name them."""


@dataclass(frozen=True, slots=True)
class Output:
    """What follows from a state and is named in properties: a head's aspect, a kart's limit."""

    place: int
    name: str
    domain: Domain
    tree: Node


@dataclass(frozen=True, slots=True)
class Wrong:
    """What would break one clause of a property."""

    name: str
    clause: int
    tree: Value

    @property
    def label(self) -> str:
        """The property and the number of its clause, from 1."""
        return f"{self.name}.{self.clause + 1}"


@dataclass(frozen=True, slots=True)
class Spoken:
    """A program with its properties.

    Attributes:
        program: slots and moves.
        outputs: by their place in trees.
        states: what no state may be; a call that must be open is one clause for all its callers.
        steps: for every move of the program, what it may not do.

    """

    program: Program
    outputs: dict[int, Output]
    states: tuple[Wrong, ...]
    steps: tuple[tuple[Wrong, ...], ...]

    @property
    def labels(self) -> tuple[str, ...]:
        """Every clause that can break, in the order in which they are met."""
        steps = (wrong for wrongs in self.steps for wrong in wrongs)
        return tuple(dict.fromkeys(wrong.label for wrong in (*self.states, *steps)))

    def of_states_alone(self) -> Spoken:
        """Give the same without judging steps: half the text, where a compiler's time counts."""
        return replace(self, steps=((),) * len(self.steps))


def spoken(statements: Statements, breaches: Sequence[Breach] | None = None) -> Spoken:
    """Give what a model says of a program; `breaches` are those of the statements, where they are at hand."""
    speaking = _Speaking(statements)
    found = statements.breaches() if breaches is None else breaches
    states = (*speaking.of_states(), *_always_open(found))
    steps = tuple(tuple(speaking.of_step(move)) for move in statements.program.moves)
    return Spoken(statements.program, speaking.outputs, states, steps)


def _always_open(breaches: Iterable[Breach]) -> Iterator[Wrong]:
    names = {always.name for always in ENABLED}
    trees: dict[tuple[str, int], list[Value]] = {}
    for breach in breaches:
        if breach.name in names:
            trees.setdefault((breach.name, breach.clause), []).append(breach.tree)
    for (name, clause), parts in trees.items():
        yield Wrong(name, clause, disj(parts))


class _Speaking:
    """States the properties anew, with outputs left as names."""

    def __init__(self, statements: Statements) -> None:
        program = statements.program
        layout, aspect = program.ground.layout, program.ground.schema.sorts["aspect"]
        speeds = Domain("kmh", tuple(f"{kmh:g}".replace(".", "_") for kmh in statements.kmh))
        self.outputs: dict[int, Output] = {}
        aspects = [self._named(tree, f"shows_{head}", aspect)
                   for head, tree in zip(layout.heads, program.aspects, strict=True)]  # fmt: skip
        limits = [self._named(tree, f"limit_{kart}", speeds)
                  for kart, tree in zip(layout.karts, statements.limits, strict=True)]  # fmt: skip
        self._places = {output.name: place for place, output in self.outputs.items()}
        named = copy(program)
        named.aspects = aspects
        # A name that is hidden has a value before and after a step, as what is only reported has.
        named.hidden = program.hidden | {place: output.name for place, output in self.outputs.items()}
        self._statements = Statements(named)
        self._statements.limits[:] = limits

    def _named(self, tree: Value, name: str, domain: Domain) -> Value:
        """Give a tree by its name; what is reported with a move (a button) is asked before."""
        if isinstance(tree, int):
            return tree
        reported = sorted(str(leaf[1]) for leaf in tree.reads if leaf[0] == "free")
        if reported:
            yes, no = (rebuild(tree, _bound(reported[0], way), {}) for way in (1, 0))
            return choose(
                free(reported[0]), self._named(yes, f"{name}_reported", domain), self._named(no, name, domain)
            )
        place = FIRST_OUTPUT + len(self.outputs)
        self.outputs[place] = Output(place, name, domain, tree)
        return free(name)

    def of_states(self) -> Iterator[Wrong]:
        """Give what no state may be."""
        inputs = self._statements.program.scope.inputs
        for prop in (*STATE, *STEPS):
            for number, clause in enumerate(prop.clauses):
                if clause.of_states and clause.stored not in inputs:
                    yield from self._wrong(prop.name, number, negate(self._statements.condition(clause.when)))

    def of_step(self, move: Move) -> Iterator[Wrong]:
        """Give what a move may not do: some caller may make it, and a clause does not hold of it."""
        opened = self._opened(move)
        for prop in (*STATE, *STEPS):
            for number, clause in enumerate(prop.clauses):
                if clause.of_states or not clause.speaks_of(move.rule):
                    continue
                held = (
                    (asking, self._statements.of_move(clause.when, opened, asking)) for asking in move.asked
                )
                ways = [propagate(conj([asking.guard, negate(tree)])) for asking, tree in held if tree != 1]
                yield from self._wrong(prop.name, number, disj(ways))

    def _opened(self, move: Move) -> Move:
        """Give a move whose new values are not worked out: where they are no constants, they stay `after`."""
        changed = {place for place, _ in move.updates}
        touched = [
            output.place for output in self.outputs.values()
            if any(kind == "slot" and place in changed for kind, place in output.tree.reads)
        ]  # fmt: skip
        return replace(
            move,
            updates=tuple((place, v if isinstance(v, int) else after(place)) for place, v in move.updates),
            reports=(*move.reports, *((place, after(place)) for place in touched)),
        )

    def _wrong(self, name: str, clause: int, tree: Value) -> Iterator[Wrong]:
        made = exists(rebuild(tree, self._spoken, {}))
        if made != 0:
            yield Wrong(name, clause, made)

    def _spoken(self, leaf: Node) -> Value:
        return slot(self._places[leaf.args[0]]) if leaf.args[0] in self._places else leaf


def _bound(name: str, value: int) -> Leaf:
    def bind(leaf: Node) -> Value:
        return value if leaf.op == "free" and leaf.args[0] == name else leaf

    return bind
