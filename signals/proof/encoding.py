"""Trees as z3 expressions: every value a bit vector of one width, every condition a truth."""

from __future__ import annotations

from typing import Any

from signals.errors import Unusable
from signals.proof.nodes import Node, Value

Z3 = Any
"""z3's module, and its expressions: it brings no types of its own."""


def z3_or_say() -> Z3:
    """Give z3; raises Unusable with the one line that gets it."""
    try:
        import z3  # type: ignore[import-untyped]  # noqa: PLC0415 - optional, and slow to load
    except ImportError as error:
        raise Unusable("z3 is not here; get it with: pip install 'kerblight[proof]'") from error
    return z3


class Encoding:
    """The unknowns of a step: a `slot` and an `after` for every place, a `free` for what comes along."""

    def __init__(self, width: int) -> None:
        self.z3 = z3_or_say()
        self._width = width
        self._numbers = [self.z3.BitVecVal(number, width) for number in range(1 << width)]
        self._leaves: dict[tuple[str, int | str], Z3] = {}
        self._made: dict[tuple[Node, bool], Z3] = {}

    def number(self, number: int) -> Z3:
        """Give a constant."""
        return self._numbers[number]

    def leaf(self, op: str, what: int | str) -> Z3:
        """Give the unknown of a leaf."""
        made = self._leaves.get((op, what))
        if made is None:
            made = self._leaves[op, what] = self.z3.BitVec(f"{op} {what}", self._width)
        return made

    def condition(self, tree: Value) -> Z3:
        """Give a condition."""
        if isinstance(tree, int):
            return self.z3.BoolVal(bool(tree))
        made = self._made.get((tree, True))
        if made is None:
            made = self._made[tree, True] = self._condition(tree)
        return made

    def _condition(self, tree: Node) -> Z3:
        z3, args = self.z3, tree.args
        match tree.op:
            case "and":
                return z3.And([self.condition(arg) for arg in args])
            case "or":
                return z3.Or([self.condition(arg) for arg in args])
            case "not":
                return z3.Not(self.condition(args[0]))
            case "eq":
                return self.value(args[0]) == self.value(args[1])
            case "le":
                return z3.ULE(self.value(args[0]), self.value(args[1]))
            case _:
                return self.value(tree) != self._numbers[0]

    def value(self, tree: Value) -> Z3:
        """Give a value; of a condition, 1 or 0."""
        if isinstance(tree, int):
            return self._numbers[tree]
        made = self._made.get((tree, False))
        if made is None:
            made = self._made[tree, False] = self._value(tree)
        return made

    def _value(self, tree: Node) -> Z3:
        match tree.op:
            case "slot" | "after" | "free":
                return self.leaf(tree.op, tree.args[0])
            case "if":
                test, yes, no = tree.args
                return self.z3.If(self.condition(test), self.value(yes), self.value(no))
            case _:
                return self.z3.If(self.condition(tree), self._numbers[1], self._numbers[0])
