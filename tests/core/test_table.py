"""The table itself: checked at load, complete, and told in sentences that can be filled."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from signals.core.expr import TableError
from signals.core.forms import Case, Interlock, Move, Rule
from signals.core.ground import CALLED, Ground
from signals.core.machines import MACHINES, arcs
from signals.core.table import CALL_WORDS, INTERLOCK_NAMES, TABLE
from signals.core.table.equipment import EQUIPMENT
from signals.proof.small import small_layout
from signals.words import Aspect, Because, Word

LAYOUT = small_layout(2, 2, 2)


def test_every_word_of_the_contract_is_a_rule() -> None:
    assert set(CALL_WORDS) == {word.value for word in Word}


def test_every_interlock_refuses_somewhere(core: Any) -> None:
    needed = {need.name for ground in core.ground.rules.values() for need in ground.needs}
    assert needed == {interlock.name for interlock in TABLE.interlocks}
    assert {"wrong-phase", "unknown-target"}.isdisjoint(INTERLOCK_NAMES)


def test_every_cap_has_its_word_and_every_aspect_is_reached() -> None:
    assert {cap.because for cap in TABLE.caps} | {"test"} == {because.value for because in Because}
    literal = {shows.aspect.replace("_", "-") for shows in TABLE.shows}
    assert {"red", "yellow-flash", "number", "blue-flash", "green", "dark"} <= literal <= {*Aspect} | {
        "fail-aspect[h]", "told[h]", "finish-aspect",
    }  # fmt: skip


def test_equipment_is_called_by_nobody() -> None:
    assert all(rule.kind not in CALLED for rule in EQUIPMENT)


def test_machines_make_only_constant_moves() -> None:
    assert {machine for machine, *_ in arcs(TABLE)} == set(MACHINES)


def test_sets_never_move_a_machine() -> None:
    for rule in TABLE.rules:
        assert not {re.split(r"[\[ ]", target)[0] for target in rule.sets} & set(MACHINES)


@pytest.mark.parametrize(
    ("when", "what"),
    [
        ("phase == purple", "unknown name purple"),
        ("stop[k] == none", "unknown name k"),
        ("place[where] == pit", "a sector indexes a kart"),
        ("phase", "not a condition"),
        ("ready and phase", "not a condition"),
        ("phase == none", "unknown name none"),
        ("any(stop[p] != none for p in nobody)", "unknown sort nobody"),
        ("1 + 1", "not of the table's language"),
        ("caution[where] == none", "1 indices where 2 are due"),
        ("place[kart] == kart", "against"),
        ("phase ==", "invalid syntax"),
    ],
)
def test_a_wrong_expression_does_not_load(when: str, what: str) -> None:
    broken = Interlock("broken", "", (Case(when, "No."),))
    rule = Rule("x", "x", TABLE.rules[0].kind, "", {"where": "sector", "kart": "kart"}, needs=("broken",))
    table = replace(TABLE, interlocks=(*TABLE.interlocks, broken), rules=(*TABLE.rules, rule))
    with pytest.raises(TableError, match=re.escape(what)):
        Ground(table, LAYOUT)


def test_a_value_of_another_domain_does_not_load() -> None:
    rule = replace(TABLE.rules[0], sets={"ready": "phase"})
    with pytest.raises(TableError, match="a phase, where a bool is due"):
        Ground(replace(TABLE, rules=(rule,)), LAYOUT)


def test_a_need_that_does_not_exist_does_not_load() -> None:
    rule = replace(TABLE.rules[0], needs=("no-such-thing",))
    with pytest.raises(TableError, match="no-such-thing"):
        Ground(replace(TABLE, rules=(rule,)), LAYOUT)


def test_a_move_the_machine_does_not_know_is_an_error(core: Any) -> None:
    from transitions import MachineError  # noqa: PLC0415

    with pytest.raises(MachineError):
        core._machines.move("phase", "closed", "start", 0)
    assert core._machines.move("phase", "armed", "start", 0) == "racing"
    assert isinstance(TABLE.rules[0].moves, tuple)
    assert Move("phase", ("armed",), "racing").when == "True"
