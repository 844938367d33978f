"""Whole sets of states as numbers: a state of a program is one integer, mixed-radix over its slots."""

from __future__ import annotations

import hashlib
import mmap
from collections.abc import Iterable
from math import prod
from typing import Any, TypeAlias

import numpy as np

from signals.errors import Unusable
from signals.proof.columns import Array, Columns
from signals.proof.nodes import Value
from signals.proof.program import Program

Keys: TypeAlias = Any
"""A numpy array of int64."""
MOST_BITS = 62


class Space:
    """Packs a program's states into int64 keys; the first slot, the phase, weighs most: like sorts with like.

    Attributes:
        size: how many combinations there are, reached or not.

    Raises:
        Unusable: a state does not fit into 62 bits.

    """

    def __init__(self, program: Program) -> None:
        self.program = program
        self.places = [slot.place for slot in program.slots]
        self.domains = {place: np.array(program.domains[place], np.uint8) for place in self.places}
        self.size = prod(len(domain) for domain in self.domains.values())
        if self.size.bit_length() > MOST_BITS:
            raise Unusable(
                f"a state takes {self.size.bit_length()} bits, more than {MOST_BITS}; take a smaller venue"
            )
        self._weights: dict[int, Keys] = {}
        weight = 1
        for place, domain in reversed(self.domains.items()):
            table = np.zeros(256, np.int64)
            table[domain] = np.arange(len(domain)) * weight
            self._weights[place] = table
            weight *= len(domain)

    def weight(self, place: int) -> Keys:
        """Give what each value of a slot adds to a key, by value."""
        return self._weights[place]

    def key(self, facts: tuple[int, ...]) -> int:
        """Pack a facts vector."""
        return sum(int(self._weights[place][facts[place]]) for place in self.places)

    def keys(self, vectors: Iterable[tuple[int, ...]]) -> Keys:
        """Pack some facts vectors."""
        return np.array([self.key(facts) for facts in vectors], np.int64)

    def facts(self, key: int) -> tuple[int, ...]:
        """Unpack into a facts vector; what is not stored has its first value."""
        facts = list(self.program.start)
        for place, domain in reversed(self.domains.items()):
            key, digit = divmod(key, len(domain))
            facts[place] = int(domain[digit])
        return tuple(facts)

    def columns(self, keys: Keys) -> Columns:
        """Unpack many keys into columns."""
        slots: dict[int, Array] = {}
        for place, domain in reversed(self.domains.items()):
            keys, digit = np.divmod(keys, len(domain))
            slots[place] = domain[digit]
        return Columns(slots, len(keys))

    def change(self, columns: Columns, place: int, value: Value) -> Keys:
        """Give by how much keys change when a slot takes a tree's value, worked out once for all moves."""
        made = columns.changes.get((place, value))
        if made is None:
            weights = self._weights[place]
            if isinstance(value, int):
                made = (weights[value] - weights)[columns.slots[place]]
            else:
                made = weights[columns.of(value).view(np.uint8)] - weights[columns.slots[place]]
            columns.changes[place, value] = made
        return made

    def digest(self, keys: Keys) -> str:
        """Give a digest of a set of states, by the names and members of the slots."""
        told = repr([(slot.name, slot.members) for slot in self.program.slots])
        sha = hashlib.sha256(told.encode())
        sha.update(np.sort(keys).astype("<i8").tobytes())
        return sha.hexdigest()


class Seen:
    """A set of keys: one bit a combination where that fits, a sorted array otherwise."""

    MOST_BITS_IN_MEMORY = 1 << 33
    """One gigabyte."""

    def __init__(self, space: Space) -> None:
        self._bits: Array | None = None
        self._sorted: Keys = np.empty(0, np.int64)
        if space.size <= self.MOST_BITS_IN_MEMORY:
            # Shared with forked processes. Where two set bits of one byte at once, one may be lost: the
            # state is then found twice, which is harmless, and the explorer marks it again.
            self._bits = np.frombuffer(mmap.mmap(-1, (space.size >> 3) + 1), np.uint8)

    @property
    def shared(self) -> bool:
        """Whether forked processes see the same set."""
        return self._bits is not None

    def has(self, keys: Keys) -> Array:
        """Tell which keys are in the set."""
        if self._bits is not None:
            return (self._bits[keys >> 3] >> (keys & 7).astype(np.uint8)) & np.uint8(1) != 0
        if not len(self._sorted):
            return np.zeros(len(keys), np.bool_)
        at = np.searchsorted(self._sorted, keys)
        return self._sorted[np.minimum(at, len(self._sorted) - 1)] == keys

    def add(self, keys: Keys) -> None:
        """Add keys."""
        if self._bits is None:
            self._sorted = np.union1d(self._sorted, keys)
            return
        keys = np.unique(keys)
        if not len(keys):
            return
        places = keys >> 3
        marks = np.left_shift(np.uint8(1), (keys & 7).astype(np.uint8))
        starts = np.flatnonzero(np.diff(places, prepend=-1))
        self._bits[places[starts]] |= np.bitwise_or.reduceat(marks, starts)

    def fresh(self, keys: Keys) -> Keys:
        """Give the keys that are not in the set, each once, and add them."""
        new = np.unique(keys[~self.has(keys)])
        self.add(new)
        return new


def chunks(keys: Keys, size: int) -> Iterable[Keys]:
    """Cut a long array into pieces."""
    return (keys[start : start + size] for start in range(0, len(keys), size))
