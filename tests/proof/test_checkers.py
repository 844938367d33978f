"""SPIN and rumur explore the printed models by semantics of their own, and find what we find."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest

from signals.core.forms import Table
from signals.core.table import TABLE
from signals.errors import Unusable
from signals.proof import checkers
from signals.proof.checkers import Report
from signals.proof.generate import SMALLEST, generated
from signals.proof.murphi import murphi
from signals.proof.murphi_karts import murphi_with_symmetry
from signals.proof.program import Program
from signals.proof.promela import promela
from signals.proof.scopes import Size, core_rows, ground_of, layout_of
from signals.proof.spoken import Spoken, spoken
from signals.proof.states import Explorer, Found
from signals.proof.stating import Statements
from signals.proof.symmetry import symmetry

needs_spin = pytest.mark.skipif(bool(checkers.missing("spin")), reason=checkers.missing("spin"))
needs_rumur = pytest.mark.skipif(bool(checkers.missing("rumur")), reason=checkers.missing("rumur"))


def program_of(size: Size, table: Table = TABLE) -> Program:
    layout = layout_of(size)
    return Program(ground_of(layout, table), core_rows(layout, table))


def by_spin(model: Spoken, states: int = 20_000) -> Report:
    return checkers.spin(promela(model, "a test"), states=states, labels=model.labels)


def by_rumur(model: Spoken, states: int = 20_000) -> Report:
    return checkers.rumur(murphi(model, "a test"), states=states)


def counts(found: Found) -> tuple[int, int, str]:
    return len(found.keys), found.transitions, ""


def told(report: Report) -> tuple[int, int, str]:
    return report.states, report.transitions, report.broken


def without(interlock: str, *rules: str) -> Table:
    """Give the table with an interlock dropped from some rules."""
    dropped = (
        replace(rule, needs=tuple(need for need in rule.needs if need != interlock))
        if rule.name in rules
        else rule
        for rule in TABLE.rules
    )
    return replace(TABLE, rules=tuple(dropped))


def careless(rule: str) -> Table:
    """Give the table with a rule that moves nothing by itself, only assigns."""
    return replace(TABLE, rules=tuple(replace(r, moves=()) if r.name == rule else r for r in TABLE.rules))


@needs_spin
def test_spin_counts_the_same_states_and_transitions() -> None:
    program = program_of(SMALLEST)
    assert told(by_spin(spoken(Statements(program)))) == counts(Explorer(program).run())


@pytest.mark.gate
@needs_rumur
def test_rumur_counts_the_same_states_and_transitions() -> None:
    program = program_of(SMALLEST)
    assert told(by_rumur(spoken(Statements(program)))) == counts(Explorer(program).run())


@pytest.mark.gate
@needs_spin
@needs_rumur
def test_all_count_the_same_with_two_posts() -> None:
    program = program_of(Size(1, 1, 2))
    model, found = spoken(Statements(program)), Explorer(program).run()
    assert told(by_spin(model)) == told(by_rumur(model)) == counts(found)


@pytest.mark.night
@needs_spin
@needs_rumur
def test_all_count_the_same_with_two_karts_and_posts() -> None:
    program = program_of(Size(1, 2, 2))
    model, found = spoken(Statements(program)), Explorer(program).run()
    assert told(by_spin(model, len(found.keys))) == told(by_rumur(model, len(found.keys))) == counts(found)


FAULTS = frozenset({
    "head-lost", "head-back", "monitor-lost", "monitor-back", "monitor-tripped", "monitor-reset",
    "broker-lost", "foreign-controller", "journal-failed", "journal-back", "lend", "give-back", "restart",
})  # fmt: skip


@needs_rumur
@pytest.mark.parametrize(
    "left_out",
    [
        pytest.param(FAULTS, id="nothing fails", marks=pytest.mark.gate),
        pytest.param(frozenset(), id="anything may fail", marks=pytest.mark.night),
    ],
)
def test_rumur_counts_the_same_orbits_and_transitions_where_karts_are_interchangeable(
    left_out: frozenset[str],
) -> None:
    layout = layout_of(Size(1, 2, 1))
    scope = core_rows(layout)
    program = Program(ground_of(layout), replace(scope, without=scope.without | left_out))
    swaps, _ = symmetry(program.ground)
    assert swaps.swaps, "two karts of one class should be interchangeable"
    found = Explorer(program, symmetry=swaps).run()
    model = murphi_with_symmetry(spoken(Statements(program)), "a test")
    assert told(checkers.rumur(model, states=len(found.keys), symmetric=True)) == counts(found)


DEFECTS = {
    "a green light under yellow": without("caution-holds", "arm", "start"),
    "a session closed with karts out": without("track-occupied", "close"),
    "a stop that does not latch": careless("stop"),
    "yellow lifted while its head is dead": without("fault-stands", "lift-caution"),
}


@pytest.mark.gate
@needs_spin
@needs_rumur
@pytest.mark.parametrize("table", DEFECTS.values(), ids=DEFECTS)
def test_a_planted_defect_is_found_by_all_three(table: Table) -> None:
    program = program_of(SMALLEST, table)
    statements = Statements(program)
    breaches = list(statements.breaches())
    found = Explorer(program, breaches).run(until_broken=True)
    model = spoken(statements, breaches)
    assert found.broken, "the explorer finds nothing"
    depth_first, breadth_first = by_spin(model), by_rumur(model)
    for report in (depth_first, breadth_first):
        assert report.broken in model.labels
        assert report.trace, f"{report.tool} names no way to what it found"
        assert {name.partition(" ")[0] for name in report.trace} <= {rule.name for rule in table.rules}
    nearest = [f"{broken.breach.name}.{broken.breach.clause + 1}" for broken in found.broken]
    assert breadth_first.broken in nearest, "breadth-first, both break the same first"


@pytest.mark.gate
def test_karts_that_differ_are_no_scalarset() -> None:
    layout = layout_of(Size(1, 2, 1), kart_class={1: "adult", 2: "junior"}, classes=("junior", "adult"))
    program = Program(ground_of(layout), core_rows(layout))
    with pytest.raises(Unusable, match="karts can be told apart"):
        murphi_with_symmetry(spoken(Statements(program)), "a test")


def test_a_missing_checker_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "/nowhere")
    assert checkers.missing("rumur") == (
        "rumur and gcc not found, so rumur is left out: apt-get install rumur gcc"
    )
    with pytest.raises(Unusable, match="spin and gcc not found, so spin is left out"):
        checkers.spin("", states=1, labels=())


@needs_spin
def test_a_model_that_is_none_is_refused_with_the_checkers_words() -> None:
    with pytest.raises(Unusable, match=r"spin -a ended with \d+: .*syntax error"):
        checkers.spin("no model", states=1, labels=())


def test_models_are_the_same_whatever_the_order_of_hashing() -> None:
    text = "import sys; from signals.proof.generate import generated; sys.stdout.write(repr(generated()))"
    other = subprocess.run(
        [sys.executable, "-c", text], env={"PYTHONHASHSEED": "7"}, capture_output=True, text=True, check=True
    )
    assert other.stdout == repr(generated())
