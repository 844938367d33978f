"""State and step properties shown by induction with z3, for a venue of any size and every row of the table.

For every move and every clause: where the hypothesis holds and the move is open, for any truths and any
group that come with it, the hypothesis holds after it and the clause holds of the step; and the initial
state satisfies it. What is shown so holds in every reachable state, however long the way there. Nothing
is abstracted but time: what equipment reports is stored, a timer that runs may expire at any moment.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from multiprocessing import get_all_start_methods, get_context
from multiprocessing.connection import Connection, wait
from time import perf_counter
from typing import Any, Self

from signals.core.forms import Table
from signals.core.state import Layout
from signals.core.table import TABLE
from signals.proof.encoding import z3_or_say
from signals.proof.induction import Induction
from signals.proof.invariants import INVARIANTS
from signals.proof.program import Move
from signals.proof.properties import ENABLED, STATE, STEPS, Property
from signals.proof.steps import Counterexample

Progress = Callable[[int, int], None]
"""Called with the moves that were asked about, and all of them."""
_Told = tuple[int, list[Counterexample], int]
"""How many moves were asked about, what broke, how many queries it took."""


@dataclass(slots=True)
class Shown:
    """What came of one property: held, or the states and moves that break it without being ruled out."""

    name: str
    says: str
    counterexamples: list[Counterexample] = field(default_factory=list)

    @property
    def held(self) -> bool:
        """Whether nothing breaks it."""
        return not self.counterexamples


@dataclass(frozen=True, slots=True)
class Result:
    """What came of an induction.

    Attributes:
        size: how many sectors, heads, posts, karts and inputs the venue has.
        alike: the karts that stood for one another.
        strengthenings: the invariants that the hypothesis took beside the properties' own.
        moves: how many moves were asked about, one of each orbit.
        seconds: wall time.

    """

    size: dict[str, int]
    alike: list[tuple[str, ...]]
    strengthenings: list[str]
    properties: list[Shown]
    moves: int
    queries: int
    seconds: float

    @property
    def held(self) -> bool:
        """Whether every property was shown."""
        return all(shown.held for shown in self.properties)

    def as_dict(self) -> dict[str, Any]:
        """Give it as JSON values."""
        judged = [asdict(shown) | {"held": shown.held} for shown in self.properties]
        return {"held": self.held, **asdict(self), "properties": judged}


def induct(
    layout: Layout,
    table: Table = TABLE,
    *,
    invariants: Sequence[Property] = INVARIANTS,
    workers: int = 2,
    progress: Progress | None = None,
) -> Result:
    """Show every property of a venue by induction.

    Args:
        layout: the venue.
        table: the rules.
        invariants: the strengthenings the hypothesis may use; they are shown along.
        workers: how many processes share the moves, where the system can split a process in two.
        progress: called now and then.

    Raises:
        Unusable: z3 is not here.

    """
    z3_or_say()
    began = perf_counter()
    induction = Induction(layout, table, invariants)
    broken: list[Counterexample] = []
    done = 0
    for count, found, queries in _every(induction, workers):
        done += count
        broken += found
        induction.queries += queries
        if progress:
            progress(done, len(induction.moves))
    shown = {each.name: Shown(each.name, each.says) for each in (*invariants, *STATE, *STEPS)}
    for always in ENABLED:
        shown.setdefault(always.name, Shown(always.name, always.says))
    for counterexample in broken:
        shown[counterexample.name].counterexamples.append(counterexample)
    return Result(
        _size(layout),
        induction.groups,
        [prop.name for prop in invariants],
        list(shown.values()),
        len(induction.moves),
        induction.queries,
        round(perf_counter() - began, 2),
    )


def _size(layout: Layout) -> dict[str, int]:
    return {what: len(getattr(layout, what)) for what in ("sectors", "heads", "posts", "karts", "inputs")}


def _every(induction: Induction, workers: int) -> Iterator[_Told]:
    """Ask everything there is to ask."""
    batches = induction.batches()
    workers = min(workers, os.cpu_count() or 1, len(batches))
    if workers < 2 or "fork" not in get_all_start_methods():  # noqa: PLR2004 - one is no sharing
        yield 0, _standing(induction), 0
        yield from ((len(batch), induction.broken(batch), 0) for batch in batches)
        return
    with _Crew(induction, [batches[first::workers] for first in range(workers)]) as crew:
        yield 0, _standing(induction), 0
        yield from crew.told()


def _standing(induction: Induction) -> list[Counterexample]:
    """Give what breaks without any move."""
    return [*induction.start(), *induction.consequences(), *induction.open_calls()]


class _Crew:
    """Processes that share the moves; each begins with a copy of everything that is built."""

    def __init__(self, induction: Induction, shares: Sequence[list[list[Move]]]) -> None:
        context = get_context("fork")
        self._processes = []
        self._ends: list[Connection] = []
        for share in shares:
            mine, theirs = context.Pipe(duplex=False)
            process = context.Process(target=_ask, args=(induction, share, theirs), daemon=True)
            process.start()
            theirs.close()
            self._processes.append(process)
            self._ends.append(mine)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for process, end in zip(self._processes, self._ends, strict=True):
            process.terminate()
            process.join()
            process.close()
            end.close()

    def told(self) -> Iterator[_Told]:
        """Give what the processes tell, as it comes; raises RuntimeError where one ended early."""
        open_ends = list(self._ends)
        while open_ends:
            for end in wait(open_ends):
                assert isinstance(end, Connection)  # noqa: S101 - nothing else was given
                try:
                    told: _Told | None = end.recv()
                except EOFError as error:
                    raise RuntimeError("a process that asked z3 ended early") from error
                if told is None:
                    open_ends.remove(end)
                else:
                    yield told


def _ask(induction: Induction, share: Iterable[list[Move]], end: Connection) -> None:
    for batch in share:
        before = induction.queries
        end.send((len(batch), induction.broken(batch), induction.queries - before))
    end.send(None)
