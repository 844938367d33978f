"""The watch over a part: who is told what, and when the watchdog is fed. In virtual time."""

from __future__ import annotations

import asyncio
import io
import itertools
import logging
from pathlib import Path
from typing import Any

import msgspec
import pytest

from signals.health.metrics import Board
from signals.health.notify import Notifier
from signals.health.report import Health, gauge
from signals.health.watch import Status, Watch, status_folder
from tests.virtual import virtual


class Said(Notifier):
    """A notifier that keeps what it tells, and when."""

    def __init__(self, watchdog_s: float | None = None) -> None:
        super().__init__({})
        self.watchdog_s = watchdog_s
        self.told: list[tuple[float, str]] = []

    def _tell(self, line: str) -> None:
        self.told.append((asyncio.get_running_loop().time(), line))

    def times(self, line: str) -> list[float]:
        return [at_s for at_s, said in self.told if said == line]


class Patient:
    """A part whose health the test sets."""

    now = Health("works", figures=(gauge("karts", 12, "Karts."),))

    def health(self) -> Health:
        return self.now


async def watched(watch: Watch, *turns: tuple[float, Any]) -> None:
    running = asyncio.create_task(watch.run())
    for pause_s, then in turns:
        await asyncio.sleep(pause_s)
        if then is not None:
            then()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)


@virtual
async def test_the_watchdog_is_fed_thrice_its_interval_while_work_goes_on() -> None:
    part, said = Patient(), Said(watchdog_s=1.5)
    watch = Watch("controller", part, said)

    def hang() -> None:
        part.now = Health("hangs", alive=False)

    await watched(watch, (3.2, hang), (5, None))
    fed = said.times("WATCHDOG=1")
    assert fed[-1] == pytest.approx(3.0)
    assert all(after - before == pytest.approx(0.5) for before, after in itertools.pairwise(fed))


@virtual
async def test_a_part_that_is_ill_is_left_alive() -> None:
    part, said = Patient(), Said(watchdog_s=3)
    part.now = Health("no broker", well=False)
    await watched(Watch("monitor", part, said), (10, None))
    assert len(said.times("WATCHDOG=1")) == 10
    assert set(said.times("STATUS=no broker")) == set(said.times("WATCHDOG=1"))


@virtual
async def test_turning_ill_and_well_is_logged_once_each(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    part = Patient()

    def turn(says: str, *, well: bool) -> Any:
        return lambda: setattr(part, "now", Health(says, well=well))

    await watched(
        Watch("monitor", part, Said()),
        (2.5, turn("no broker", well=False)),
        (5, turn("still no broker", well=False)),
        (5, turn("works again", well=True)),
        (5, None),
    )
    assert [(record.levelname, record.getMessage()) for record in caplog.records] == [
        ("INFO", "well: works"),
        ("WARNING", "not-well: no broker"),
        ("INFO", "well: works again"),
    ]


@virtual
async def test_its_status_is_kept_in_the_data_folder_while_it_lives(tmp_path: Path) -> None:
    file = status_folder(tmp_path) / "monitor.json"
    kept: list[Status] = []
    watch = Watch("monitor", Patient(), Said(), data=tmp_path)
    await watched(watch, (0.5, lambda: kept.append(msgspec.json.decode(file.read_bytes(), type=Status))))
    assert (kept[0].part, kept[0].says, kept[0].well) == ("monitor", "works", True)
    assert not file.exists()


@virtual
async def test_a_terminal_shows_one_line_that_changes(tmp_path: Path) -> None:
    screen, part = io.StringIO(), Patient()
    watch = Watch("monitor", part, Said(), terminal=screen)
    await watched(watch, (3.5, lambda: setattr(part, "now", Health("short"))), (1, None))
    shown = [line.rstrip() for line in screen.getvalue().split("\r") if line.strip()]
    assert shown == ["works", "short"]
    assert "\n" not in screen.getvalue()


@virtual
async def test_figures_are_put_down_at_every_look() -> None:
    board = Board("monitor", "x")
    await watched(Watch("monitor", Patient(), Said(), board=board), (2.5, None))
    figures = {figure.name: figure.value for figure in board._figures}
    assert figures["karts"] == 12
    assert figures["well"] == 1
    assert figures["looks_total"] == 3
