from __future__ import annotations

from pathlib import Path

import pytest

from signals.errors import BadInput, Finding
from signals.sequence.load import load, venue_id
from tests.sequence.playing import SHIPPED, venue

MISTAKEN = """\
title = "Eleven mistakes"

[start]
venue = "harbour-loop"
phase = "racing"

[[step]]
call = "stpo"
post = "p1"

[[step]]
at_s = 9
head = "h3"

[[step]]
at_s = 4
phase = "racing"

[[step]]
condition = "clear"
phase = "racing"

[[step]]
call = "arm"
post = "p7"
rules = ["caution-hold"]

[[step]]
event = "head-lost"

[[step]]
after_ms = 1
until = "never"
limit_of = 1
at_most_kmh = 5
colour = "red"
"""


def findings(tmp_path: Path, text: str) -> list[Finding]:
    path = tmp_path / "wrong.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as wrong:
        load(path, venue())
    return wrong.value.findings


def test_every_mistake_is_named_at_once_with_its_line(tmp_path: Path) -> None:
    found = {(finding.line, finding.key): finding.right for finding in findings(tmp_path, MISTAKEN)}
    lines = MISTAKEN.splitlines()
    assert {lines[line - 1] for line, _ in found} >= {
        'call = "stpo"',
        "at_s = 4",
        'post = "p7"',
        'rules = ["caution-hold"]',
        'colour = "red"',
        'until = "never"',
    }
    assert {key for _, key in found} == {
        "start group",
        "step 1 call",
        "step 2 aspect",
        "step 3 at_s",
        "step 4 condition",
        "step 5 post",
        "step 5 rules 1",
        "step 6 head",
        "step 7",
        "step 7 colour",
        "step 7 until",
    }
    assert 'did you mean "stop"' in next(right for (_, key), right in found.items() if key == "step 1 call")
    assert 'did you mean "caution-holds"' in next(
        right for (_, key), right in found.items() if key == "step 5 rules 1"
    )


@pytest.mark.parametrize(
    ("step", "says"),
    [
        ("note = 'nothing to do'", "needs exactly one of"),
        ("call = 'stop'", "the post that calls"),
        ("phase = 'racing'\nnever = true\nfor_ms = 5", "does not go with `never`"),
        ("phase = 'racing'\nkart = 3", "does not belong to a step with `phase`"),
        (
            "call = 'arm'\npost = 'desk'\nrules = ['stale-view']\nanswer = 'accepted'",
            "does not go with `rules`",
        ),
        ("event = 'hail'", "is not known"),
        ("event = 'spin'\nkart = 99", "must be one of 1, 2"),
        ("head = 'h99'\naspect = 'red'", "px1 or px2"),
        ("limit_of = 1", "a number of km/h"),
        ("phase = 'racing'\nlongest_s = 3", "belongs to a step with `until`"),
        ("call = 'lift'\npost = 'p1'\nhold = 'the yellow'", "does not fit the contract"),
        ("head = 'h3'\naspect = 'red'\nsince_cause = true", "needs a step with `call` or `event` before"),
        ("head = 'h3'\naspect = 'red'\nsince_cause = true\nfor_ms = 9", "does not go with `since_cause`"),
        ("head = 'h3'\naspect = 'red'\nsince_cause = true\nof = 'commanded'", "what is shown"),
        ("phase = 'racing'\nsince_cause = true", "does not belong to a step with `phase`"),
    ],
)
def test_a_step_says_what_would_be_right(tmp_path: Path, step: str, says: str) -> None:
    text = f'title = "t"\n[start]\nvenue = "harbour-loop"\n[[step]]\n{step}\n'
    assert any(says in finding.right for finding in findings(tmp_path, text)), findings(tmp_path, text)


@pytest.mark.parametrize("text", ["title = ", "\x00", "step = 3", "", "[start]\nvenue = 3"])
def test_a_file_that_is_none_is_refused(tmp_path: Path, text: str) -> None:
    assert findings(tmp_path, text)


def test_another_venues_file_is_refused(tmp_path: Path) -> None:
    text = 'title = "t"\n[start]\nvenue = "quarry-ring"\n[[step]]\nphase = "closed"\n'
    assert "harbour-loop" in findings(tmp_path, text)[0].right


def test_a_missing_file_is_bad_input(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="none\\.toml"):
        venue_id(tmp_path / "none.toml")


def test_shipped_files_say_which_venue_they_are_for() -> None:
    assert {venue_id(path) for path in SHIPPED} == {"harbour-loop", "quarry-ring"}
    assert len(SHIPPED) >= 20
