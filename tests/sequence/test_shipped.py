from __future__ import annotations

from pathlib import Path

import pytest

from signals.core.table import INTERLOCK_NAMES
from signals.sequence.load import load, venue_id
from signals.sequence.report import line_of
from tests.sequence.playing import SHIPPED, play, venue

BEFORE_THE_TABLE = {"wrong-phase", "unknown-target"}


LONG = {
    "contact", "driver-out", "ignored-signal", "loose-clothing", "marshal-out", "person-in-pit", "quarry-day",
    "shortcut", "slow-kart", "spin-in-the-hairpin",
}  # fmt: skip
"""Minutes of a lifelike track: they hold on every commit, beside `make test`."""
PLAYED = [
    pytest.param(path, id=path.stem, marks=[pytest.mark.gate] * (path.stem in LONG)) for path in SHIPPED
]


@pytest.mark.parametrize("path", PLAYED)
def test_every_shipped_sequence_holds(path: Path) -> None:
    result = play(path)
    short = [str(line_of(step)) for step in result.steps if not step.held]
    assert not short, "\n".join([result.title, *short])
    assert result.held


def test_every_interlock_refuses_in_some_shipped_sequence() -> None:
    refused: set[str] = set()
    for path in SHIPPED:
        sequence = load(path, venue(venue_id(path)))
        refused |= {rule for step in sequence.steps for rule in step.table.rules or ()}
    assert {*INTERLOCK_NAMES, *BEFORE_THE_TABLE} - refused == set()


def test_each_interlock_has_a_sequence_where_it_refuses_with_a_set_of_its_own() -> None:
    """The exact set matters: of two sets that differ in one name, one shows that it matters."""
    sets: set[frozenset[str]] = set()
    for path in SHIPPED:
        sequence = load(path, venue(venue_id(path)))
        sets |= {frozenset(step.table.rules) for step in sequence.steps if step.table.rules}
    alone = {name for rules in sets for name in rules if len(rules) == 1 or rules - {name} in sets}
    assert set(INTERLOCK_NAMES) - alone == set()
