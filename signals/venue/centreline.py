"""Both centrelines of a venue: from rows in the file or from a CSV file beside it."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from itertools import pairwise

from signals.venue.draft import Draft
from signals.venue.form import PitTable, TrackTable
from signals.venue.geometry import Polyline, Row
from signals.venue.lines import KeyPath
from signals.venue.read import BROKEN

COLUMNS = ("x_m", "y_m", "right_m", "left_m")
CLOSEST_M = 0.05
"""Two rows nearer than this are one point written twice."""
ROWS_MAX = 2_000
"""Most rows a centreline may have."""


def lay_out(draft: Draft) -> None:
    """Make the draft's lines, as far as they are usable."""
    form = draft.form
    if form.track is not BROKEN:
        rows = _rows(draft, "track", form.track)
        if rows is not None and _enough(draft, "track", rows, least=3):
            draft.track = Polyline(rows, closed=True)
    if form.pit is not BROKEN:
        rows = _rows(draft, "pit", form.pit)
        if rows is not None and _enough(draft, "pit", rows, least=2):
            draft.pit = Polyline(rows, closed=False)


def _rows(draft: Draft, table: str, form: TrackTable | PitTable) -> tuple[Row, ...] | None:
    """Give complete rows; None where any of them is a mistake."""
    inline, name = form.centreline_m, form.centreline
    if BROKEN in (inline, name, form.width_m):
        return None
    if (inline is None) == (name is None):
        draft.say((table,), "", "needs exactly one of centreline_m (rows) and centreline (a CSV file)")
        return None
    if name is not None:
        return _from_csv(draft, (table, "centreline"), name)
    rows = [
        _row(draft, (table, "centreline_m", i), row, form.width_m / 2) for i, row in enumerate(inline or ())
    ]
    return _complete(rows)


def _complete(rows: Iterable[Row | None]) -> tuple[Row, ...] | None:
    found = tuple(rows)
    complete = tuple(row for row in found if row is not None)
    return complete if len(complete) == len(found) else None


def _row(draft: Draft, path: KeyPath, row: tuple[float, ...], half_m: float) -> Row | None:
    if row is BROKEN or BROKEN in row:
        return None
    x, y, *reach = row
    if not reach:
        return (x, y, half_m, half_m)
    if len(reach) > 1 and min(reach) >= 0:
        right, left = reach
        return (x, y, right, left)
    draft.say(path, list(row), "must be [x, y] or [x, y, right, left] with right and left not below 0")
    return None


def _from_csv(draft: Draft, path: KeyPath, name: str) -> tuple[Row, ...] | None:
    text = draft.named_text(path, name)
    if text is None:
        return None
    table = list(csv.reader(text.splitlines()))
    if not table or tuple(cell.strip() for cell in table[0]) != COLUMNS:
        draft.say(path, name, f"must begin with the line {','.join(COLUMNS)}")
        return None
    return _complete(_csv_row(draft, path, name, at, cells) for at, cells in enumerate(table[1:], 2) if cells)


def _csv_row(draft: Draft, path: KeyPath, name: str, line: int, cells: list[str]) -> Row | None:
    try:
        x, y, right, left = (float(cell) for cell in cells)
    except ValueError:
        x = y = right = left = math.nan
    if all(map(math.isfinite, (x, y, right, left))) and min(right, left) >= 0:
        return (x, y, right, left)
    draft.say(
        path,
        name,
        f"line {line} ({','.join(cells)[:60]}) must be four numbers: {','.join(COLUMNS)}, widths >= 0",
    )
    return None


def _enough(draft: Draft, table: str, rows: tuple[Row, ...], *, least: int) -> bool:
    """Whether the rows make a line: enough of them, none twice in a row."""
    key = "centreline_m" if (table, "centreline_m") in draft.lines else "centreline"
    if not least <= len(rows) <= ROWS_MAX:
        draft.say((table, key), f"{len(rows)} rows", f"needs {least} to {ROWS_MAX} rows")
        return False
    closed = (*rows, rows[0]) if table == "track" else rows
    for index, (a, b) in enumerate(pairwise(closed)):
        if math.dist(a[:2], b[:2]) < CLOSEST_M:
            draft.say(
                (table, key, index),
                f"({b[0]}, {b[1]})",
                "repeats the point before it; leave one out (a track's line closes by itself)",
            )
            return False
    return True
