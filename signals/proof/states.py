"""Breadth-first over a program: every reachable state, every move, everything that would break a property.

States are visited many at a time as columns. What would break a property in a step is a condition of
the state before (see `stating`), so each state is looked at once and no pair of states is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from signals.proof.columns import Array, Columns
from signals.proof.nodes import Value
from signals.proof.program import Move, Program
from signals.proof.space import Keys, Seen, Space, chunks
from signals.proof.stating import Breach
from signals.proof.symmetry import Symmetry

CHUNK = 1 << 14
"""States worked on together: a column fits the nearest cache."""

Progress = Callable[[int, int], None]
"""Called with the states found and the states of the level to come."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A property that was broken: where, and by which move."""

    breach: Breach
    key: int
    level: int


@dataclass(slots=True)
class Found:
    """What came of an exploration.

    Attributes:
        levels: the states by their distance from the start, each once (one of each orbit).
        transitions: how often a move was open in a state.
        fired: the same by move, in the program's order.
        graph: an order-free sum over all transitions, for comparing graphs.
        broken: the first state that breaks each clause, nearest first.
        complete: whether everything reachable was visited.

    """

    levels: list[Keys] = field(default_factory=list)
    fired: list[int] = field(default_factory=list)
    graph: int = 0
    broken: list[Broken] = field(default_factory=list)
    complete: bool = True

    @property
    def keys(self) -> Keys:
        """All states that were visited."""
        return np.concatenate(self.levels)

    @property
    def transitions(self) -> int:
        """How many transitions there are."""
        return sum(self.fired)


