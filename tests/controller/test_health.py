"""What the controller says of its own health."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from signals.clock import Clock
from signals.controller.service import Controller
from signals.health.report import Health
from signals.journal import Journal
from signals.mqtt.memory import MemoryBroker
from tests.controller.made import harbour
from tests.controller.town import UTC_MS, Town
from tests.virtual import virtual

HEADS, KARTS = len(harbour().heads), len(harbour().karts)


def figures(health: Health) -> dict[tuple[str, ...], float]:
    return {(figure.name, *figure.of.values()): figure.value for figure in health.figures}


@virtual
async def test_it_tells_what_holds_and_who_is_not_heard(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        part = town.parts["controller"]
        before = part.health()
        heard = f"closed, clear; {HEADS} of {HEADS} heads heard; {KARTS} of {KARTS} karts heard"
        assert (before.says, before.well, before.alive) == (heard, True, True)
        await town.ask("p1", "caution", where="s2")
        assert not (await town.call("desk", "start")).accepted
        await town.kill("nodes")
        await asyncio.sleep(3)
        after = part.health()
        assert (after.well, after.alive) == (False, True)
        assert after.says.startswith(f"closed, caution; 0 of {HEADS} heads heard; 0 of {KARTS} karts heard")
        told = figures(after)
        assert told["calls_total", "accepted"] == told["calls_total", "refused"] == 1
        assert told["condition", "caution"] == told["phase", "closed"] == 1
        assert told["holds", "caution"] == len([hold for hold in town.state.holds if hold.what == "caution"])
        assert told["beats_total",] >= 40
        assert told["beat_late_seconds",] == 0


@virtual
async def test_a_failing_record_and_a_lost_monitor_are_told(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        town.journal.failing = True
        await town.call("p1", "caution", where="s2")
        await town.until(lambda: town.state.journal == "failed")
        await town.kill("monitor")
        assert "the record fails" in town.parts["controller"].health().says


@virtual
async def test_one_whose_beat_stands_still_is_not_alive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with Town(tmp_path) as town:
        part = town.parts["controller"]
        assert part.health().alive
        held = asyncio.Event()
        monkeypatch.setattr(part._boot, "_sweep", held.wait)
        part._boot._beat_s -= 1.0
        assert not part.health().alive


@virtual
async def test_one_that_waits_for_its_broker_is_alive_and_says_so(tmp_path: Path) -> None:
    broker = MemoryBroker()
    broker.stop()
    journal = Journal(tmp_path / "journal.sqlite")
    part = Controller(harbour(), broker.link, journal=journal, clock=Clock(lambda: UTC_MS))
    assert part.health().says == "starting"
    running = asyncio.create_task(part.run(lambda: None))
    await asyncio.sleep(60)
    health = part.health()
    assert (health.well, health.alive) == (False, True)
    assert health.says.endswith("no broker")
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    journal.close()
