"""Every reachable state: counts and graph pinned, explorers alike, ways that can be played."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from signals.core.forms import Table
from signals.core.table import TABLE
from signals.proof.cli import app
from signals.proof.columns import Columns
from signals.proof.live import lives
from signals.proof.pins import PINNED
from signals.proof.program import Program
from signals.proof.prove import Prover, explore_slice
from signals.proof.scopes import SLICES, Size, core_rows, ground_of, layout_of
from signals.proof.states import Explorer
from signals.proof.stating import Statements
from signals.proof.symmetry import symmetry
from signals.proof.ways import sequence_of
from signals.sequence.load import load
from signals.venue import load as load_venue

CONFIGS = Path(__file__).parents[2] / "configs"
SMALLEST = Size(1, 1, 2)
STATES, TRANSITIONS = 41_677, 1_331_261
"""At 1x1x2; a changed table is a deliberate change, and changes these and `signals/proof/pins.py`."""


def proved(size: Size, table: Table = TABLE) -> Prover:
    prover = Prover(size, table, lambda _: None)
    prover.prove()
    return prover


def without(interlock: str, *rules: str) -> Table:
    """The table with an interlock that some rules no longer ask."""
    changed = tuple(
        replace(rule, needs=tuple(need for need in rule.needs if need != interlock))
        if rule.name in rules
        else rule
        for rule in TABLE.rules
    )
    return replace(TABLE, rules=changed)


def test_the_smallest_venue_whole_and_by_the_machines() -> None:
    proof = proved(SMALLEST).proof
    assert [judged.name for judged in proof.properties if not judged.held] == []
    assert (proof.states, proof.transitions) == (STATES, TRANSITIONS)
    assert proof.agree
    assert proof.pinned == proof.graph
    ours, machines = proof.counted[0], next(c for c in proof.counted if "machines" in c.by)
    assert (ours.states, ours.transitions) == (machines.states, machines.transitions)
    assert {"L1", "L2", "L3"} <= {judged.name for judged in proof.properties}


def test_a_graph_that_is_not_the_pinned_one_falls_short(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(PINNED, "1×1×1", "another")
    with pytest.raises(SystemExit) as ended:
        app(["--sectors", "1", "--karts", "1", "--posts", "1"])
    assert ended.value.code == 1
    assert "NOT THE PINNED ONE, another" in capsys.readouterr().out


def test_machines_that_lead_elsewhere_are_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    true = Program._to
    monkeypatch.setattr(
        Program,
        "_to",
        lambda self, rule, number, source: (
            "closed"
            if self.scope.by_machines and rule.name == "finish" and number == 0
            else true(self, rule, number, source)
        ),
    )
    assert not proved(SMALLEST).proof.agree


def test_karts_are_interchangeable_and_count_as_one() -> None:
    size = Size(1, 2, 1)
    layout = layout_of(size)
    ground = ground_of(layout)
    program = Program(ground, core_rows(layout))
    swaps, said = symmetry(ground)
    assert said["karts"].startswith("interchangeable")
    assert said["sectors"].startswith("not interchangeable")
    every, orbits = Explorer(program, workers=1), Explorer(program, symmetry=swaps, workers=1)
    keys = every.run().keys
    kept = orbits.run().keys
    images = {int(key) for part in swaps.images(orbits.space, kept) for key in part}
    assert images == {int(key) for key in keys}
    assert len(kept) < len(keys)


@pytest.mark.parametrize(
    ("interlock", "rules", "broken"),
    [
        ("caution-holds", ("arm", "start"), "P3"),
        pytest.param("track-occupied", ("close",), "P11", marks=pytest.mark.gate),
        pytest.param("track-not-checked", ("lift-caution",), "P5", marks=pytest.mark.gate),
        pytest.param("no-overtaking-here", ("move-over-one",), "P7", marks=pytest.mark.gate),
    ],
)
def test_a_dropped_interlock_comes_with_a_way_that_can_be_played(
    interlock: str, rules: tuple[str, ...], broken: str, tmp_path: Path
) -> None:
    prover = proved(SMALLEST, without(interlock, *rules))
    judged = next(each for each in prover.proof.properties if each.name == broken)
    assert not judged.held
    assert judged.way
    assert judged.way[-1].split()[0] in (*rules, "caution")
    venue = load_venue(CONFIGS / "harbour-loop.toml")
    path = tmp_path / "way.toml"
    items = [item.id for item in venue.checklist]
    path.write_text(sequence_of(prover.program, prover.proof.ways[broken], broken, items), encoding="utf-8")
    assert len(load(path, venue).steps) >= len(judged.way)


def test_a_way_is_shortest_and_leads_where_it_says() -> None:
    layout = layout_of(SMALLEST)
    program = Program(ground_of(layout), core_rows(layout))
    explorer = Explorer(program, workers=1)
    found = explorer.run()
    key = int(found.levels[-1][0])
    way = explorer.way(found, key, len(found.levels) - 1)
    assert len(way) == len(found.levels) - 1
    assert explorer.space.key(way[-1][1]) == key
    facts = program.start
    for move, after in way:
        state = explorer.space.columns(explorer.space.keys([facts]))
        assert isinstance(state, Columns)
        assert state.true(move.guard).all()
        facts = after


@pytest.mark.gate
def test_home_is_out_of_reach_where_nobody_may_clear() -> None:
    layout = layout_of(SMALLEST)
    scope = core_rows(layout)
    program = Program(ground_of(layout), replace(scope, without=scope.without | {"clear"}))
    explorer = Explorer(program, workers=1)
    stuck = dict(lives(explorer, Statements(program), explorer.run()))
    assert len(stuck["L1"])
    assert len(stuck["L2"])


@pytest.mark.parametrize("part", SLICES, ids=lambda part: part.name)
@pytest.mark.gate
def test_the_added_rows_in_slices(part: object) -> None:
    assert explore_slice(part, lambda _: None).broken == ()  # type: ignore[arg-type]
