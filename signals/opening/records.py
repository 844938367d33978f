"""`kerblight opening list`, `show`, `search`, `compare`: the signed checks of a data folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from msgspec import Struct
from rich.table import Table

from signals.cli.options import DEFAULT_DATA, AsJson, DataDir, wrong
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.opening.book import Book, digest_of
from signals.opening.document import print_record
from signals.opening.history import Comparison, compare, search, week_before
from signals.opening.judgement import judge
from signals.opening.sheet import Sheet
from signals.opening.terminal import MARKS, VERDICTS

FOLDER = "opening"
SHOWN = 30
"""Drifts shown in a table."""


class Line(Struct, frozen=True):
    """A record in a list."""

    run: str
    day: str
    venue: str
    verdict: str
    restriction: str
    by: str
    passed: int
    failed: int
    simulated: bool
    record: str
    printed: str


def _book(data: Path) -> Book:
    return Book(data / FOLDER)


def _line(book: Book, sheet: Sheet) -> Line:
    judged, signed = judge(sheet, sheet.causes), sheet.signed
    return Line(
        run=sheet.run,
        day=sheet.day,
        venue=sheet.venue,
        verdict=signed.verdict if signed else "",
        restriction=signed.restriction if signed else "",
        by=signed.by if signed else "",
        passed=len(judged.passed),
        failed=len(judged.failed),
        simulated=sheet.simulated,
        record=str(book.records / f"{sheet.run}.json"),
        printed=str(book.printed(sheet.run)),
    )


def list_(*, data: DataDir = DEFAULT_DATA, as_json: AsJson = False) -> None:
    """List the signed checks, oldest first."""
    book = _book(data)
    lines = [_line(book, sheet) for sheet in book.signed()]
    if as_json:
        print_json(lines)
        return
    table = Table("run", "verdict", "signed by", "passed", "failed", "restriction", box=None)
    for line in lines:
        verdict = f"{line.verdict}{' (simulated)' if line.simulated else ''}"
        table.add_row(line.run, verdict, line.by, str(line.passed), str(line.failed), line.restriction)
    console().print(table if lines else f"No check was signed yet in {book.records}.")


Run = Annotated[str | None, typer.Argument(metavar="RUN", help="A run's id; by default the last.")]


def show(
    run: Run = None,
    *,
    every: Annotated[bool, typer.Option("--all", help="Every row, not only what was not in order.")] = False,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Print it anew into a file.")
    ] = None,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Show a signed check: its verdict, and what was not in order."""
    book = _book(data)
    sheet = _found(book, run)
    if pdf is not None:
        digest = digest_of(book.records / f"{sheet.run}.json")
        print_record(sheet, pdf, digest=digest, before=week_before(book.signed(), sheet))
    if as_json:
        print_json(sheet)
    else:
        _show(book, sheet, every=every)


def _show(book: Book, sheet: Sheet, *, every: bool) -> None:
    out, signed = console(), sheet.signed
    line = _line(book, sheet)
    if signed is not None:
        restriction = f": {signed.restriction}" if signed.restriction else ""
        out.print(f"{sheet.run}  {VERDICTS[signed.verdict]}{restriction}", markup=False)
        witness = f", witness {signed.witness}" if signed.witness else ""
        out.print(f"signed by {signed.by}{witness}; {line.passed} passed, {line.failed} failed", markup=False)
    table = Table("", "row", "expected", "as found", "as left", "ms", "by", box=None)
    for row, tries in sheet.tries.items():
        found, left = tries.found, tries.left
        if every or (found.outcome, left.outcome) != ("passed", "passed"):
            ms = "" if left.ms is None else str(left.ms)
            table.add_row(MARKS[left.outcome], row, left.expected, found.observed, left.observed, ms, left.by)
    if table.row_count:
        out.print(table)
    for cause in sheet.causes.values():
        if every or cause.outcome == "failed":
            out.print(f"{MARKS[cause.outcome]} {cause.cause}  {cause.came}", markup=False)
    out.print(f"{line.record}\n{line.printed}", markup=False, soft_wrap=True)


def search_(
    text: Annotated[str, typer.Argument(metavar="TEXT", help="A name, a place, a serial, what was seen.")],
    *,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Search all signed checks; exits 1 where nothing is found."""
    hits = list(search(_book(data).signed(), text))
    if as_json:
        print_json(hits)
    for hit in [] if as_json else hits:
        console().print(f"{hit.run}  {hit.where}  {hit.says}", markup=False, soft_wrap=True)
    if not (hits or as_json):
        console().print(f"No signed check in {data} has {text!r}.", markup=False, soft_wrap=True)
    raise typer.Exit(HELD if hits else FELL_SHORT)


def compare_(
    run: Run = None,
    *,
    with_: Annotated[
        str | None, typer.Option("--with", metavar="RUN", help="The older one; by default a week before.")
    ] = None,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Compare a check with an older one.

    Tells what drifts, which lamps get slower and what turned out otherwise; exits 1 where one got slower.
    """
    book = _book(data)
    now = _found(book, run)
    before = _found(book, with_) if with_ else week_before(book.signed(), now)
    if before is None:
        raise wrong("RUN", now.run, "is the first of its venue: there is nothing to compare it with")
    compared = compare(before, now)
    if as_json:
        print_json(compared)
    else:
        _drifts(compared)
    raise typer.Exit(FELL_SHORT if compared.slower else HELD)


def _drifts(compared: Comparison) -> None:
    out = console()
    table = Table("", "ms before", "ms now", "", title=f"{compared.before} and {compared.now}", box=None)
    shown = (*compared.heads, *(row for row in compared.rows if row.slower))
    for drift in shown[:SHOWN]:
        slower = "slower" if drift.slower else ""
        table.add_row(drift.what, f"{drift.before_ms:g}", f"{drift.now_ms:g}", slower)
    out.print(table)
    for turned in compared.turned:
        out.print(f"{turned.what}: {turned.before} before, {turned.now} now", markup=False)
    out.print(f"{len(compared.slower)} got slower, {len(compared.turned)} turned out otherwise")


def _found(book: Book, run: str | None) -> Sheet:
    signed = book.signed()
    if not signed:
        raise wrong("--data", book.folder.parent, "holds no signed check; `kerblight opening` makes one")
    if run is None:
        return signed[-1]
    for sheet in signed:
        if sheet.run == run:
            return sheet
    raise wrong("RUN", run, f"one of {', '.join(sheet.run for sheet in signed[-5:])}")
