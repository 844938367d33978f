"""Breadth-first over a program: every reachable state, every move, everything that would break a property.

States are visited many at a time as columns. What would break a property in a step is a condition of
the state before (see `stating`), so each state is looked at once and no pair of states is.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from zlib import crc32

import numpy as np

from signals.proof.columns import Array, Columns
from signals.proof.crew import Crew
from signals.proof.nodes import Value
from signals.proof.program import Move, Program
from signals.proof.space import Keys, Seen, Space, chunks
from signals.proof.stating import Breach
from signals.proof.symmetry import Symmetry

CHUNK = 1 << 14
"""States worked on together: a column fits the nearest cache."""

Changes = Sequence[tuple[Value, Value]]
"""Conditions before a step, each with what it is after."""
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


@dataclass(frozen=True, slots=True)
class Visit:
    """What came of some states: new ones, moves open, transitions mixed, (breach, state) of what is wrong."""

    new: Keys
    fired: list[int]
    graph: int
    wrong: list[tuple[int, int]]


class Explorer:
    """Explores one program.

    Args:
        program: what may happen.
        breaches: what must never be; each is reported once a property's clause.
        symmetry: which states count as one.
        workers: processes that share large levels out among them.

    """

    def __init__(
        self,
        program: Program,
        breaches: Sequence[Breach] = (),
        symmetry: Symmetry | None = None,
        *,
        workers: int | None = None,
    ) -> None:
        self.program = program
        self.space = Space(program)
        self.symmetry = symmetry or Symmetry(())
        self._breaches = list(breaches)
        self._workers = workers or os.cpu_count() or 1

    def run(
        self, *, most: int | None = None, until_broken: bool = False, progress: Progress | None = None
    ) -> Found:
        """Explore; stop after the level in which `most` states were passed, or something broke."""
        seen, found = Seen(self.space), Found(fired=[0] * len(self.program.moves))
        frontier = seen.fresh(np.array([self.space.key(self.program.start)], np.int64))
        count = 0
        with Crew(partial(self._visit, seen), self._workers if seen.shared else 1) as crew:
            while len(frontier):
                found.levels.append(frontier)
                count += len(frontier)
                if most is not None and count > most:
                    found.complete = False
                    break
                new = [self._noted(found, visit) for visit in crew.share(list(chunks(frontier, CHUNK)))]
                if until_broken and found.broken:
                    found.complete = False
                    break
                frontier = np.unique(np.concatenate(new))
                self._mark(seen, frontier)  # two workers may have found the same one
                if progress:
                    progress(count, len(frontier))
        return found

    def _mark(self, seen: Seen, keys: Keys) -> None:
        for image in self.symmetry.images(self.space, keys):
            seen.add(image)

    def _visit(self, seen: Seen, keys: Keys) -> Visit:
        """Make every move from some states: what is new, how often each was open, what is broken."""
        columns, new = self.space.columns(keys), [keys[:0]]
        fired, graph = [0] * len(self.program.moves), 0
        for number, (move, chosen, after) in enumerate(self.steps(columns, keys, self.program.moves)):
            if after is None:
                continue
            fired[number] = len(after)
            graph += _mixed(keys[chosen], after, crc32(move.name.encode()))
            fresh = after[~seen.has(after)]
            if len(fresh):
                fresh = self.symmetry.one_of_each(self.space, np.unique(fresh))
                self._mark(seen, fresh)
                new.append(fresh)
        return Visit(np.concatenate(new), fired, graph & _ALL, list(self._wrong(columns, keys)))

    def _wrong(self, columns: Columns, keys: Keys) -> Iterator[tuple[int, int]]:
        for number, breach in enumerate(self._breaches):
            wrong = columns.true(breach.tree)
            if wrong.any():
                yield number, int(keys[int(np.argmax(wrong))])

    def _noted(self, found: Found, visit: Visit) -> Keys:
        found.fired = [a + b for a, b in zip(found.fired, visit.fired, strict=True)]
        found.graph = (found.graph + visit.graph) & _ALL
        told = {(broken.breach.name, broken.breach.clause) for broken in found.broken}
        for number, key in visit.wrong:
            breach = self._breaches[number]
            if (breach.name, breach.clause) not in told:
                told.add((breach.name, breach.clause))
                found.broken.append(Broken(breach, key, len(found.levels) - 1))
        return visit.new

    def steps(
        self, columns: Columns, keys: Keys, moves: Sequence[Move]
    ) -> Iterator[tuple[Move, Array, Keys | None]]:
        """Give, for every move, the places of states it is open in, and where it leads (None: nowhere)."""
        for move in moves:
            open_in = columns.true(move.guard)
            count = int(np.count_nonzero(open_in))
            if not count:
                yield move, open_in, None
                continue
            chosen = slice(None) if count == len(keys) else np.flatnonzero(open_in)
            after = keys[chosen]
            for place, value in move.updates:
                after = after + self.space.change(columns, place, value)[chosen]
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

    def nearest(self, found: Found, keys: Keys) -> tuple[int, int]:
        """Give one of some visited states that is nearest to the start, and how far it is."""
        for level, visited in enumerate(found.levels):
            here = visited[np.isin(visited, keys)]
            if len(here):
                return int(here[0]), level
        raise LookupError("none of these states was visited")

    def after(self, key: int, move: Move) -> tuple[int, ...]:
        """Give the facts after a move from a state in which it is open."""
        keys = np.array([key], np.int64)
        ((_, _, after),) = self.steps(self.space.columns(keys), keys, [move])
        if after is None:
            raise LookupError(f"{move.name} is not open there")
        return self.space.facts(int(after[0]))

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

    def stuck(self, keys: Keys, goal: Value, ways: Sequence[tuple[Move, Value]]) -> Keys:
        """Give the states from which no path of some moves, within these states, leads to a goal.

        Args:
            keys: states.
            goal: a condition of states.
            ways: the moves a path may take, each with the condition under which it may not.

        """
        good, left = Seen(self.space), keys
        while len(left):
            remaining = [self._remaining(part, good, goal, ways) for part in chunks(left, CHUNK)]
            rest = np.concatenate(remaining)
            if len(rest) == len(left):
                return rest
            left = rest
        return left

    def where(self, keys: Keys, condition: Value) -> Keys:
        """Give the states in which a condition holds."""
        parts = [part[self.space.columns(part).true(condition)] for part in chunks(keys, CHUNK)]
        return np.concatenate(parts) if parts else keys

    def unranked(self, keys: Keys, goal: Value, ways: Sequence[tuple[Move, Value, Changes]]) -> Keys:
        """Give the states that have neither reached a goal nor a move that lowers a rank.

        Where there are none, the goal is within reach of every state: a rank cannot fall for ever.

        Args:
            keys: states.
            goal: a condition of states.
            ways: the moves that may be taken, the condition under which each may not, and the terms of
                the rank that it changes, each before and after.

        """
        with Crew(partial(self._unranked, goal, ways), self._workers) as crew:
            return np.concatenate([keys[:0], *crew.share(list(chunks(keys, CHUNK)))])

    def _unranked(self, goal: Value, ways: Sequence[tuple[Move, Value, Changes]], keys: Keys) -> Keys:
        columns = self.space.columns(keys)
        done = columns.true(goal).copy()
        for move, barred, changes in ways:
            if done.all():
                break
            falls = np.zeros(len(keys), np.int8)
            for before, after in changes:
                falls += columns.true(before)
                falls -= columns.true(after)
            done |= columns.true(move.guard) & (falls > 0) & ~columns.true(barred)
        return keys[~done]

    def _remaining(self, keys: Keys, good: Seen, goal: Value, ways: Sequence[tuple[Move, Value]]) -> Keys:
        """Give those of some states that are not good yet, and mark the others."""
        columns = self.space.columns(keys)
        reached = columns.true(goal).copy()
        steps = self.steps(columns, keys, [move for move, _ in ways])
        for (_, chosen, after), (_, barred) in zip(steps, ways, strict=True):
            if reached.all():
                break
            if after is not None:
                to_good = np.zeros(len(keys), np.bool_)
                to_good[chosen] = good.has(after)
                reached |= to_good & ~columns.true(barred)
        self._mark(good, keys[reached])
        return keys[~reached]


_ALL = (1 << 64) - 1


def _mixed(before: Keys, after: Keys, move: int) -> int:
    """Sum a mix of every transition: equal for equal graphs, whatever the order of visiting."""
    mixed = after.view(np.uint64) * np.uint64(0xC2B2AE3D27D4EB4F)
    mixed += before.view(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed += np.uint64(move * 0x165667B19E3779F9 & _ALL)
    mixed ^= mixed >> np.uint64(29)
    return int(mixed.sum(dtype=np.uint64))
