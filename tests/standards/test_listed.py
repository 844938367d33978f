"""`docs/standards.md` names tests: each exists, each of this folder is named, no value stands on M alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
PAGE = (ROOT / "docs" / "standards.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.splitlines()
    if re.match(r"\| [A-Z]\d", line)
]
CHECKED = {row[0]: row for row in ROWS if len(row) == 5}
NAMED = re.findall(r"`((?:[\w/]+/)?test_\w+\.py)(?:::(test_\w+))?`", PAGE)
WANTED = {"F1", "F2", "F3", "F4", "F5", "S1", "S3", "H1", "H2", "H3", "H4", "H6", "H8", "K1", "K3", "K4"}
TEST_OF_A_VALUE = re.compile(r"^(?:async )?def (test_[a-z]\d+_\w+)", re.MULTILINE)


def test_the_values_that_must_be_checked_are() -> None:
    assert set(CHECKED) >= WANTED
    assert all(row[2] and row[3] and "test_" in row[4] for row in CHECKED.values())


@pytest.mark.parametrize(("file", "test"), NAMED)
def test_every_test_it_names_exists(file: str, test: str) -> None:
    path = ROOT / file if "/" in file else HERE / file
    assert path.is_file()
    if test:
        assert re.search(rf"def {test}\(", path.read_text(encoding="utf-8"))


def test_every_test_of_a_value_is_named() -> None:
    there = {test for path in HERE.glob("test_*.py") for test in TEST_OF_A_VALUE.findall(path.read_text())}
    named = {test for _, test in NAMED}
    # These two say how a list is kept whole, or try a second input of one that is named.
    assert there - named <= {
        "test_h2_every_phase_is_covered",
        "test_h6_holds_at_both_ends_of_what_a_venue_may_choose",
        "test_k3_k4_a_kart_nobody_hired_does_not_move",
    }


def test_a_value_from_memory_is_never_the_only_check() -> None:
    for row in CHECKED.values():
        if row[3] == "M":
            assert "; beside" in row[4], row[0]
