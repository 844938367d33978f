"""A step by one of a few moves, every way in which it may break a clause, and how that is told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from signals.core.expr import Bound
from signals.proof.encoding import Z3
from signals.proof.nodes import Node, Value, choose, disj, equal, free, negate, rebuild, slot
from signals.proof.program import Asking, Move
from signals.proof.properties import Clause
from signals.proof.symbolic import Piece

if TYPE_CHECKING:
    from signals.proof.induction import Induction

Bounded = tuple[Piece, dict[str, Bound]]


@dataclass(frozen=True, slots=True)
class Counterexample:
    """A state that satisfies the hypothesis, and what breaks a clause in it.

    `before` names what differs from the initial state, `after` what the move changes.
    """

    name: str
    clause: int
    about: str
    move: str
    before: Mapping[str, str]
    after: Mapping[str, str]

    def __str__(self) -> str:
        where = ", ".join(f"{fact} = {member}" for fact, member in self.before.items())
        where = where or "all is as at the start"
        then = ", ".join(f"{fact} = {member}" for fact, member in self.after.items()) or "nothing changes"
        about = f" ({self.about})" if self.about else ""
        return f"{self.name}{about}: where {where}" + (f"; then {self.move}: {then}" if self.move else "")


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """One piece of a clause as a tree.

    `touch` are the places it reads of the state after; `still`: it holds of every step that leaves
    those as they are.
    """

    name: str
    number: int
    clause: Clause
    piece: Piece
    tree: Value
    touch: frozenset[int]
    still: bool


@dataclass(frozen=True, slots=True)
class Wrong:
    """A way to break a clause: a condition of z3's, and the callers it is asked of."""

    name: str
    number: int
    piece: Piece
    when: Z3
    touch: frozenset[int]
    asked: tuple[Asking, ...] = ()


@dataclass(frozen=True, slots=True)
class Naming:
    """A clause on steps that names the move it speaks of; `of_callers`: it reads who makes it, and how."""

    name: str
    number: int
    of_callers: bool
    parts: tuple[Bounded, ...]


class Step:
    """A step by one of a few moves of one rule; the unknown `which` says by which."""

    def __init__(self, induction: Induction, moves: Sequence[Move]) -> None:
        self._in = induction
        self._moves = moves
        self._touched = frozenset(place for move in moves for place, _ in move.updates)
        self._kept: dict[Value, Value] = {}

    def _by(self, number: int) -> Value:
        return equal(free("which"), number) if len(self._moves) > 1 else 1

    def made(self, wrongs: Sequence[Wrong]) -> Z3:
        """Give what the step makes of the places that some ways to break a clause read."""
        encoding = self._in.encoding
        updates = [dict(move.updates) for move in self._moves]
        made = []
        for place in sorted(frozenset[int]().union(*(wrong.touch for wrong in wrongs))):
            value: Value = slot(place)
            for number, update in enumerate(updates):
                if place in update:
                    value = choose(self._by(number), update[place], value)
            made.append(encoding.leaf("after", place) == encoding.value(value))
        return encoding.z3.And(made)

    def wrongs(self) -> Iterator[Wrong]:
        """Give every way in which the step may break a clause."""
        z3, rule, karts = self._in.encoding.z3, self._moves[0].rule, karts_of(self._moves[0])
        condition = self._in.encoding.condition
        opened = z3.Or(
            [self._open(number, asking) for number, move in enumerate(self._moves) for asking in move.asked]
        )
        for item in self._in.fixed(karts):
            spoken = item.clause.of_states or item.clause.speaks_of(rule)
            if spoken and not (item.still and item.touch.isdisjoint(self._touched)):
                tree = self._left(item.tree, self._kept)
                if tree != 1:
                    when = z3.And(opened, condition(negate(tree)))
                    yield Wrong(item.name, item.number, item.piece, when, touch(tree), self._moves[0].asked)
        for number, move in enumerate(self._moves):
            kept: dict[Value, Value] = {free("changes"): _changes(move)}
            for clause in self._in.naming(rule, karts):
                each = [[asking] for asking in move.asked]
                for callers in each if clause.of_callers else [list(move.asked)]:
                    yield from self._naming(clause, number, callers, kept)

    def _naming(
        self, clause: Naming, number: int, callers: list[Asking], kept: dict[Value, Value]
    ) -> Iterator[Wrong]:
        """Give every way in which one of the moves, by some callers, may break a clause that names it."""
        z3, condition = self._in.encoding.z3, self._in.encoding.condition
        opened = z3.Or([self._open(number, asking) for asking in callers])
        env = self._in.statements.env(self._moves[number], callers[0].post)
        for piece, bound in clause.parts:
            tree = self._left(self._in.statements.tree(piece.text, env | bound), kept)
            if tree != 1:
                when = z3.And(opened, condition(negate(tree)))
                yield Wrong(clause.name, clause.number, piece, when, touch(tree), tuple(callers))

    def _open(self, number: int, asking: Asking) -> Z3:
        condition = self._in.encoding.condition
        return self._in.encoding.z3.And(condition(self._by(number)), condition(asking.guard))

    def _left(self, tree: Value, kept: dict[Value, Value]) -> Value:
        """Give a tree that reads places the step does not touch as they were."""
        return rebuild(tree, self._leaf, kept)

    def _leaf(self, leaf: Node) -> Value:
        return slot(leaf.args[0]) if leaf.op == "after" and leaf.args[0] not in self._touched else leaf


def karts_of(move: Move) -> frozenset[str]:
    """Give the karts a move names."""
    return frozenset(move.names[name] for name, sort in move.rule.params.items() if sort == "kart")


def touch(tree: Value) -> frozenset[int]:
    """Give the places a tree reads of the state after."""
    reads = frozenset() if isinstance(tree, int) else tree.reads
    return frozenset(int(what) for op, what in reads if op == "after")


def _changes(move: Move) -> Value:
    return disj([negate(equal(value, slot(place))) for place, value in move.updates])
