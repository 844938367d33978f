"""What z3 shows by induction: a small venue here, the shipped ones as a gate; and that it sees defects."""

from __future__ import annotations

import json
import random
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from signals.controller.layout import layout_of
from signals.core.expr import TableError
from signals.core.forms import Case, Table
from signals.core.ground import Ground
from signals.core.table import TABLE
from signals.errors import Unusable
from signals.proof import induction
from signals.proof.induction import Induction
from signals.proof.invariants import INVARIANTS
from signals.proof.nodes import Node, Value, negate, rebuild
from signals.proof.program import Program, Scope
from signals.proof.properties import Clause, Property
from signals.proof.small import LIMITS, small_layout
from signals.proof.solver import Result, induct
from signals.proof.states import Explorer
from signals.proof.stating import Breach, Statements
from signals.proof.symbolic import alike, ordered, pieces
from signals.venue import load

SMALLEST = small_layout(1, 1, 1, inputs=True)
GRID = small_layout(
    1, 1, 2, grid_start=True, limits_kmh={"dry": LIMITS | {"stop": 4.0}, "wet": LIMITS | {"stop": 4.0}}
)
"""Karts set off together, and may crawl under a stop."""


def changed(name: str, **how: Any) -> Table:
    """Give the table with one rule changed."""
    assert any(rule.name == name for rule in TABLE.rules)
    return replace(TABLE, rules=tuple(replace(r, **how) if r.name == name else r for r in TABLE.rules))


def without(rule: str, interlock: str) -> Table:
    (needs,) = (r.needs for r in TABLE.rules if r.name == rule)
    assert interlock in needs
    return changed(rule, needs=tuple(need for need in needs if need != interlock))


def without_effect(rule: str, target: str) -> Table:
    (sets,) = (r.sets for r in TABLE.rules if r.name == rule)
    assert target in sets
    return changed(rule, sets={name: value for name, value in sets.items() if name != target})


def broken(result: Result) -> set[str]:
    return {shown.name for shown in result.properties if not shown.held}


def test_a_small_venue_is_inductive_with_every_row() -> None:
    seen: list[tuple[int, int]] = []
    result = induct(small_layout(2, 2, 2, inputs=True), progress=lambda *of: seen.append(of))
    assert result.held, [str(c) for shown in result.properties for c in shown.counterexamples]
    assert {"N1", "N2", "P1", "P18", "P32", "E1", "E5"} <= {shown.name for shown in result.properties}
    assert seen[-1] == (result.moves, result.moves)
    assert result.queries > len(INVARIANTS)
    assert json.loads(json.dumps(result.as_dict()))["held"] is True


@pytest.mark.gate
@pytest.mark.parametrize("venue", ["harbour-loop", "quarry-ring"])
def test_a_shipped_venue_is_inductive_with_every_row(venue: str) -> None:
    result = induct(layout_of(load(Path(f"configs/{venue}.toml")), now_ms=0))
    assert result.held, [str(c) for shown in result.properties for c in shown.counterexamples]
    print(f"{venue}: {result.size}, {result.moves} moves, {result.queries} queries, {result.seconds} s")


@pytest.mark.parametrize(
    ("rule", "table", "name", "told"),
    [
        (
            "clear",
            without("clear", "track-not-checked"),
            "P27",
            "where latch = recovery; then clear post=desk",
        ),
        (
            "lift-stop",
            without("lift-stop", "monitor-tripped"),
            "P5",
            "monitor = tripped; then lift-stop placer=",
        ),
        (
            "stop",
            without_effect("stop", "stop[post]"),
            "P16r",
            "where all is as at the start; then stop kind=",
        ),
        (
            "kart-lost",
            without_effect("kart-lost", "caution[s, E] for s in sector if place[kart] not in (pit, aside)"),
            "P15",
            "then kart-lost kart=1 post=E: place[1] = unknown",
        ),
        ("disarm", changed("disarm", phases=("staging",)), "E3", "where phase = armed"),
    ],
    ids=["an interlock", "another", "a latch without its hold", "a side effect", "a call that is shut"],
)
def test_a_planted_defect_is_told_as_a_state_and_a_move(
    rule: str, table: Table, name: str, told: str
) -> None:
    made = Induction(SMALLEST, table, INVARIANTS)
    found = [*made.open_calls()]
    found += [each for batch in made.batches() if batch[0].rule.name == rule for each in made.broken(batch)]
    assert any(each.name == name and told in str(each) for each in found), list(map(str, found))


@pytest.mark.gate
def test_without_the_strengthenings_a_hold_of_no_kind_or_a_kart_let_out_aside_is_not_ruled_out() -> None:
    bare = induct(GRID, invariants=(), workers=1)
    told = [str(counterexample) for shown in bare.properties for counterexample in shown.counterexamples]
    assert {"P5", "P18"} <= broken(bare)
    assert any("stop[" in text and "= equipment" in text and "hand-over-stop" in text for text in told)
    assert any("= aside" in text and "let_out" in text and "restart" in text for text in told)


def test_a_strengthening_that_does_not_hold_is_told() -> None:
    never_open = Property("N9", "no opening check stands", (Clause("opening == missing"),))
    nowhere = Property("N8", "no kart is in the pit", (Clause("all(place[k] != pit for k in kart)"),))
    assert broken(induct(SMALLEST, invariants=(*INVARIANTS, never_open), workers=1)) == {"N9"}
    (at_start,) = Induction(SMALLEST, TABLE, (*INVARIANTS, nowhere)).start()
    assert (at_start.name, at_start.about) == ("N8", "the initial state")


