"""A run on paper, for machines and people: well-formed whatever a node said, and alike."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from signals.conform.report import html, junit, line, markdown, summary, write
from signals.conform.run import Outcome
from signals.conform.sentences import SENTENCES, Kind
from signals.conform.verdict import Result, Verdict

NASTY = 'it said <b>"&"</b> | \x00\x1b[31m \ud800 ]]>'


def outcome(*verdicts: Verdict) -> Outcome:
    results = tuple(
        Result(number, f"case {number}", ("C1", "C3"), verdict, NASTY, 12)
        for number, verdict in enumerate(verdicts, start=1)
    )
    return Outcome("2026-01-01T09:00:00+00:00", "head", "n1", "h1", "board <B>", "bench", "fw & co", results)


ALL = outcome(*Verdict)


def test_junit_is_well_formed_and_counts_each_verdict() -> None:
    suite = ET.fromstring(junit(ALL))[0]  # noqa: S314 - our own
    counts = {name: int(suite.attrib[name]) for name in ("tests", "failures", "errors", "skipped")}
    assert counts == {"tests": 4, "failures": 1, "errors": 1, "skipped": 1}
    assert [child.tag for made in suite for child in made] == ["system-out", "failure", "error", "skipped"]
    assert all("[C1 C3]" in made.attrib["name"] for made in suite)
    assert float(suite.attrib["time"]) == pytest.approx(0.048)


@pytest.mark.parametrize(
    ("verdicts", "held"),
    [
        ((Verdict.PASS, Verdict.NOT_DECLARED), True),
        ((Verdict.PASS, Verdict.FAIL), False),
        ((Verdict.PASS, Verdict.INCONCLUSIVE), False),
    ],
)
def test_a_run_holds_if_nothing_failed_or_stayed_open(verdicts: tuple[Verdict, ...], held: bool) -> None:
    assert outcome(*verdicts).held is held


class Cells(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, _: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_shows_what_a_node_said_and_runs_none_of_it() -> None:
    page = Cells()
    page.feed(html(ALL))
    assert "b" not in page.tags
    assert 'it said <b>"&"</b> | ??[31m ? ]]>' in page.text
    assert "board <B>" in page.text
    assert page.tags.count("tr") == 2 + 4 + sum(Kind.HEAD in s.who for s in SENTENCES.values())


def test_every_sentence_of_the_kind_has_its_verdict_the_worst_counts() -> None:
    page = markdown(ALL)
    assert f"| C1 | {SENTENCES['C1'].text} | ✓ PASS (cases 1) |" in page
    assert f"| C31 | {SENTENCES['C31'].text} | ✗ FAIL (cases 2, 3) |" in page
    assert f"| C5 | {SENTENCES['C5'].text} | not checked in this run |" in page
    assert "| C11 |" in page
    assert "cannot be seen from outside" in page
    assert "| C43 |" not in page  # a call box's


def test_a_verdict_is_told_by_a_mark_and_a_word() -> None:
    marks = [line(result).split()[0] for result in ALL.results]
    assert len(set(marks)) == 4
    assert summary(ALL) == "1 PASS, 1 FAIL, 1 INCONCLUSIVE, 1 NOT DECLARED"


@pytest.mark.parametrize(("name", "begins"), [("a.md", "# Conformance"), ("a.html", "<!doctype html>")])
def test_the_files_name_says_which(tmp_path: Path, name: str, begins: str) -> None:
    write(tmp_path / name, ALL)
    assert (tmp_path / name).read_text(encoding="utf-8").startswith(begins)
