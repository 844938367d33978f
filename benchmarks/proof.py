"""How fast every state is visited: `python -m benchmarks.proof`.

First our explorer against SPIN and rumur, the peers, on one model printed from the same table, in one
run: states a second of the search alone and with what comes before it (printing, generating, compiling).
All three judge every property of states; SPIN and we judge every step as well, rumur where its compiler's
time allows (`signals/proof/asking.py`). Counts must be equal, or the row says NO. We use every processor,
the peers one each: that is how `kerblight prove` runs them.

Then how the cost grows: with sectors, karts and posts, the states and what one of them costs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from time import perf_counter

from benchmarks.measure import parser, say_where, show, verdict
from signals.core.table import TABLE
from signals.proof import checkers
from signals.proof.checkers import MANY_STATES, Report
from signals.proof.murphi import murphi
from signals.proof.program import Program
from signals.proof.promela import promela
from signals.proof.scopes import Size, core_rows, ground_of, layout_of
from signals.proof.spoken import Spoken, spoken
from signals.proof.states import Explorer
from signals.proof.stating import Statements

AGAINST_PEERS = (Size(1, 1, 2), Size(1, 2, 2), Size(2, 2, 2))
GROWTH = (
    Size(1, 1, 1), Size(2, 1, 1), Size(3, 1, 1), Size(4, 1, 1),
    Size(1, 2, 1), Size(1, 3, 1), Size(1, 1, 2), Size(1, 1, 3),
    Size(2, 2, 1), Size(3, 2, 1), Size(2, 2, 2),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ran:
    """One search: seconds of the search, and of what had to come before it."""

    by: str
    states: int
    transitions: int
    search_s: float
    before_s: float

    @property
    def rate(self) -> float:
        """States a second of the search alone."""
        return self.states / self.search_s


def ours(size: Size) -> tuple[Ran, Statements]:
    """Explore with all properties, as `kerblight prove` does."""
    began = perf_counter()
    layout = layout_of(size)
    program = Program(ground_of(layout, TABLE), core_rows(layout, TABLE))
    statements = Statements(program)
    explorer = Explorer(program, list(statements.breaches()))
    ready = perf_counter()
    found = explorer.run()
    search_s = perf_counter() - ready
    return Ran("kerblight", len(found.keys), found.transitions, search_s, ready - began), statements


def peers(size: Size, states: int, statements: Statements) -> Iterator[Ran]:
    """Let SPIN and rumur do the same, where they are installed."""
    model = spoken(statements)
    for tool, check in (("spin", _spin), ("rumur", _rumur)):
        if reason := checkers.missing(tool):
            print(reason)
            continue
        began = perf_counter()
        told = check(model, size, states)
        before_s = perf_counter() - began - told.checking_s
        yield Ran(f"{tool} {told.version}", told.states, told.transitions, told.checking_s, before_s)


def _spin(model: Spoken, size: Size, states: int) -> Report:
    return checkers.spin(promela(model, str(size)), states=states, labels=model.labels)


def _rumur(model: Spoken, size: Size, states: int) -> Report:
    judged = model.of_states_alone() if states > MANY_STATES else model
    return checkers.rumur(murphi(judged, str(size)), states=states)


def against_peers() -> None:
    """Print the first table."""
    rows = []
    for size in AGAINST_PEERS:
        mine, statements = ours(size)
        for ran in (mine, *peers(size, mine.states, statements)):
            same = (ran.states, ran.transitions) == (mine.states, mine.transitions)
            rows.append((
                f"{size} {ran.by}", f"{ran.states:,}", f"{ran.transitions:,}", verdict(same),
                f"{ran.before_s:.1f}", f"{ran.search_s:.1f}", f"{ran.rate / 1000:,.0f}",
                f"{mine.rate / ran.rate:.1f}",
            ))  # fmt: skip
    heads = (
        "size, explorer",
        "states",
        "transitions",
        "same",
        "before s",
        "search s",
        "k states/s",
        "ours is ×",
    )
    show("Against peers, one model, one run", heads, rows)


def growth() -> None:
    """Print the second table."""
    rows = []
    for size in GROWTH:
        ran, _ = ours(size)
        each_us = ran.search_s / ran.states * 1e6
        rows.append((
            str(size), f"{ran.states:,}", f"{ran.transitions / ran.states:.0f}", f"{ran.search_s:.2f}",
            f"{each_us:.1f}", f"{ran.search_s / ran.transitions * 1e9:.0f}",
        ))  # fmt: skip
    heads = ("sectors×karts×posts", "states", "moves a state", "search s", "µs a state", "ns a transition")
    show("How the cost grows", heads, rows)


if __name__ == "__main__":
    parser(__doc__).parse_args()
    say_where()
    against_peers()
    growth()
