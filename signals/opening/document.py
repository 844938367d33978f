"""The printed record of a signed check: A4, black and white, everything that the record holds.

What it is: who looked at what, when, what was seen, what was done about it. What it is not, it says itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from zoneinfo import ZoneInfo

from fpdf import XPos, YPos

from signals import say
from signals.opening.book import KEPT_YEARS
from signals.opening.grid import draw_grid, spelled
from signals.opening.history import Comparison, compare
from signals.opening.judgement import Judgement, judge, spared
from signals.opening.paper import (
    BODY_PT,
    BOLD_MM,
    EDGE_MM,
    LINE_MM,
    MUTED,
    SMALL_PT,
    TITLE_PT,
    Paper,
)
from signals.opening.plan import SIZE_MM, draw_plan
from signals.opening.rows import TRACK, Kind, Row, kart_of
from signals.opening.sheet import Found, Sheet, Signature, Tries
from signals.opening.task import listed
from signals.words import Aspect, Verdict

STAMPS = {
    Verdict.OPEN: "OPEN",
    Verdict.OPEN_RESTRICTED: "RESTRICTED",
    Verdict.DO_NOT_OPEN: "DO NOT OPEN",
}
WHAT_IT_IS_NOT = (
    "This is a record of what was looked at and seen. It is no certificate, no inspection by an authority "
    "and no proof of a safety function: heads and limiters told over a network are no emergency stop and are "
    "not safety-rated. Hard-wired stops, flags and radio stay. Local codes and people licensed to decide "
    "come first."
)
SIMULATED = "SIMULATED: some of this venue's equipment is not there. This check opens no real track."
OUTCOMES = {"passed": "passed", "failed": "FAILED", "not seen": "not seen", "not applicable": "not here"}
ROW_COLUMNS = (
    ("cause", 36.0, "L"),
    ("expected", 35.0, "L"),
    ("as found", 37.0, "L"),
    ("as left", 37.0, "L"),
    ("ms", 8.0, "R"),
    ("method", 16.0, "L"),
    ("verdict", 13.0, "L"),
)
NAME_MM, FACT_MM = 20.0, 4.7
DRIFTS_SHOWN = 20


def print_record(sheet: Sheet, path: Path, *, digest: str, before: Sheet | None = None) -> None:
    """Print a signed sheet; `digest` is that of its file, `before` an older record to compare with.

    Raises:
        ValueError: the sheet is not signed.

    """
    if sheet.signed is None:
        raise ValueError(f"{sheet.run} is not signed")
    Document(sheet, sheet.signed, digest, before).write(path)


class Document:
    """One record on paper."""

    def __init__(self, sheet: Sheet, signed: Signature, digest: str, before: Sheet | None) -> None:
        self._sheet = sheet
        self._signed = signed
        self._digest = digest
        self._compared = compare(before, sheet) if before is not None else None
        self._before = before
        self._judged = judge(sheet, sheet.causes)
        self._paper = Paper(f"Opening check {sheet.run}, {sheet.name}. A record, no certificate.")
        self._zone = ZoneInfo(sheet.timezone)

    def write(self, path: Path) -> None:
        """Draw every page, and write the file."""
        paper = self._paper
        paper.set_title(f"Opening check {self._sheet.run}")
        paper.set_author(self._signed.by)
        paper.set_creator(f"kerblight {self._sheet.version}")
        paper.set_creation_date(self._when(self._signed.at))
        paper.set_lang("en-GB")
        paper.add_page()
        self._front()
        self._rows()
        draw_grid(paper, self._sheet)
        self._comparison()
        self._end()
        paper.output(str(path))

    def _when(self, at_ms: int) -> datetime:
        return datetime.fromtimestamp(at_ms / 1000, UTC)

    def _time(self, at_ms: int) -> str:
        """Give a moment in local time and in UTC."""
        at = self._when(at_ms)
        local = at.astimezone(self._zone)
        return f"{local:%Y-%m-%d %H:%M} {local.tzname()} ({at:%H:%M} UTC)"

    # --- the front page

    def _front(self) -> None:
        paper, sheet, signed = self._paper, self._sheet, self._signed
        width_mm = 62.0
        paper.stamp(
            STAMPS[signed.verdict],
            paper.w - EDGE_MM - width_mm,
            EDGE_MM,
            width_mm,
            filled=signed.verdict is Verdict.DO_NOT_OPEN,
        )
        paper.type(TITLE_PT, bold=True)
        paper.cell(110, 9, "Opening check", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        paper.type(BODY_PT + 3)
        paper.cell(110, 6, f"{sheet.name}, {sheet.day}", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        paper.ln(4)
        if signed.restriction:
            self._boxed(f"In force all day: {signed.restriction}")
        if sheet.simulated:
            self._boxed(SIMULATED)
        self._facts()
        self._picture()
        self._impairments()

    def _boxed(self, text: str) -> None:
        paper = self._paper
        paper.set_line_width(BOLD_MM)
        paper.type(BODY_PT + 1, bold=True)
        paper.multi_cell(0, 5, text, border=1, padding=2, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        paper.set_line_width(LINE_MM)
        paper.ln(2)

    def _facts(self) -> None:
        sheet, signed = self._sheet, self._signed
        facts = (
            ("Run", sheet.run),
            ("Signed by", signed.by),
            ("Began", self._time(sheet.began_at)),
            ("Witness", signed.witness or "none"),
            ("Signed", self._time(signed.at)),
            ("Walked by", f"{listed(_walkers(sheet))}, {sheet.post_name or f'post {sheet.post}'}"),
            ("Holds until", self._time(signed.until)),
            ("Cut off today", sheet.cut or "none"),
        )
        half_mm = self._paper.epw / 2
        for left, right in zip(facts[::2], facts[1::2], strict=True):
            y_mm = self._paper.get_y()
            self._fact(*left, EDGE_MM, y_mm)
            self._fact(*right, EDGE_MM + half_mm, y_mm)
        self._fact("Venue file", f"{sheet.venue}, SHA-256 {sheet.digest}", EDGE_MM, self._paper.get_y())
        self._fact("Software", f"kerblight {sheet.version}", EDGE_MM, self._paper.get_y())
        if signed.note:
            self._fact("Note", signed.note, EDGE_MM, self._paper.get_y())
        self._paper.ln(2)

    def _fact(self, name: str, value: str, x_mm: float, y_mm: float) -> None:
        paper = self._paper
        paper.set_xy(x_mm, y_mm)
        paper.type(SMALL_PT, colour=MUTED)
        paper.cell(NAME_MM, FACT_MM, name)
        paper.type(BODY_PT)
        paper.cell(0, FACT_MM, value, new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    # --- the map and the counts

    def _picture(self) -> None:
        """Draw the track with every head as it was left, and count beside it."""
        paper = self._paper
        top_mm = paper.get_y() + 1
        if self._sheet.line_m:
            draw_plan(paper, self._sheet, self._marked(), EDGE_MM, top_mm)
        self._counts(EDGE_MM + SIZE_MM[0] + 8, top_mm)
        paper.set_y(top_mm + SIZE_MM[1] + 3)

    def _marked(self) -> frozenset[str]:
        """Name the heads that failed, or are out of service."""
        failed = (self._sheet.row(id_).place for id_ in self._judged.failed if id_ in self._sheet.tries)
        return frozenset(failed) | spared(self._sheet.measures)

    def _counts(self, x_mm: float, y_mm: float) -> None:
        paper, judged = self._paper, self._judged
        counts = (
            ("passed", judged.passed),
            ("failed", judged.failed),
            ("not seen", judged.open),
            ("set aside or out of service", judged.spared),
            ("noted only", judged.noted),
        )
        again = sum(tries.count > 1 for tries in self._sheet.tries.values())
        with paper.at(x_mm, y_mm):
            for name, rows in (*counts, ("tested again after a repair", range(again))):
                paper.set_x(x_mm)
                paper.type(BODY_PT + 4, bold=True)
                paper.cell(14, 7, str(len(rows)), align="R")
                paper.type(BODY_PT)
                paper.cell(40, 7, f" {name}", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    # --- impairments

    def _impairments(self) -> None:
        paper = self._paper
        lines = list(_impairments(self._sheet, self._judged))
        paper.heading("Impairments", "What was not in order when it was found, and what was done about it.")
        if not lines:
            paper.say("None.")
            return
        columns = (("where", 34, "L"), ("as found", 52, "L"), ("as left", 52, "L"), ("note", 44, "L"))
        with paper.table_of(*columns):
            for line in lines:
                paper.row(*line)

    # --- every row

    def _rows(self) -> None:
        sections = (
            ("Signal heads", (Kind.LAMP, Kind.SHOWS, Kind.CUT), "in the order of the track"),
            (
                "Karts",
                (Kind.ANSWERS, Kind.LIMIT),
                "one commanded at a time; limits on the stand or rolling",
            ),
            ("Boxes and contacts", (Kind.INPUT,), "pressed or opened by hand, or by request where simulated"),
            ("Looked at", (Kind.ITEM,), "as the venue lists it"),
        )
        self._paper.add_page()
        for title, kinds, said in sections:
            rows = [row for row in self._sheet.rows if row.kind in kinds]
            if rows:
                self._paper.heading(title, said)
                self._section(sorted(rows, key=self._place_order))

    def _place_order(self, row: Row) -> int:
        return next(n for n, each in enumerate(self._sheet.rows) if each.place == row.place)

    def _section(self, rows: list[Row]) -> None:
        away = spared(self._sheet.measures)
        with self._paper.table_of(*ROW_COLUMNS):
            for place, group in groupby(rows, key=lambda row: row.place):
                own = list(group)
                self._paper.group(self._device(place), min(len(own), 2))
                for row in own:
                    cells = _cells(row, self._sheet.tries.get(row.id), spared=place in away)
                    failed = cells[-1] == OUTCOMES["failed"]
                    self._paper.row(*cells, black=len(cells) - 1 if failed else None)

    def _device(self, place: str) -> str:
        device = self._sheet.devices.get(place)
        if device is None:
            return self._sheet.name
        serial = f", serial {device.serial}" if device.serial else ""
        firmware = f", firmware {device.firmware}" if device.firmware else ""
        return f"{device.where}.  {device.device}{serial}{firmware}"

    # --- drift

    def _comparison(self) -> None:
        if self._compared is None or self._before is None:
            return
        paper = self._paper
        if paper.w > paper.h:
            paper.add_page(orientation="portrait")
        paper.heading(
            f"Compared with {self._before.day}",
            f"Medians of each head's latencies, ms; the other run is {self._before.run}.",
        )
        _drifts(paper, self._compared)

    # --- the end

    def _end(self) -> None:
        paper, signed = self._paper, self._signed
        if paper.w > paper.h:
            paper.add_page(orientation="portrait")
        paper.heading("What this is, and what it is not")
        paper.say(WHAT_IT_IS_NOT)
        paper.ln(1)
        year = int(self._sheet.day[:4]) + KEPT_YEARS
        paper.say(
            f"Kept with the venue's journal, which names this record by its digest: SHA-256 {self._digest}. "
            f"To be kept until the end of {year} at least; local codes may ask for longer.",
            SMALL_PT,
        )
        paper.ln(14)
        if paper.will_page_break(16):
            paper.add_page()
            paper.ln(14)
        y_mm, half_mm = paper.get_y(), paper.epw / 2
        for number, (what, name) in enumerate((("Signed", signed.by), ("Witness", signed.witness))):
            x_mm = EDGE_MM + number * half_mm
            paper.line(x_mm, y_mm, x_mm + half_mm - 10, y_mm)
            paper.type(SMALL_PT, colour=MUTED)
            with paper.at(x_mm, y_mm + 1):
                paper.cell(half_mm, 4, f"{what}: {name or 'none'}, {self._time(signed.at)}")


def _walkers(sheet: Sheet) -> list[str]:
    names = dict.fromkeys(tries.left.by for tries in sheet.tries.values())
    return list(names) or [sheet.by]


def _impairments(sheet: Sheet, judged: Judgement) -> Iterator[tuple[str, str, str, str]]:
    """Give what was not in order: rows that ever failed, measures, causes that fell short."""
    for measure in sheet.measures:
        flag = f"flag: {measure.flag}" if measure.flag else ""
        kinds = {"aside": "set aside", "out-of-service": "out of service", "wet": "wet limits for all"}
        place = "every kart" if measure.place == TRACK else measure.place
        yield place, measure.reason, kinds[measure.kind], flag
    for row in sheet.rows:
        tries = sheet.tries.get(row.id)
        if tries is not None and "failed" in (tries.found.outcome, tries.left.outcome):
            note = "; ".join(dict.fromkeys(n for n in (tries.found.note, tries.left.note) if n))
            noted = "noted only" if row.id in judged.noted else ""
            yield _cause(row, place=True), _seen(tries.found), _left(tries), note or noted
    for cause in sheet.causes.values():
        if cause.outcome == "failed":
            short = [f"{cell.head}: {spelled(cell)}" for cell in cause.cells if not cell.met]
            yield cause.cause, cause.came or "; ".join(short[:6]), "failed", ""


def _cells(row: Row, tries: Tries | None, *, spared: bool) -> tuple[str, ...]:
    cause = _cause(row, place=False)
    if tries is None:
        return cause, "", "", "", "", "", "away" if spared else "not seen"
    left = tries.left
    again = "as found" if tries.count == 1 else _seen(left)
    note = f" ({left.note})" if left.note else ""
    ms = "" if left.ms is None else str(left.ms)
    return cause, left.expected, _seen(tries.found), again + note, ms, left.method, OUTCOMES[left.outcome]


def _seen(found: Found) -> str:
    return found.observed if found.outcome != "failed" else f"{found.observed}: failed"


def _left(tries: Tries) -> str:
    return "as found" if tries.count == 1 else _seen(tries.left)


def _cause(row: Row, *, place: bool) -> str:
    """Say in words what a row does or looks at."""
    words = {
        Kind.LAMP: f"{row.what} lit alone",
        Kind.SHOWS: f"told {say.ASPECTS[Aspect(row.what)]}" if row.kind is Kind.SHOWS else "",
        Kind.CUT: "its device cut off",
        Kind.INPUT: "pressed and let go",
        Kind.ANSWERS: "commanded alone",
        Kind.LIMIT: f"allowed {row.what} km/h",
        Kind.ITEM: row.what,
        Kind.CAUSE: row.what,
    }[row.kind]
    where = f"kart {kart_of(row.place)}" if row.place.startswith("kart-") else row.place
    return f"{where}: {words}" if place and row.place != TRACK else words


def _drifts(paper: Paper, compared: Comparison) -> None:
    """Print heads, and whatever else got slower."""
    slow_rows = [row for row in compared.rows if row.slower][:DRIFTS_SHOWN]
    columns = (("head, or row that got slower", 80.0, "L"), ("before, ms", 30.0, "R"), ("now, ms", 30.0, "R"))
    with paper.table_of(*columns, ("", 42.0, "R")):
        for drift in (*compared.heads, *slow_rows):
            slower = "SLOWER" if drift.slower else ""
            paper.row(drift.what, f"{drift.before_ms:g}", f"{drift.now_ms:g}", slower, bold=drift.slower)
    for turned in compared.turned:
        paper.say(f"{turned.what}: {turned.before} before, {turned.now} now", SMALL_PT)
