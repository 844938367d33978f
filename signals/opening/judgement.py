"""What the rows come to: which verdicts may be signed, and what stands against the others. Pure.

A row that was never seen is open. A failed row that blocks keeps the track closed, unless what it is
about is out of the way: its kart set aside, its head out of service with a flag marshal named. A failed
row that restricts wants something in force too: that kart aside, that head out, or wet limits for all.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from signals import say
from signals.opening.rows import TRACK, Row, kart_of
from signals.opening.sheet import CauseFound, Measure, Sheet
from signals.opening.task import listed
from signals.words import Verdict

REASON_MAX = 200
"""Characters of a restriction: the contract's longest text."""
NAMED_MAX = 12
"""Rows named in one sentence; more are counted."""


class Judgement(Struct, frozen=True):
    """Row ids by how they stand, and the sentences against each verdict; none means it may be signed."""

    passed: tuple[str, ...]
    failed: tuple[str, ...]
    open: tuple[str, ...]
    spared: tuple[str, ...]
    noted: tuple[str, ...]
    restriction: str
    against: dict[Verdict, tuple[str, ...]]

    @property
    def may(self) -> tuple[Verdict, ...]:
        """The verdicts that may be signed, the most permissive first."""
        return tuple(verdict for verdict in Verdict if not self.against[verdict])


def judge(sheet: Sheet, causes: Iterable[str]) -> Judgement:
    """Judge a sheet; `causes` are the ids of all causes the venue has."""
    stand: dict[str, list[str]] = {name: [] for name in ("passed", "failed", "open", "spared", "noted")}
    blocking: list[str] = []
    restricting: list[str] = []
    for row in sheet.rows:
        how = _stands(sheet, row)
        stand[how].append(row.id)
        if how == "failed":
            (blocking if row.effect == "blocks" else restricting).append(row.id)
    for id_ in causes:
        how = _cause_stands(sheet, sheet.causes.get(id_))
        stand[how].append(id_)
        if how == "failed":
            blocking.append(id_)
    reasons = _reasons(stand["open"], blocking)
    restricted = tuple(_unanswered(sheet, restricting))
    return Judgement(
        **{name: tuple(rows) for name, rows in stand.items()},
        restriction=restriction_of(sheet.measures),
        against={
            Verdict.OPEN: (*reasons, *_limited(restricting, sheet.measures)),
            Verdict.OPEN_RESTRICTED: (*reasons, *restricted, *_unrestricted(sheet.measures)),
            Verdict.DO_NOT_OPEN: (),
        },
    )


def spared(measures: Iterable[Measure]) -> frozenset[str]:
    """Give the places that are out of the way: karts set aside, heads out of service."""
    return frozenset(measure.place for measure in measures if measure.kind != "wet")


def restriction_of(measures: Iterable[Measure]) -> str:
    """Say what is in force instead, in the words that stand beside every ready."""
    return "; ".join(map(_said, measures))[:REASON_MAX]


def _said(measure: Measure) -> str:
    match measure.kind:
        case "aside":
            return f"Kart {kart_of(measure.place)} is set aside"
        case "out-of-service":
            return f"Head {measure.place} is out of service, flag: {measure.flag}"
        case "wet":
            return "Wet limits for all karts"


def _stands(sheet: Sheet, row: Row) -> str:
    if row.place in spared(sheet.measures):
        return "spared"
    tries = sheet.tries.get(row.id)
    if tries is None or tries.left.outcome == "not seen":
        return "open"
    if tries.left.outcome == "failed":
        return "noted" if row.effect == "notes" else "failed"
    return "passed"


def _cause_stands(sheet: Sheet, found: CauseFound | None) -> str:
    """Judge a cause; what nobody can bring about here is noted: it belongs to commissioning."""
    if found is None:
        return "open"
    if found.outcome == "not applicable":
        return "noted"
    away = spared(sheet.measures)
    held = found.outcome == "passed" or (not found.came and all(c.met or c.head in away for c in found.cells))
    return "passed" if held else "failed"


def _reasons(open_rows: list[str], blocking: list[str]) -> tuple[str, ...]:
    found = []
    if open_rows:
        found.append(f"{say.many(len(open_rows), 'row')} not seen yet: {_named(open_rows)}.")
    if blocking:
        found.append(f"{say.many(len(blocking), 'row')} failed: {_named(blocking)}.")
    return tuple(found)


def _limited(restricting: list[str], measures: tuple[Measure, ...]) -> tuple[str, ...]:
    found = []
    if restricting:
        found.append(f"{say.many(len(restricting), 'row')} failed that restrict: {_named(restricting)}.")
    if measures:
        found.append(f"In force: {restriction_of(measures)}.")
    return tuple(found)


def _unanswered(sheet: Sheet, restricting: list[str]) -> Iterable[str]:
    """Name what restricts and has nothing in force against it; for the whole track that is wet limits."""
    wet = any(measure.kind == "wet" for measure in sheet.measures)
    for id_ in restricting:
        if sheet.row(id_).place != TRACK:
            yield f"{id_} failed: set its kart aside, or take its head out of service."
        elif not wet:
            yield f"{id_} failed: put wet limits in force."


def _unrestricted(measures: tuple[Measure, ...]) -> tuple[str, ...]:
    return () if measures else ("Nothing is in force that would restrict.",)


def _named(rows: list[str]) -> str:
    shown = rows[:NAMED_MAX]
    return listed(shown) if len(rows) <= NAMED_MAX else f"{', '.join(shown)} and {len(rows) - NAMED_MAX} more"
