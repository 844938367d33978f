"""A drill file's mistakes come all at once, each with its line and what would be right."""

from __future__ import annotations

import tomllib
from pathlib import Path

import jsonschema
import pytest

from signals.errors import BadInput
from sim.drill import deeds
from sim.drill.generate import schema
from sim.drill.load import find, load
from tests.drill.playing import CONFIGS, SHIPPED, venue

WRONG = {
    'topic = "incident"': 'topic = "accident"',
    'seats = ["desk", "p1", "p2"]': 'seats = ["dek"]',
    'sectors = ["s2", "s3", "s4", "s5"]': 'sectors = ["s2", "s9"]',
    'event = "spin"': 'event = "spinn"',
    "at_s = [6, 18]": "at_s = [18, 6]",
    'call = ["caution"]': 'call = ["cautoin"]',
    'once = ["spin"]': 'once = ["spon"]',
    'loses = ["lift.early"]': 'loses = ["lift.erly"]',
}


def test_every_mistake_is_named_at_once_with_its_line(tmp_path: Path) -> None:
    text = (CONFIGS / "drills/spin-rejoins.toml").read_text(encoding="utf-8")
    for right, mistaken in WRONG.items():
        assert right in text
        text = text.replace(right, mistaken, 1)
    path = tmp_path / "wrong.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as wrong:
        load(path, venue())
    lines = text.splitlines()
    named = {lines[finding.line - 1] for finding in wrong.value.findings}
    # The draw that fails and the duty that fails hide what hangs on them: those two are named themselves.
    assert named >= set(WRONG.values()) - {'loses = ["lift.erly"]'}
    assert all(finding.right for finding in wrong.value.findings)


def test_the_published_schema_takes_every_shipped_drill() -> None:
    checker = jsonschema.Draft202012Validator(schema())
    for path in SHIPPED:
        checker.validate(tomllib.loads(path.read_text(encoding="utf-8")))


def test_an_unknown_drill_is_told_with_its_nearest() -> None:
    with pytest.raises(BadInput, match='did you mean "spin-rejoins"'):
        find("spin-rejoin")


def test_deeds_are_written_and_read_back(tmp_path: Path) -> None:
    done = (deeds.Deed(at_s=1.5, seen="s3"), deeds.Deed(at_s=2.0, call="caution", where="s3", reason='"x"'))
    deeds.write(tmp_path / "calls.toml", done, "a test")
    assert deeds.load(tmp_path / "calls.toml") == done


def test_a_deed_that_is_none_or_two_is_a_mistake(tmp_path: Path) -> None:
    path = tmp_path / "calls.toml"
    path.write_text('[[deed]]\nat_s = 4\n\n[[deed]]\nat_s = 3\nseen = "s3"\nwalk = "s3"\n', encoding="utf-8")
    with pytest.raises(BadInput) as wrong:
        deeds.load(path)
    assert [finding.line for finding in wrong.value.findings] == [1, 4, 5]