class Explorer:
    """Explores one program.

    Args:
        program: what may happen.
        breaches: what must never be; each is reported once a property's clause.
        symmetry: which states count as one.

    """

    def __init__(
        self, program: Program, breaches: Sequence[Breach] = (), symmetry: Symmetry | None = None
    ) -> None:
        self.program = program
        self.space = Space(program)
        self.symmetry = symmetry or Symmetry(())
        self._breaches = list(breaches)

    def run(
        self, *, most: int | None = None, until_broken: bool = False, progress: Progress | None = None
    ) -> Found:
        """Explore; stop after the level in which `most` states were passed, or something broke."""
        seen, found = Seen(self.space), Found(fired=[0] * len(self.program.moves))
        frontier = seen.fresh(np.array([self.space.key(self.program.start)], np.int64))
        count = 0
        while len(frontier):
            found.levels.append(frontier)
            count += len(frontier)
            if most is not None and count > most:
                found.complete = False
                break
            new = [part for keys in chunks(frontier, CHUNK) for part in self._visit(keys, seen, found)]
            if until_broken and found.broken:
                found.complete = False
                break
            frontier = np.sort(np.concatenate(new)) if new else np.empty(0, np.int64)
            if progress:
                progress(count, len(frontier))
        return found

    def _visit(self, keys: Keys, seen: Seen, found: Found) -> Iterator[Keys]:
        columns = self.space.columns(keys)
        self._look(columns, keys, found)
        for number, (_, chosen, after) in enumerate(self.steps(columns, keys, self.program.moves)):
            if after is None:
                continue
            found.fired[number] += len(after)
            found.graph = (found.graph + _mixed(keys[chosen], after, number)) & _ALL
            new = after[~seen.has(after)]
            if len(new):
                new = self.symmetry.one_of_each(self.space, np.unique(new))
                for image in self.symmetry.images(self.space, new):
                    seen.add(image)
                yield new

    def _look(self, columns: Columns, keys: Keys, found: Found) -> None:
        for breach in list(self._breaches):
            wrong = columns.true(breach.tree)
            if wrong.any():
                first = int(keys[int(np.argmax(wrong))])
                found.broken.append(Broken(breach, first, len(found.levels) - 1))
                self._breaches = [
                    b for b in self._breaches if (b.name, b.clause) != (breach.name, breach.clause)
                ]

    def steps(
        self, columns: Columns, keys: Keys, moves: Sequence[Move]
    ) -> Iterator[tuple[Move, Array, Keys | None]]:
        """Give, for every move, the places of states it is open in, and where it leads from them (None: nowhere)."""
        for move in moves:
            chosen = np.flatnonzero(columns.true(move.guard))
            if not len(chosen):
                yield move, chosen, None
                continue
            after = keys[chosen]
            for place, value in move.updates:
                after += self.space.change(columns, place, value, chosen)
            yield move, chosen, after

    # -- ways --------------------------------------------------------------------------------------------

    def way(self, found: Found, key: int, level: int) -> list[tuple[Move, tuple[int, ...]]]:
        """Give a shortest way to a state as moves with the facts after each, re-walked from the start."""
        back = [key]
        for number in range(level - 1, -1, -1):
            back.append(self._before(found.levels[number], back[-1]))
        here, way = self.space.key(self.program.start), []
        for target in reversed(back[:-1]):
            move, here = self._towards(here, target)
            way.append((move, self.space.facts(here)))
        return way

    def _before(self, keys: Keys, target: int) -> int:
        """Give a state of a level from which one move leads to a state (or one like it)."""
        orbit = self.symmetry.orbit(self.space, target)
        for part in chunks(keys, CHUNK):
            for _, chosen, after in self.steps(self.space.columns(part), part, self.program.moves):
                if after is not None and len(hits := np.flatnonzero(np.isin(after, orbit))):
                    return int(part[chosen][hits[0]])
        raise LookupError(f"no way to state {target}")

    def _towards(self, here: int, target: int) -> tuple[Move, int]:
        orbit = self.symmetry.orbit(self.space, target)
        keys = np.array([here], np.int64)
        for move, _, after in self.steps(self.space.columns(keys), keys, self.program.moves):
            if after is not None and after[0] in orbit:
                return move, int(after[0])
        raise LookupError(f"no move from {here} to {target}")

    # -- what can be reached from everywhere -----------------------------------------------------------------

    def stuck(self, found: Found, goal: Value, moves: Sequence[Move], barred: Sequence[Value]) -> Keys:
        """Give the reached states from which no path of some moves leads to a goal.

        Args:
            found: a complete exploration.
            goal: a condition of states.
            moves: the moves a path may take.
            barred: for each of them, where it may not be taken.

        """
        good, left = Seen(self.space), found.keys
        left = left[np.argsort(self._distance(left), kind="stable")]
        while len(left):
            remaining = []
            for keys in chunks(left, CHUNK):
                columns = self.space.columns(keys)
                reached = columns.true(goal).copy()
                steps = self.steps(columns, keys, moves)
                for (_, chosen, after), bar in zip(steps, barred, strict=True):
                    if after is not None:
                        to_good = np.zeros(len(keys), np.bool_)
                        to_good[chosen] = good.has(after)
                        reached |= to_good & ~columns.true(bar)
                for image in self.symmetry.images(self.space, keys[reached]):
                    good.add(image)
                remaining.append(keys[~reached])
            rest = np.concatenate(remaining)
            if len(rest) == len(left):
                return rest
            left = rest
        return left

    def _distance(self, keys: Keys) -> Array:
        """Give in how many slots states differ from the start."""
        made = [
            sum(
                (column != self.program.start[place]).astype(np.int16)
                for place, column in self.space.columns(part).slots.items()
            )
            for part in chunks(keys, CHUNK)
        ]
        return np.concatenate(made)


_ALL = (1 << 64) - 1


def _mixed(before: Keys, after: Keys, number: int) -> int:
    """Sum a mix of every transition: equal for equal graphs, whatever the order of visiting."""
    mixed = before.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed += after.astype(np.uint64) * np.uint64(0xC2B2AE3D27D4EB4F) + np.uint64(number)
    mixed ^= mixed >> np.uint64(29)
    return int((mixed * np.uint64(0x165667B19E3779F9)).sum(dtype=np.uint64))
