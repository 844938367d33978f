"""Trees evaluated for many states at once: one numpy array of small integers a slot, one a node."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

import numpy as np

from signals.proof.nodes import Node, Value

Array: TypeAlias = Any
"""A numpy array; numpy's own types say too little of its elements to be worth their length."""


class Columns:
    """States as columns, and every tree's value over them, worked out once.

    Args:
        slots: place -> the values of that slot, uint8, one for each state.
        count: how many states.

    """

    def __init__(self, slots: Mapping[int, Array], count: int) -> None:
        self.slots = slots
        self.count = count
        self.changes: dict[tuple[int, Value], Array] = {}
        """By how much keys change when a slot takes a value; filled by who packs keys."""
        self._kept: dict[Node, Array] = {}

    def of(self, value: Value) -> Array:
        """Give a tree's values: bool for conditions, uint8 otherwise."""
        if isinstance(value, int):
            return np.full(self.count, value, np.uint8)
        made = self._kept.get(value)
        if made is None:
            made = self._kept[value] = self._work(value)
        return made

    def forget(self) -> None:
        """Let go of what was worked out; the states stay."""
        self._kept.clear()
        self.changes.clear()

    def true(self, value: Value) -> Array:
        """Give a condition's values as bool."""
        if isinstance(value, int):
            return np.full(self.count, value, np.bool_)
        return self.of(value)

    def _work(self, node: Node) -> Array:
        args: tuple[Any, ...] = node.args
        match node.op:
            case "slot":
                return self.slots[args[0]]
            case "and":
                return self._until(np.False_, args)
            case "or":
                return self._until(np.True_, args)
            case "not":
                return np.logical_not(self.of(args[0]))
            case "eq":
                return np.equal(self.of(args[0]), _plain(self, args[1]))
            case "le":
                return np.less_equal(_plain(self, args[0]), _plain(self, args[1]))
            case "if":
                return np.where(self.of(args[0]), _plain(self, args[1]), _plain(self, args[2]))
        raise KeyError(f"{node} has no value in a state")

    def _until(self, settled: np.bool_, args: tuple[Node, ...]) -> Array:
        """Join conditions until every state's answer is settled: states that sort together settle so."""
        join = np.logical_or if settled else np.logical_and
        joined = self.of(args[0])
        for arg in args[1:]:
            if joined.all() if settled else not joined.any():
                break
            joined = join(joined, self.of(arg))
        return joined


def _plain(columns: Columns, value: Value) -> Any:
    """Give a constant as it is: numpy spreads it."""
    return np.uint8(value) if isinstance(value, int) else columns.of(value)
