"""Asks SPIN, rumur and z3 about a small venue that we have explored, side by side.

Each works in a process of its own or leaves ours free while it thinks, so as many are asked at once
as there are processors. What one of them says agrees when its counts are ours, to the last one.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from time import perf_counter

from signals.core.forms import Table
from signals.core.state import Layout
from signals.errors import Unusable
from signals.proof import checkers
from signals.proof.checkers import MANY_STATES, Report
from signals.proof.murphi import murphi
from signals.proof.murphi_karts import murphi_with_symmetry
from signals.proof.program import Program
from signals.proof.promela import promela
from signals.proof.scopes import Size, core_rows, ground_of, layout_of
from signals.proof.solver import induct
from signals.proof.spoken import Spoken, spoken
from signals.proof.states import Explorer
from signals.proof.stating import Statements
from signals.proof.symmetry import symmetry

CHECKERS = ("spin", "rumur", "z3")
"""Who may be asked."""


@dataclass(frozen=True, slots=True)
class Counted:
    """What one explorer counted; `agrees`, whether it is what ours did."""

    by: str
    states: int
    transitions: int | None
    seconds: float
    agrees: bool = True
    broken: str = ""
    missing: str = ""
    """Why it could not be asked, in a line."""


@dataclass(frozen=True, slots=True)
class Explored:
    """What we found at a size, for others to find too."""

    size: Size
    layout: Layout
    table: Table
    model: Spoken
    states: int
    transitions: int
    held: bool


Question = tuple[str, Callable[[], Counted]]


def ask(tools: Sequence[str], ours: Explored) -> Iterator[Counted]:
    """Ask some of CHECKERS about what was explored, and give what each says, in the order of the tools."""
    questions = [question for tool in tools for question in _QUESTIONS[tool](ours)]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        yield from pool.map(_answer, questions)


def _answer(question: Question) -> Counted:
    who, put = question
    begun = perf_counter()
    try:
        return put()
    except Unusable as reason:
        return Counted(who, 0, None, round(perf_counter() - begun, 1), missing=str(reason))


def _spin(ours: Explored) -> Iterator[Question]:
    def put() -> Counted:
        text = promela(ours.model, str(ours.size))
        told = checkers.spin(text, states=ours.states, labels=ours.model.labels)
        return _counted("spin", told, ours, (ours.states, ours.transitions))

    yield "spin", put


def _rumur(ours: Explored) -> Iterator[Question]:
    """Ask twice: with karts by their names, and with karts of one class as one."""
    alone = ours.states > MANY_STATES

    def put() -> Counted:
        model = ours.model.of_states_alone() if alone else ours.model
        told = checkers.rumur(murphi(model, str(ours.size)), states=ours.states)
        by = f"rumur{_JUDGING if alone else ''}"
        return _counted(by, told, ours, (ours.states, ours.transitions))

    yield "rumur", put
    if ours.size.karts > 1:
        yield _as_one(ours)


_JUDGING = ", judging states alone,"
"""Steps too would take a compiler longer than all else; SPIN and we judge them at every size."""


def _as_one(ours: Explored) -> Question:
    """Ask with interchangeable karts, in one sector: every image of a state costs it time."""
    size = replace(ours.size, sectors=1)
    layout = layout_of(size)
    program = Program(ground_of(layout, ours.table), core_rows(layout, ours.table))
    swaps, _ = symmetry(program.ground)
    found = Explorer(program, symmetry=swaps).run()

    def put() -> Counted:
        model = spoken(Statements(program)).of_states_alone()
        text = murphi_with_symmetry(model, str(size))
        told = checkers.rumur(text, states=len(found.keys), symmetric=True)
        by = f"rumur, interchangeable karts as one, at {size},"
        return _counted(by, told, ours, (len(found.keys), found.transitions))

    return "rumur, interchangeable karts as one", put


def _z3(ours: Explored) -> Iterator[Question]:
    def put() -> Counted:
        shown = induct(ours.layout, ours.table, workers=1)  # a thread must not split the process
        broken = ", ".join(prop.name for prop in shown.properties if not prop.held)
        by, seconds = "z3, by induction with every row", round(shown.seconds, 1)
        return Counted(by, 0, None, seconds, agrees=shown.held == ours.held, broken=broken)

    yield "z3", put


_QUESTIONS: dict[str, Callable[[Explored], Iterator[Question]]] = {"spin": _spin, "rumur": _rumur, "z3": _z3}


def _counted(by: str, told: Report, ours: Explored, counts: tuple[int, int]) -> Counted:
    """Compare a checker's counts with ours; where it found a property broken it stopped, as we did not."""
    agrees = not ours.held if told.broken else (told.states, told.transitions) == counts
    seconds = round(told.compiling_s + told.checking_s, 1)
    return Counted(f"{by} {told.version}", told.states, told.transitions, seconds, agrees, told.broken)
