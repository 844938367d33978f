"""How fast a head flashes, in the walk: measured where it has sensors, held against the venue's own flash."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import msgspec
import pytest
from msgspec import UNSET, UnsetType
from pypdf import PdfReader

from signals.opening.flashing import Rate
from signals.opening.looks import TAKEN_BACK
from signals.opening.sheet import Found, Question, Said, Standstill
from signals.opening.walk import MEANWHILE, Walk
from signals.words import Aspect, Phase, Verdict, Word
from tests.opening.test_document import text_of
from tests.opening.town import Morning, morning, small, walked
from tests.virtual import in_virtual_time

ROW = "h2/shows/yellow-flash"
RIGHT = "YELLOW, flashing, 48 to 72 flashes a minute"


async def begun(here: Morning, *rows: str, eyes: bool = False) -> Walk:
    """Begin a walk of these rows alone."""
    walk = here.walk(eyes=eyes)
    assert await walk.begin() == ()
    chosen = tuple(row for row in walk.sheet.rows if row.id in rows)
    assert len(chosen) == len(rows)
    walk._keep(msgspec.structs.replace(walk.sheet, rows=chosen))
    return walk


def flash_by_itself(here: Morning, period_ms: int, lit_ms: int) -> None:
    here.town.devices["H2-YEL"].flashers["H2-YEL"] = period_ms, lit_ms


async def looked_at(here: Morning, row: str = ROW, *, eyes: bool = False) -> Found:
    walk = await begun(here, row, eyes=eyes)
    await walked(walk, here.walker)
    (found,) = here.found
    return found


@pytest.mark.parametrize(("period_ms", "lit_ms"), [(1000, 500), (1150, 800), (860, 500)])
def test_a_right_rate_is_measured_and_passes(tmp_path: Path, period_ms: int, lit_ms: int) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            flash_by_itself(here, period_ms, lit_ms)
            found = await looked_at(here)
            assert (found.outcome, found.method, found.expected) == ("passed", "sensor", RIGHT)
            assert found.flash_hz == pytest.approx(1000 / period_ms, rel=0.05)
            assert found.observed.startswith("yellow proven, ")

    in_virtual_time(whole)


@pytest.mark.parametrize(
    ("period_ms", "lit_ms", "hz", "says"),
    [
        (600, 300, 1.67, "yellow proven, 100 flashes a minute measured"),
        (1300, 900, 0.77, "yellow proven, 46 flashes a minute measured"),
        (1000, 1000, 0.0, "yellow proven, it does not flash"),
    ],
    ids=["too fast", "too slow", "stays lit"],
)
def test_a_wrong_rate_fails_though_the_lamp_is_proven(
    tmp_path: Path, period_ms: int, lit_ms: int, hz: float, says: str
) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            flash_by_itself(here, period_ms, lit_ms)
            found = await looked_at(here)
            assert (found.outcome, found.expected) == ("failed", RIGHT)
            assert found.flash_hz == pytest.approx(hz, rel=0.05)
            minute = round(60 * (found.flash_hz or 0))
            assert found.observed == says.replace("100", str(minute)).replace("46", str(minute))

    in_virtual_time(whole)


def test_it_stands_beside_the_testers_word_and_outweighs_it(tmp_path: Path) -> None:
    """An eye takes 100 flashes a minute for flashing yellow; the sensor does not."""

    async def whole() -> None:
        async with morning(tmp_path) as here:
            right = await looked_at(here, eyes=True)
            assert (right.outcome, right.method, right.flash_hz) == ("passed", "sensor and eye", 1.0)
            assert right.observed == "YELLOW, flashing, 60 flashes a minute measured"

        async with morning(tmp_path / "wrong") as here:
            flash_by_itself(here, 600, 300)
            wrong = await looked_at(here, eyes=True)
            assert (wrong.outcome, wrong.method) == ("failed", "sensor and eye")
            assert wrong.observed.startswith("YELLOW, flashing, ")
            assert wrong.flash_hz == pytest.approx(1 / 0.6, rel=0.05)

    in_virtual_time(whole)


def test_where_only_the_flashing_lamp_has_a_sensor_a_person_is_asked_and_the_rate_is_measured(
    tmp_path: Path,
) -> None:
    """Then nothing is proven, for proof needs a sensor at every lamp."""
    blind = ("H2-RED", "H2-GRE")
    wires = tuple(
        msgspec.structs.replace(wire, feedback_ref=None) if wire.ref in blind else wire
        for wire in small().wires
        if wire.ref not in ("H2-RED-S", "H2-GRE-S")
    )

    async def whole() -> None:
        async with morning(tmp_path, msgspec.structs.replace(small(), wires=wires)) as here:
            flash_by_itself(here, 600, 300)
            found = await looked_at(here)
            assert (found.outcome, found.method) == ("failed", "sensor and eye")
            assert found.observed.startswith("YELLOW, flashing, ")
            assert found.flash_hz == pytest.approx(1 / 0.6, rel=0.05)

    in_virtual_time(whole)


def test_without_a_sensor_nothing_changes(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            found = await looked_at(here, "h3/shows/yellow-flash")
            assert (found.outcome, found.method, found.flash_hz) == ("passed", "eye", None)
            assert (found.expected, found.observed) == ("YELLOW, flashing", "YELLOW, flashing")

    in_virtual_time(whole)


def test_a_steady_aspect_has_no_rate(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            found = await looked_at(here, "h2/lamp/yellow")
            assert (found.outcome, found.observed, found.flash_hz) == ("passed", "yellow proven", None)

    in_virtual_time(whole)


def test_lamps_taken_back_while_the_sensor_is_read_fail_nothing(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            flash_by_itself(here, 1000, 1000)  # so it takes six seconds to be sure
            walk = await begun(here, ROW)
            asking = asyncio.create_task(walk.ask())
            await asyncio.sleep(4)
            await here.floor.call(Word.STOP, kind="incident")
            assert await here.floor.until(lambda: here.floor.state.phase is Phase.CLOSED, 1)
            assert await asking == Standstill((TAKEN_BACK,))
            assert walk.sheet.tries == {}

    in_virtual_time(whole)


def test_an_answer_counts_for_nothing_where_lamps_are_taken_back_before_the_rate_is_known(
    tmp_path: Path,
) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            flash_by_itself(here, 1000, 1000)
            walk = await begun(here, ROW, eyes=True)
            assert isinstance(await walk.ask(), Question)
            saying = asyncio.create_task(walk.say(Said(aspect=Aspect.YELLOW_FLASH)))
            await asyncio.sleep(1)
            await here.floor.call(Word.STOP, kind="incident")
            assert await saying == Standstill((MEANWHILE,))
            assert walk.sheet.tries == {}

    in_virtual_time(whole)


def test_found_repaired_recorded_and_printed(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            flash_by_itself(here, 600, 300)
            walk = await begun(here, ROW)
            await walked(walk, here.walker)
            assert any(ROW in against for against in walk.judgement().against[Verdict.OPEN])
            here.town.devices["H2-YEL"].flashers.clear()
            assert walk.again() == (ROW,)
            await walked(walk, here.walker)
            record = await walk.sign(Verdict.DO_NOT_OPEN, by="Ada Westerby")
            assert isinstance(record, Path)
            tries = json.loads(record.read_bytes())["tries"][ROW]
            assert tries["found"]["flash_hz"] == pytest.approx(1 / 0.6, rel=0.05)
            assert (tries["left"]["flash_hz"], tries["left"]["outcome"]) == (1.0, "passed")
            printed = text_of(PdfReader(here.book.printed(walk.sheet.run)))
            as_found = round(60 * tries["found"]["flash_hz"])
            assert f"yellow proven, {as_found} flashes a minute measured: failed" in printed
            assert RIGHT in printed

    in_virtual_time(whole)


@pytest.mark.parametrize(
    ("hz", "wrong", "observed"),
    [
        (UNSET, False, ""),
        (None, True, ", no flash rate measured"),
        (0.0, True, ", it does not flash"),
        (0.79, True, ", 47 flashes a minute measured"),
        (0.81, False, ", 49 flashes a minute measured"),
        (1.19, False, ", 71 flashes a minute measured"),
        (1.21, True, ", 73 flashes a minute measured"),
    ],
)
def test_a_fifth_around_the_venues_own_flash_is_right(
    hz: float | UnsetType | None, wrong: bool, observed: str
) -> None:
    """Common practice, no source."""
    rate = Rate.of(small(), hz)
    assert (rate.wrong, rate.observed) == (wrong, observed)
    assert rate.expected == ("" if hz is UNSET else ", 48 to 72 flashes a minute")


def test_it_is_the_venues_own_flash_that_counts() -> None:
    choices = msgspec.structs.replace(small().choices, flash_period_ms=2000, flash_lit_ms=1000)
    slow = msgspec.structs.replace(small(), choices=choices)
    assert not Rate.of(slow, 0.5).wrong
    assert Rate.of(slow, 1.0).wrong
    assert Rate.of(slow, 0.5).expected == ", 24 to 36 flashes a minute"
