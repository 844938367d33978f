"""What published standards ask of a conflict monitor, against ours. Marks as in the list of sources:
R read in the source's own text, Q as quoted by another page, M from memory, D arithmetic.

None of this certifies anything: these documents are about road signals.
"""

from __future__ import annotations

import asyncio
import logging
from pathlib import Path

import pytest
from msgspec.structs import replace

from signals.errors import Unusable
from signals.monitor.service import Monitor
from tests.monitor.stage import Stage
from tests.virtual import virtual

# H6 (M; D where midway): NEMA TS 2, malfunction management unit: conflict and red failure response times.
NO_CONFLICT_BELOW_S = 0.200
CONFLICT_FROM_S = 0.450
NO_RED_FAILURE_BELOW_S = 0.700
RED_FAILURE_FROM_S = 1.000


async def green_under_stop(stage: Stage, lasting_s: float, lamps: list[str]) -> None:
    stage.racing()
    stage.say_state("racing", "stop:p1")
    stage.all_show("red")
    await asyncio.sleep(1)
    stage.show("h2", "red", lamps=lamps)
    await asyncio.sleep(lasting_s)
    stage.show("h2", "red")
    await asyncio.sleep(2)


@pytest.mark.parametrize(
    ("lasting_s", "trips"),
    [(0.050, False), (NO_CONFLICT_BELOW_S - 0.001, False), (CONFLICT_FROM_S, True), (2.0, True)],
)
@virtual
async def test_h6_conflict(lasting_s: float, trips: bool) -> None:
    async with Stage() as stage:
        await green_under_stop(stage, lasting_s, ["green"])
        assert (stage.status == "tripped") is trips


@pytest.mark.parametrize(
    ("lasting_s", "trips"),
    [(CONFLICT_FROM_S, False), (NO_RED_FAILURE_BELOW_S - 0.001, False), (RED_FAILURE_FROM_S, True)],
)
@virtual
async def test_h6_red_missing(lasting_s: float, trips: bool) -> None:
    async with Stage() as stage:
        await green_under_stop(stage, lasting_s, [])
        assert (stage.status == "tripped") is trips


@pytest.mark.parametrize("trip_ms", [200, 449])
@virtual
async def test_h6_holds_at_both_ends_of_what_a_venue_may_choose(trip_ms: int) -> None:
    for lasting_s, trips in ((NO_CONFLICT_BELOW_S - 0.001, False), (CONFLICT_FROM_S, True)):
        async with Stage() as stage:
            stage.venue = replace(stage.venue, timing=replace(stage.venue.timing, monitor_trip=trip_ms))
            await stage.stop()
            await stage.start()
            await green_under_stop(stage, lasting_s, ["green"])
            assert (stage.status == "tripped") is trips


# H4 (R): Ohio DOT 2010 C&MS 733.03: loss of power never clears a latched fault, only an explicit reset
# does. Its power-up hold of 6.0 ± 0.5 s is what a head that was never heard is given.
POWER_UP_HOLD_S = (5.5, 6.5)


@virtual
async def test_h4_loss_of_power_keeps_the_fault(tmp_path: Path) -> None:
    latch = tmp_path / "trip.json"
    async with Stage(latch) as stage:
        await green_under_stop(stage, 1.0, ["green"])
        assert stage.status == "tripped"
        await stage.kill()
    async with Stage(latch) as stage:
        await asyncio.sleep(60)
        assert stage.status == "tripped"
        stage.say_state("closed", "stop:E")
        stage.all_show("red")
        await asyncio.sleep(60)
        assert stage.status == "tripped"
        stage.reset()
        await asyncio.sleep(0.01)
        assert stage.status == "ok"


@virtual
async def test_h4_power_up_hold() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.silent.add("h4")
        began_s = asyncio.get_running_loop().time()
        await stage.start()
        tripped_s = await stage.tripped_at()
        held_s = tripped_s - began_s - stage.venue.timing.monitor_trip / 1000
        assert POWER_UP_HOLD_S[0] <= held_s <= POWER_UP_HOLD_S[1]


# H7 (Q): EN 12675:2017 §4.2 to 4.4: pass the self-check at power-up or never enter normal operation;
# log the fault and the signal groups concerned.


@virtual
async def test_h7_without_a_self_check_there_is_no_ok() -> None:
    async with Stage() as stage:
        await stage.stop()
        said = stage.said("monitor", "status")
        venue = replace(stage.venue, timing=replace(stage.venue.timing, monitor_trip=900))
        monitor = Monitor(venue, stage.broker.link, clock=stage.monitor._clock)
        with pytest.raises(Unusable, match="self-check"):
            await monitor.run(lambda: pytest.fail("it must not be ready"))
        assert stage.said("monitor", "status") == said == {"status": "lost"}


@virtual
async def test_h7_a_table_gone_wrong_fails_the_self_check(monkeypatch: pytest.MonkeyPatch) -> None:
    async with Stage() as stage:
        await stage.stop()
        monkeypatch.setattr(
            "signals.monitor.selfcheck.due_aspect",
            lambda _, head, now: "green" if head.id == "h3" and now.stop else "red",
        )
        with pytest.raises(Unusable, match="head h3: red is not due under a stop"):
            await Monitor(stage.venue, stage.broker.link, clock=stage.monitor._clock).run(lambda: None)


@virtual
async def test_h7_the_fault_and_its_head_are_logged(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.ERROR)
    async with Stage() as stage:
        await green_under_stop(stage, 1.0, ["green"])
        assert "TRIP: h2: shows less: green, due red" in caplog.text


# H5 (Q): MUTCD 11th ed. §4G.01: flash mode does not end because the monitor is taken away.


@virtual
async def test_h5_taking_the_monitor_away_ends_no_trip() -> None:
    async with Stage() as stage:
        await green_under_stop(stage, 1.0, ["green"])
        await stage.stop()
        assert stage.trip["tripped"]
        assert stage.status == "lost"
