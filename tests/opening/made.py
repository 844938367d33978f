"""Signed sheets of the small venue, made by hand: for what is printed, searched and compared."""

from __future__ import annotations

from typing import Any

import msgspec

from signals.opening.causes import scripts_of
from signals.opening.rows import Kind, rows_of
from signals.opening.sheet import CauseFound, CellFound, Device, Found, Measure, Sheet, Signature, Tries
from signals.words import Verdict
from tests.opening.town import MORNING_MS, small

replace = msgspec.structs.replace
HOUR_MS = 3_600_000
RUN = "2026-05-31-a1b2"


def found(row: str, *, ms: int | None = 12, **changes: Any) -> Found:
    plain = Found(
        row=row,
        at=MORNING_MS,
        by="Ada Westerby",
        outcome="passed",
        expected="as told",
        observed="as told",
        method="eye",
        ms=ms,
    )
    return replace(plain, **changes)


def signed_sheet(**changes: Any) -> Sheet:
    """Everything passed, after a repair of h3's yellow; kart 2 is set aside."""
    venue = small()
    rows = rows_of(venue, cut="h1", run=RUN)
    timed = (Kind.LAMP, Kind.SHOWS, Kind.LIMIT)
    tries = {}
    for row in rows:
        left = found(row.id, ms=12 if row.kind in timed else None)
        tries[row.id] = Tries(found=left, left=left)
    dark = found("h3/lamp/yellow", outcome="failed", expected="yellow alone", observed="nothing")
    mended = found("h3/lamp/yellow", expected="yellow alone", observed="yellow", note="bulb changed")
    tries["h3/lamp/yellow"] = Tries(found=dark, left=mended, count=2)
    made = Sheet(
        run=RUN,
        version="0.1.0",
        venue=venue.id,
        name=venue.name,
        digest=venue.digest,
        simulated=venue.simulated,
        timezone="Europe/Berlin",
        day="2026-05-31",
        post="desk",
        post_name="Race desk",
        by="Ada Westerby",
        began_at=MORNING_MS,
        clock=("", 0),
        cut="h1",
        rows=rows,
        devices={
            head.id: Device(
                device=f"virtual v1, node {head.node}",
                serial="RB-0417",
                firmware="2.4",
                where=f"{head.id}, left",
            )
            for head in venue.heads
        },
        line_m=tuple((x, y) for x, y, *_ in venue.centreline_m),
        spots_m={head.id: (head.x_m, head.y_m) for head in venue.heads},
        tries=tries,
        causes=causes(),
        measures=(
            Measure(kind="aside", place="kart-2", reason="brakes drag", at=MORNING_MS, by="Ada Westerby"),
        ),
        signed=Signature(
            verdict=Verdict.OPEN_RESTRICTED,
            restriction="Kart 2 is set aside",
            by="Ada Westerby",
            witness="Kim Harlow",
            at=MORNING_MS + HOUR_MS,
            until=MORNING_MS + 20 * HOUR_MS,
            note="fitter comes at two",
        ),
    )
    return replace(made, **changes)


def causes(*, late: str = "", ms: int = 9) -> dict[str, CauseFound]:
    """Every call's cells as due after `ms`; those of the head `late` 240 ms late."""
    calls = next(script for script in scripts_of(small(), "racing") if script.name == "calls")
    made = {}
    for cause in calls.causes:
        cells = tuple(
            CellFound(
                head=head,
                expected=cell.shows,
                within_ms=200,
                came=cell.shows,
                ms=240 if head == late else ms,
                met=head != late,
            )
            for head, cell in cause.cells.items()
        )
        made[cause.id] = CauseFound(
            id=cause.id,
            kind=cause.kind,
            cause=cause.says,
            at=MORNING_MS,
            outcome="failed" if late else "passed",
            came="",
            mark="",
            cells=cells,
        )
    return made