def test_the_strengthenings_hold_in_every_state_explored() -> None:
    rules = {
        *("verdict", "stage", "arm", "start", "let-out", "swap", "finish", "close"),
        *("account-pit", "account-aside"),
        *("stop", "caution", "lift-stop", "lift-caution", "clear", "hand-over-stop", "hand-over-caution"),
        *("kart-at", "kart-rolls", "restart", "broker-lost"),
    }
    left_out = frozenset(rule.name for rule in TABLE.rules) - rules
    layout = small_layout(1, 1, 2, grid_start=True)
    program = Program(Ground(TABLE, layout), Scope(without=left_out, whole_groups=True))
    statements = Statements(program)
    wrong = [
        Breach(prop.name, number, None, tree, tree)
        for prop in INVARIANTS
        for number, clause in enumerate(prop.clauses)
        for tree in [negate(statements.condition(clause.when))]
    ]
    found = Explorer(program, wrong).run()
    assert found.complete
    assert len(found.keys) > 10_000
    assert not found.broken


# -- one for all ---------------------------------------------------------------------------------------


def test_karts_are_alike_by_their_class() -> None:
    layout = small_layout(1, 4, 1, kart_class={1: "adult", 2: "junior", 3: "adult", 4: "junior"})
    assert alike(Ground(TABLE, layout)) == [("1", "3"), ("2", "4")]


@pytest.mark.gate
@pytest.mark.parametrize(
    "table", [TABLE, without("let-out", "kart-disqualified/this")], ids=["whole", "with a defect"]
)
def test_one_kart_of_each_kind_tells_as_much_as_all_of_them(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = small_layout(1, 3, 1)
    some = induct(layout, table, workers=1)
    monkeypatch.setattr(
        induction, "alike", lambda ground: [(kart,) for kart in ground.schema.sorts["kart"].members]
    )
    every = induct(layout, table, workers=1)
    assert broken(some) == broken(every)
    assert some.moves < every.moves


def test_karts_whose_order_matters_are_not_taken_for_one_another() -> None:
    assert len(ordered(TABLE)) == 1
    first = Case("earlier[k, m] and entry[k] != none", "", {"k": "kart", "m": "kart"})
    lopsided = tuple(
        replace(interlock, cases=(first,)) if interlock.name == "classes-mixed" else interlock
        for interlock in TABLE.interlocks
    )
    with pytest.raises(TableError, match="the order of karts 1 and 2 makes a difference"):
        Induction(small_layout(1, 2, 1), replace(TABLE, interlocks=lopsided), INVARIANTS)


def test_a_clause_comes_apart_at_its_outermost_and_and_all() -> None:
    sorts = {"kart": ("1", "2"), "head": ("h1",)}
    text = "a or b and all(x[k] and y[k] for k in kart if z[k])"
    apart = [(piece.text, dict(piece.bound)) for piece in pieces(text, sorts)]
    whole = "(a) or (not ((z[k])) or (x[k] and y[k]))"
    assert apart == [
        ("(a) or (b)", {}),
        (whole, {"k": ("kart", "1")}),
        (whole, {"k": ("kart", "2")}),
    ]
    assert len(pieces(text, sorts, over="head")) == 2


# -- z3 ------------------------------------------------------------------------------------------------


def test_z3_reads_trees_as_they_are_meant() -> None:
    made = Induction(SMALLEST, TABLE, INVARIANTS)
    z3, encoding, rng = made.encoding.z3, made.encoding, random.Random(7)  # noqa: S311 - any will do
    trees = [tree for tree in (*made.statements.limits, *made.statements.aspects) if isinstance(tree, Node)]
    trees += [asking.guard for move in made.moves for asking in move.asked if isinstance(asking.guard, Node)]
    for tree in trees:
        leaves = {leaf: rng.choice(_values(made, leaf)) for leaf in sorted(tree.reads, key=str)}
        told = encoding.value(tree)
        told = z3.simplify(
            z3.substitute(told, *((encoding.leaf(*leaf), encoding.number(n)) for leaf, n in leaves.items()))
        )
        assert told.as_long() == rebuild(tree, partial(_of, leaves), {})


def _values(made: Induction, leaf: tuple[str, int | str]) -> list[int]:
    op, what = leaf
    return made.program.domains[int(what)] if op == "slot" else [0, 1]


def _of(values: dict[tuple[str, int | str], int], leaf: Node) -> Value:
    return values[leaf.op, leaf.args[0]]


def test_without_z3_a_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "z3", None)
    with pytest.raises(Unusable, match=r"^z3 is not here; get it with: pip install 'kerblight\[proof\]'$"):
        induct(SMALLEST)


@pytest.mark.gate
def test_processes_share_the_moves_and_find_the_same() -> None:
    table = without("clear", "track-not-checked")

    def told(result: Result) -> list[str]:
        return sorted(f"{c.name} {c.clause} {c.move}" for s in result.properties for c in s.counterexamples)

    shared = told(induct(SMALLEST, table, workers=2))
    assert shared
    assert shared == told(induct(SMALLEST, table, workers=1))
