"""What rows come to: which verdicts may be signed, and what stands against the others."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from signals.opening.judgement import REASON_MAX, judge, restriction_of
from signals.opening.rows import Kind, Row
from signals.opening.sheet import (
    CauseFound,
    CellFound,
    Found,
    Measure,
    MeasureKind,
    Outcome,
    Sheet,
    Tries,
)
from signals.words import Verdict

ROWS = (
    Row(id="h1/lamp/red", kind=Kind.LAMP, place="h1", what="red"),
    Row(id="kart-4/brakes", kind=Kind.ITEM, place="kart-4", what="brakes"),
    Row(id="kart-4/reverse", kind=Kind.ITEM, place="kart-4", what="reverse", effect="restricts"),
    Row(id="surface", kind=Kind.ITEM, place="track", what="surface", effect="restricts"),
    Row(id="barriers", kind=Kind.ITEM, place="track", what="barriers"),
    Row(id="first-aid", kind=Kind.ITEM, place="track", what="first-aid", effect="notes"),
)
ALL = (Verdict.OPEN, Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)


def tries(row: str, outcome: Outcome) -> Tries:
    found = Found(row=row, at=0, by="Ada", outcome=outcome, expected="x", observed="y", method="eye")
    return Tries(found=found, left=found)


def measure(kind: MeasureKind, place: str) -> Measure:
    return Measure(kind=kind, place=place, reason="broken", at=0, by="Ada", flag="Kim")


def cause(outcome: Outcome, *, met: bool = True, came: str = "") -> CauseFound:
    cell = CellFound(head="h1", expected="red", within_ms=200, came="red", ms=9, met=met)
    return CauseFound(
        id="stop", kind="call", cause="red", at=0, outcome=outcome, came=came, mark="", cells=(cell,)
    )


def sheet(*measures: Measure, causes: dict[str, CauseFound] | None = None, **otherwise: Outcome) -> Sheet:
    """A sheet where everything passed but what is named, with "/" and "-" as "_"."""
    outcomes = {row.id: otherwise.get(row.id.replace("/", "_").replace("-", "_"), "passed") for row in ROWS}
    return Sheet(
        run="r",
        version="0",
        venue="v",
        name="V",
        digest="d",
        simulated=True,
        timezone="UTC",
        day="2026-05-31",
        post="desk",
        by="Ada",
        began_at=0,
        clock=("", 0),
        cut=None,
        rows=ROWS,
        devices={},
        tries={row: tries(row, outcome) for row, outcome in outcomes.items()},
        causes={"stop": cause("passed")} if causes is None else causes,
        measures=measures,
    )


def may(made: Sheet) -> tuple[Verdict, ...]:
    return judge(made, ["stop"]).may


def test_all_passed_may_open_and_may_be_refused() -> None:
    assert may(sheet()) == (Verdict.OPEN, Verdict.DO_NOT_OPEN)


@pytest.mark.parametrize("row", ["h1_lamp_red", "barriers", "kart_4_brakes"])
def test_a_failed_row_that_blocks_keeps_it_closed(row: str) -> None:
    failed: dict[str, Any] = {row: "failed"}
    assert may(sheet(**failed)) == (Verdict.DO_NOT_OPEN,)
    assert "1 row failed" in judge(sheet(**failed), ["stop"]).against[Verdict.OPEN][0]


def test_a_row_nobody_saw_is_open_and_so_is_one_that_was_never_asked() -> None:
    assert may(sheet(first_aid="not seen")) == (Verdict.DO_NOT_OPEN,)
    unasked = sheet()
    less = {row: each for row, each in unasked.tries.items() if row != "barriers"}
    judged = judge(msgspec.structs.replace(unasked, tries=less), ["stop"])
    assert (judged.open, judged.may) == (("barriers",), (Verdict.DO_NOT_OPEN,))


def test_a_failed_kart_set_aside_restricts() -> None:
    aside = measure("aside", "kart-4")
    assert may(sheet(aside, kart_4_brakes="failed")) == (Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)
    judged = judge(sheet(aside, kart_4_brakes="failed"), ["stop"])
    assert judged.restriction == "Kart 4 is set aside"
    assert set(judged.spared) == {"kart-4/brakes", "kart-4/reverse"}


def test_a_dead_lamp_need_not_close_a_saturday() -> None:
    out = measure("out-of-service", "h1")
    assert may(sheet(out, h1_lamp_red="failed")) == (Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)
    assert judge(sheet(out), ["stop"]).restriction == "Head h1 is out of service, flag: Kim"


def test_what_restricts_wants_something_in_force() -> None:
    assert may(sheet(surface="failed")) == (Verdict.DO_NOT_OPEN,)
    wet = measure("wet", "track")
    assert may(sheet(wet, surface="failed")) == (Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)
    assert may(sheet(wet, kart_4_reverse="failed")) == (Verdict.DO_NOT_OPEN,)
    assert may(sheet(measure("aside", "kart-4"), surface="failed")) == (Verdict.DO_NOT_OPEN,)


def test_a_measure_alone_restricts_an_open_track() -> None:
    assert may(sheet(measure("wet", "track"))) == (Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)


def test_wet_limits_spare_no_row() -> None:
    assert may(sheet(measure("wet", "track"), barriers="failed")) == (Verdict.DO_NOT_OPEN,)


def test_what_is_only_noted_opens() -> None:
    judged = judge(sheet(first_aid="failed"), ["stop"])
    assert (judged.noted, judged.may) == (("first-aid",), (Verdict.OPEN, Verdict.DO_NOT_OPEN))


def test_a_cause_that_fell_short_or_was_never_tried_keeps_it_closed() -> None:
    assert may(sheet(causes={"stop": cause("failed", met=False)})) == (Verdict.DO_NOT_OPEN,)
    assert may(sheet(causes={"stop": cause("failed", came="refused")})) == (Verdict.DO_NOT_OPEN,)
    assert may(sheet(causes={})) == (Verdict.DO_NOT_OPEN,)


def test_a_late_head_out_of_service_fails_no_cause() -> None:
    late = {"stop": cause("failed", met=False)}
    made = sheet(measure("out-of-service", "h1"), causes=late)
    assert may(made) == (Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)


def test_what_nobody_here_can_bring_about_is_noted() -> None:
    assert may(sheet(causes={"stop": cause("not applicable")})) == (Verdict.OPEN, Verdict.DO_NOT_OPEN)


def test_do_not_open_can_always_be_said() -> None:
    worst = sheet(causes={}, **{row.id.replace("/", "_").replace("-", "_"): "failed" for row in ROWS})
    assert may(worst) == (Verdict.DO_NOT_OPEN,)


def test_a_restriction_fits_the_contract() -> None:
    many = [measure("aside", f"kart-{number}") for number in range(1, 99)]
    assert len(restriction_of(many)) <= REASON_MAX
