"""Every sentence is checked by a case or said to be out of sight; the page shows what runs."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

import pytest

from signals.conform.cases import all_cases, case, cases, coverage
from signals.conform.generate import generated
from signals.conform.sentences import SENTENCES, Kind

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs/integration.md").read_text(encoding="utf-8")
SOURCES = "\n".join(
    path.read_text(encoding="utf-8")
    for folder in ("micropython", "c")
    for path in (ROOT / "firmware" / folder).glob("*.[pc]*")
)
SNIPPETS = re.findall(r"```(?:python|c)\n(.*?)```", PAGE, re.DOTALL)


def test_every_sentence_is_checked_or_said_to_be_out_of_sight() -> None:
    checked = coverage()
    assert [s.id for s in SENTENCES.values() if bool(checked[s.id]) == bool(s.unseen)] == []


def test_every_kind_named_by_a_sentence_has_a_case_that_checks_it() -> None:
    bare = [
        (one.id, kind)
        for one in SENTENCES.values()
        for kind in one.who
        if not one.unseen and not any(one.id in each.sentences for each in cases(kind))
    ]
    assert bare == []


def test_a_case_names_only_sentences_that_bind_one_of_its_kinds() -> None:
    for each in all_cases():
        for sentence in each.sentences:
            assert SENTENCES[sentence].who & each.who, (each.number, sentence)


def test_the_cases_are_numbered_without_a_gap_and_enough_for_each_kind() -> None:
    numbers = [each.number for each in all_cases()]
    assert numbers == list(range(1, len(numbers) + 1))
    assert all(len(cases(kind)) >= 26 for kind in Kind)


@pytest.mark.parametrize(("number", "sentence"), [(1, "C1"), (10_000, "C0")])
def test_a_case_with_a_number_taken_or_a_sentence_that_is_not_there_is_refused(
    number: int, sentence: str
) -> None:
    all_cases()
    with pytest.raises(ValueError, match="taken, or a sentence"):
        case(number, "again", frozenset(), sentence)(lambda _: None)  # type: ignore[arg-type, return-value]


def test_the_page_is_not_stale() -> None:
    assert generated() == {"docs/integration.md": PAGE}, "run: kerblight generate"


@pytest.mark.parametrize("snippet", SNIPPETS, ids=lambda text: text.split("\n")[0][:40])
def test_the_pages_code_is_the_firmwares(snippet: str) -> None:
    unindented = "\n".join(line.strip() for line in SOURCES.splitlines())
    assert "\n".join(line.strip() for line in textwrap.dedent(snippet).splitlines()) in unindented


def test_the_page_has_code_of_both() -> None:
    assert len(SNIPPETS) >= 3
