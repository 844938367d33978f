"""A table made wrong in one place: killed, equivalent, or explained; what is redundant is what docs say."""

from __future__ import annotations

import pytest

from signals.core.table import TABLE
from signals.core.table.depth import DEPTH
from signals.proof.cli import explained
from signals.proof.mutants import Court, Fate, Mutant, Verdict, mutants, redundant, try_all
from signals.proof.scopes import Size, core_rows, layout_of
from signals.proof.survivors import EXPLAINED

SMALLEST = layout_of(Size(1, 1, 1))


@pytest.fixture(scope="module")
def court() -> Court:
    return Court("the smallest", SMALLEST, core_rows(SMALLEST))


@pytest.fixture(scope="module")
def made(court: Court) -> dict[str, Mutant]:
    return {mutant.name: mutant for mutant in mutants(court.ground)}


@pytest.mark.parametrize(
    ("name", "fate"),
    [
        ("arm: without interlock caution-holds", Fate.KILLED),
        ("close: without interlock track-occupied", Fate.KILLED),
        ("start: without interlock stop-holds", Fate.EQUIVALENT),
        ("close: without moving phase to closed", Fate.KILLED),
        ("restart: phase stays", Fate.KILLED),
    ],
)
def test_a_mutant_meets_its_fate(name: str, fate: Fate, court: Court, made: dict[str, Mutant]) -> None:
    assert court.try_one(made[name])[0] is fate


def test_a_court_that_stopped_early_lets_nothing_off(made: dict[str, Mutant]) -> None:
    early = Court("one state", SMALLEST, core_rows(SMALLEST), most=1)
    assert early.try_one(made["start: without interlock stop-holds"])[0] is Fate.UNEXPLORED


def test_what_is_redundant_is_told_by_rule_and_who_calls_is_not_of_the_state() -> None:
    verdicts = [
        Verdict("start: without interlock stop-holds", Fate.EQUIVALENT),
        Verdict("start: without interlock caution-holds", Fate.EQUIVALENT),
        Verdict("finish: without interlock not-authorised", Fate.EQUIVALENT),
        Verdict("arm: without interlock stop-holds", Fate.KILLED),
        Verdict("arm: without setting ready", Fate.EQUIVALENT),
    ]
    assert redundant(verdicts) == {"start": ("caution-holds", "stop-holds")}


def test_every_explanation_and_every_redundancy_is_of_the_table(made: dict[str, Mutant]) -> None:
    needs = {rule.name: rule.needs for rule in TABLE.rules}
    by_all = {"journal-fault", "stale-view"}
    assert [name for name in EXPLAINED if name not in made] == []
    assert [
        (rule, need) for rule in DEPTH for need in DEPTH[rule] if need not in {*needs[rule], *by_all}
    ] == []


@pytest.mark.night  # `make prove` tries all mutants, these among them
def test_the_interlocks_of_start_and_arm_are_as_listed() -> None:
    verdicts = try_all(
        workers=2,
        only=lambda mutant: bool(mutant.waived) and mutant.rule in ("arm", "start"),
    )
    assert all(verdict.fate is Fate.KILLED or explained(verdict) for verdict in verdicts)
    assert redundant(verdicts) == {rule: tuple(sorted(DEPTH[rule])) for rule in ("arm", "start")}
