"""What of `docs/integration.md` follows from the code: sentences, cases, timing diagrams."""

from __future__ import annotations

from pathlib import Path

from signals.cli.options import DEFAULT_VENUE
from signals.conform.cases import all_cases, coverage
from signals.conform.sentences import EVERY, SENTENCES, Kind
from signals.conform.timing import diagrams
from signals.errors import Unusable
from signals.venue import load

PAGE = "docs/integration.md"


def generated() -> dict[str, str]:
    """Give the page, its generated parts renewed; the rest of it is written by hand."""
    path = Path(__file__).parents[2] / PAGE
    page = path.read_text(encoding="utf-8")
    for name, text in (("sentences", sentences()), ("cases", cases()), ("timing", timing())):
        page = _renewed(page, name, text)
    return {PAGE: page}


def _renewed(page: str, name: str, text: str) -> str:
    begin, end = f"<!-- {name}: generated from signals/conform -->", f"<!-- end of {name} -->"
    before, found, rest = page.partition(begin)
    _, closed, after = rest.partition(end)
    if not found or not closed:
        raise Unusable(f"{PAGE}: the lines {begin} and {end} must both be there")
    return f"{before}{begin}\n\n{text}\n\n{end}{after}"


def sentences() -> str:
    """Give the numbered sentences as a table, with the cases that check each."""
    checks = coverage()
    rows = ["| | a node of kind | must: it … | cases |", "|---|---|---|---|"]
    for one in SENTENCES.values():
        how = ", ".join(map(str, checks[one.id])) or f"none: {one.unseen}"
        rows.append(f"| **{one.id}** | {_who(one.who)} | {one.text} | {how} |")
    return "\n".join(rows)


def cases() -> str:
    """Give the kit's cases as a table."""
    rows = ["| case | for | what | sentences |", "|---|---|---|---|"]
    rows += [
        f"| {each.number} | {_who(each.who)} | {each.title} | {' '.join(each.sentences)} |"
        for each in all_cases()
    ]
    return "\n".join(rows)


def timing() -> str:
    """Give the timing diagrams, played on the demonstration venue."""
    return "\n\n".join(diagrams(load(DEFAULT_VENUE)))


def _who(who: frozenset[Kind]) -> str:
    return "any" if who == EVERY else ", ".join(kind for kind in Kind if kind in who)
