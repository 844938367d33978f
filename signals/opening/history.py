"""Looking back: records found again, and two of them compared, so that a lamp that gets slower is seen.

Latencies drift: each row and each cell that was timed in both is compared, and each head by the median of
all its timed cells, which one late message does not move.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from statistics import median

from msgspec import Struct

from signals.opening.sheet import Sheet

SLOWER_MS, SLOWER_SHARE = 30, 1.25
"""Slower by both counts as slower: less is what networks do by themselves (typical, no source)."""
WEEK_DAYS = 7


class Hit(Struct, frozen=True):
    """A place in a record where a text was found."""

    run: str
    where: str
    says: str


class Drift(Struct, frozen=True):
    """One timed thing in two records, ms."""

    what: str
    before_ms: float
    now_ms: float
    slower: bool


class Turned(Struct, frozen=True):
    """A row or cause whose outcome is another."""

    what: str
    before: str
    now: str


class Comparison(Struct, frozen=True):
    """Two records side by side; drifts with the worst first."""

    before: str
    now: str
    heads: list[Drift]
    rows: list[Drift]
    turned: list[Turned]

    @property
    def slower(self) -> list[Drift]:
        """Whatever got slower."""
        return [drift for drift in (*self.heads, *self.rows) if drift.slower]


def search(signed: Iterable[Sheet], text: str) -> Iterator[Hit]:
    """Find a text, in any case, in what records say: names, places, serials, what was seen, notes."""
    wanted = text.casefold()
    for sheet in signed:
        for where, says in _said(sheet):
            if wanted in says.casefold() or wanted in where.casefold():
                yield Hit(sheet.run, where, says)


def _said(sheet: Sheet) -> Iterator[tuple[str, str]]:
    if sheet.signed is not None:
        signed = sheet.signed
        names = f"{signed.by}{f', witness {signed.witness}' if signed.witness else ''}"
        yield "verdict", f"{signed.verdict} {signed.restriction} by {names} {signed.note}".strip()
    for measure in sheet.measures:
        yield f"in force: {measure.kind} {measure.place}", f"{measure.reason} {measure.flag} {measure.by}"
    for place, device in sheet.devices.items():
        yield place, f"{device.device} {device.serial} {device.firmware}".strip()
    for row, tries in sheet.tries.items():
        both = (tries.found, tries.left) if tries.count > 1 else (tries.left,)
        for found in both:
            yield row, f"{found.outcome}: {found.observed} {found.note} {found.by}".strip()
    for cause in sheet.causes.values():
        if cause.outcome != "passed":
            yield cause.id, f"{cause.outcome}: {cause.cause} {cause.came}"


def week_before(signed: list[Sheet], now: Sheet) -> Sheet | None:
    """Give the newest record of the same venue at least a week older; else the one before, if any."""
    older = [each for each in signed if each.venue == now.venue and each.began_at < now.began_at]
    long_ago = [each for each in older if _days(each, now) >= WEEK_DAYS]
    return (long_ago or older)[-1] if older else None


def _days(before: Sheet, now: Sheet) -> int:
    return (date.fromisoformat(now.day) - date.fromisoformat(before.day)).days


def compare(before: Sheet, now: Sheet) -> Comparison:
    """Compare two records."""
    return Comparison(
        before.run,
        now.run,
        _drifts(_by_head(before), _by_head(now)),
        _drifts(_by_row(before), _by_row(now)),
        _turned(before, now),
    )


def _drifts(before: dict[str, float], now: dict[str, float]) -> list[Drift]:
    both = [what for what in now if what in before]
    drifts = [Drift(what, before[what], now[what], _slower(before[what], now[what])) for what in both]
    return sorted(drifts, key=lambda drift: drift.before_ms - drift.now_ms)


def _slower(before_ms: float, now_ms: float) -> bool:
    return now_ms - before_ms > SLOWER_MS and now_ms > SLOWER_SHARE * before_ms


def _by_row(sheet: Sheet) -> dict[str, float]:
    left = {row: tries.left.ms for row, tries in sheet.tries.items()}
    return {row: float(ms) for row, ms in left.items() if ms is not None}


def _by_head(sheet: Sheet) -> dict[str, float]:
    """Give each head's median after calls and in rows of the walk."""
    timed: dict[str, list[int]] = defaultdict(list)
    for cause in sheet.causes.values():
        for cell in cause.cells:
            if cause.kind == "call" and cell.ms:
                timed[cell.head].append(cell.ms)
    for row in sheet.rows:
        tries = sheet.tries.get(row.id)
        if tries is not None and tries.left.ms and row.kind in ("lamp", "shows"):
            timed[row.place].append(tries.left.ms)
    return {head: float(median(each)) for head, each in sorted(timed.items())}


def _turned(before: Sheet, now: Sheet) -> list[Turned]:
    was, is_ = _outcomes(before), _outcomes(now)
    return [Turned(what, was[what], is_[what]) for what in is_ if what in was and was[what] != is_[what]]


def _outcomes(sheet: Sheet) -> dict[str, str]:
    found: dict[str, str] = {row: tries.left.outcome for row, tries in sheet.tries.items()}
    return found | {id_: cause.outcome for id_, cause in sheet.causes.items()}
