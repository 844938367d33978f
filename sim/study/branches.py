"""Trees of the rule table as branches: one row a comparison of a fact with a value, and where to go after it.

    row   fact   value   yes   no
      0      4       2    -1     1
      1      0       4    -2    -1

A row below 0 is an end: -1 is 0 (or false), -2 is 1, and so on; farther down ends give a fact as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from signals.proof.nodes import Node, Value
from sim.speeds import both

ROW = 4
"""Numbers of a row."""
COPIES = 1000
"""An end so far down, or farther, gives a fact's value."""

ANY = -1
"""In place of a value that is looked for: whichever it is."""

Facts = list[int]
Target = Callable[[int], int]


class Branches(NamedTuple):
    """Rows of comparisons, `ROW` numbers each: a fact, a value, where to go if it has it, where if not."""

    rows: Sequence[int]


@both
def follow(branches: Branches, facts: Facts, row: int) -> int:
    """Follow branches from a row to their end: a condition's 0 or 1, or a value."""
    rows = branches.rows
    while row >= 0:
        at = ROW * row
        row = rows[at + 2] if facts[rows[at]] == rows[at + 1] else rows[at + 3]
    found = -1 - row
    return facts[found - COPIES] if found >= COPIES else found


def comparisons(branches: Branches, begins: Sequence[int]) -> set[tuple[int, int]]:
    """Give what is compared on any way from some rows: facts, and values, `ANY` where a fact is copied."""
    found, seen, rest = set(), set(begins), list(begins)
    while rest:
        row = rest.pop()
        if row >= 0:
            fact, value, *ways = branches.rows[ROW * row : ROW * (row + 1)]
            found.add((fact, value))
            rest += (way for way in set(ways) if way not in seen)
            seen.update(ways)
        elif row <= end(COPIES):
            found.add((-1 - row - COPIES, ANY))
    return found


def end(value: int) -> int:
    """Give the end of a value."""
    return -1 - value


class Maker:
    """Makes branches of trees; equal rows are one.

    Args:
        domains: for every place of the facts, the values it may take.

    """

    def __init__(self, domains: Mapping[int, Sequence[int]]) -> None:
        self._domains = domains
        self._rows: dict[tuple[int, int, int, int], int] = {}
        self._made: dict[tuple[object, ...], int] = {}

    @property
    def branches(self) -> Branches:
        """What was made so far."""
        return Branches([number for row in self._rows for number in row])

    def condition(self, tree: Value) -> int:
        """Give the row that a condition begins at."""
        return self._test(tree, end(1), end(0))

    def value(self, tree: Value) -> int:
        """Give the row that a value begins at."""
        return self._value(tree, end, copy=True)

    def _row(self, fact: int, value: int, yes: int, no: int) -> int:
        if yes == no:
            return yes
        return self._rows.setdefault((fact, value, yes, no), len(self._rows))

    def _test(self, tree: Value, yes: int, no: int) -> int:
        if isinstance(tree, int):
            return yes if tree else no
        key = (tree, yes, no)
        if key not in self._made:
            self._made[key] = self._tested(tree, yes, no)
        return self._made[key]

    def _tested(self, tree: Node, yes: int, no: int) -> int:
        match tree.op:
            case "and":
                for each in reversed(tree.args):
                    yes = self._test(each, yes, no)
                return yes
            case "or":
                for each in reversed(tree.args):
                    no = self._test(each, yes, no)
                return no
            case "not":
                return self._test(tree.args[0], no, yes)
            case "if":
                test, then, other = tree.args
                return self._test(test, self._test(then, yes, no), self._test(other, yes, no))
            case "eq":
                left, right = tree.args
                return self._same(left, right, yes, no)
            case "le":
                left, right = tree.args
                return self._value(left, partial(self._at_least, right, yes, no), copy=False)
        return self._value(tree, lambda value: yes if value else no, copy=False)

    def _same(self, left: Value, right: Value, yes: int, no: int) -> int:
        if isinstance(left, int):
            left, right = right, left
        if isinstance(left, Node) and left.op == "slot" and isinstance(right, int):
            return self._row(left.args[0], right, yes, no)
        if isinstance(right, int):
            return self._value(left, lambda value: yes if value == right else no, copy=False)
        return self._value(left, lambda value: self._same(right, value, yes, no), copy=False)

    def _at_least(self, right: Value, yes: int, no: int, low: int) -> int:
        return self._value(right, lambda value: yes if low <= value else no, copy=False)

    def _value(self, tree: Value, target: Target, *, copy: bool) -> int:
        """Branch on a value: to `target` of each it may take; or end with the fact's own value (`copy`)."""
        if isinstance(tree, int):
            return target(tree)
        if tree.op == "if":
            test, then, other = tree.args
            return self._test(
                test, self._value(then, target, copy=copy), self._value(other, target, copy=copy)
            )
        if tree.op == "slot":
            place = tree.args[0]
            if copy:
                return end(COPIES + place)
            *most, last = self._domains[place]
            row = target(last)
            for value in reversed(most):
                row = self._row(place, value, target(value), row)
            return row
        return self._test(tree, target(1), target(0))
