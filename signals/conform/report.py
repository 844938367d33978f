"""A run on paper: JUnit XML for machines, HTML or Markdown for people; each with the sentences."""

from __future__ import annotations

import re
from html import escape
from pathlib import Path
from xml.etree import ElementTree as ET

from signals.conform.cases import coverage
from signals.conform.run import Outcome
from signals.conform.sentences import SENTENCES, Kind
from signals.conform.verdict import Result, Verdict

MARKS = {Verdict.PASS: "✓", Verdict.FAIL: "✗", Verdict.INCONCLUSIVE: "?", Verdict.NOT_DECLARED: "·"}
"""A verdict is told by its mark and its word, never by colour alone."""


def line(result: Result) -> str:
    """Give one result as a line for a terminal."""
    said = f"  {result.said}" if result.said else ""
    return f"{MARKS[result.verdict]} {result.number:>2} {result.title}: {result.verdict}{said}"


def summary(outcome: Outcome) -> str:
    """Count the verdicts."""
    return ", ".join(f"{outcome.count(verdict)} {verdict}" for verdict in Verdict)


def junit(outcome: Outcome) -> str:
    """Write a run as JUnit XML: INCONCLUSIVE is an error, NOT DECLARED is skipped."""
    suite = ET.Element(
        "testsuite",
        name=f"kerblight conform {outcome.kind} {outcome.node}",
        tests=str(len(outcome.results)),
        failures=str(outcome.count(Verdict.FAIL)),
        errors=str(outcome.count(Verdict.INCONCLUSIVE)),
        skipped=str(outcome.count(Verdict.NOT_DECLARED)),
        time=f"{sum(one.ms for one in outcome.results) / 1000:.3f}",
        timestamp=outcome.at,
    )
    for one in outcome.results:
        suite.append(_testcase(one, outcome))
    whole = ET.Element("testsuites")
    whole.append(suite)
    ET.indent(whole)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(whole, encoding="unicode") + "\n"


def _testcase(one: Result, outcome: Outcome) -> ET.Element:
    made = ET.Element(
        "testcase",
        classname=f"conform.{outcome.kind}.{outcome.node}",
        name=f"{one.number:02} {one.title} [{' '.join(one.sentences)}]",
        time=f"{one.ms / 1000:.3f}",
    )
    tag = {
        Verdict.FAIL: "failure",
        Verdict.INCONCLUSIVE: "error",
        Verdict.NOT_DECLARED: "skipped",
    }.get(one.verdict)
    if tag:
        ET.SubElement(made, tag, message=one.said)
    elif one.said:
        ET.SubElement(made, "system-out").text = one.said
    return made


def write(path: Path, outcome: Outcome) -> None:
    """Write the readable report: Markdown for `.md`, else HTML."""
    text = markdown(outcome) if path.suffix == ".md" else html(outcome)
    path.write_text(text, encoding="utf-8")


def markdown(outcome: Outcome) -> str:
    """Write a run for people, in Markdown."""
    rows = [
        f"| {one.number} | {one.title} | {' '.join(one.sentences)} | {MARKS[one.verdict]} {one.verdict} "
        f"| {one.said.replace('|', '/')} | {one.ms} |"
        for one in outcome.results
    ]
    held = [f"| {s} | {text} | {how} |" for s, text, how in _sentences(outcome)]
    return "\n".join(
        (
            f"# {_title(outcome)}",
            "",
            _about(outcome),
            "",
            "| case | what | sentences | verdict | | ms |",
            "|---|---|---|---|---|---|",
            *rows,
            "",
            "## Sentence by sentence",
            "",
            "| | a node | here |",
            "|---|---|---|",
            *held,
            "",
        )
    )


def html(outcome: Outcome) -> str:
    """Write a run for people, as one self-contained page that prints well."""
    rows = "".join(
        f'<tr class="{one.verdict.name.lower()}"><td>{one.number}<td>{escape(one.title)}'
        f"<td>{' '.join(one.sentences)}<td>{MARKS[one.verdict]} {one.verdict}<td>{escape(one.said)}"
        f"<td>{one.ms}"
        for one in outcome.results
    )
    held = "".join(f"<tr><td>{s}<td>{_coded(text)}<td>{how}" for s, text, how in _sentences(outcome))
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(_title(outcome))}</title>'
        f"<style>{STYLE}</style><h1>{escape(_title(outcome))}</h1><p>{escape(_about(outcome))}"
        "<table><thead><tr><th>case<th>what<th>sentences<th>verdict<th><th>ms</thead>"
        f"<tbody>{rows}</table><h2>Sentence by sentence</h2>"
        f"<table><thead><tr><th><th>a node<th>here</thead><tbody>{held}</table></html>\n"
    )


def _coded(text: str) -> str:
    """Write Markdown's code as HTML's."""
    return re.sub("`([^`]+)`", r"<code>\1</code>", escape(text, quote=False))


STYLE = (
    "body{font:15px/1.45 system-ui,sans-serif;max-width:70rem;margin:2rem auto;padding:0 1rem;color:#1b1f24}"
    "table{border-collapse:collapse;width:100%}td,th{text-align:left;vertical-align:top;padding:.3rem .6rem;"
    "border-bottom:1px solid #d5dae0}tr.fail td:nth-child(4),tr.inconclusive td:nth-child(4){font-weight:700}"
    "td:nth-child(6),th:nth-child(6){text-align:right;font-variant-numeric:tabular-nums}"
    "tr.fail{background:#fbe9e7}tr.inconclusive{background:#fdf4dc}tr.not_declared{color:#5d6670}"
    "@media print{body{margin:0}tr{break-inside:avoid}}"
)


def _title(outcome: Outcome) -> str:
    return f"Conformance of {outcome.title or 'node ' + outcome.node}"


def _about(outcome: Outcome) -> str:
    return (
        f"{outcome.at}: node {outcome.node} as a {outcome.kind} ({outcome.organ}) at {outcome.venue}, "
        f"firmware {outcome.firmware or 'unknown'}: {summary(outcome)}. "
        "Not a safety rating: it says that the node did what the contract asks on this day, on this bench."
    )


def _sentences(outcome: Outcome) -> list[tuple[str, str, str]]:
    """Give each sentence for this kind, and what this run says of it."""
    by_number = {one.number: one for one in outcome.results}
    checks = coverage()
    return [
        (s.id, s.text, _how(s.unseen, [by_number[n] for n in checks[s.id] if n in by_number]))
        for s in SENTENCES.values()
        if Kind(outcome.kind) in s.who
    ]


def _how(unseen: str, results: list[Result]) -> str:
    if unseen:
        return f"cannot be seen from outside: {unseen}"
    if not results:
        return "not checked in this run"
    worst = next(v for v in _WORST_FIRST if any(one.verdict is v for one in results))
    return f"{MARKS[worst]} {worst} (cases {', '.join(str(one.number) for one in results)})"


_WORST_FIRST = (Verdict.FAIL, Verdict.INCONCLUSIVE, Verdict.PASS, Verdict.NOT_DECLARED)
