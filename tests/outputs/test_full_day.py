"""A whole day at the wired demo venue: in virtual time on devices in memory, in real time on real peers."""

from __future__ import annotations

import asyncio
import json
import shutil
import subprocess
import sys
from pathlib import Path

import async_solipsism
import pytest

from signals.sequence.load import load
from signals.sequence.player import Player
from signals.sequence.result import Result
from signals.sequence.stage import Stage
from signals.venue import load as load_venue
from tests.outputs.bench import CONFIGS, ROOT, bench

DAY = CONFIGS / "sequences" / "full-day.toml"
FULL = 255


@pytest.mark.gate
def test_every_step_is_met_on_devices_in_memory() -> None:
    venue = load_venue(CONFIGS / "harbour-wired.toml")

    async def whole() -> Result:
        sequence = load(DAY, venue)
        async with Stage(venue, seed=sequence.file.start.seed) as stage:
            return await Player(sequence, venue, stage.link, processes=stage).run()

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        result = runner.run(whole())
    assert [step for step in result.steps if step.outcome != "met"] == []


@pytest.mark.night
@pytest.mark.skipif(shutil.which("mosquitto") is None, reason="no mosquitto on the PATH")
def test_every_step_is_met_half_on_modbus_and_half_on_e131(tmp_path: Path) -> None:
    with bench(tmp_path) as standing:
        ran = run(standing.venue, tmp_path)
        boards = standing.end_boards()
    assert [step for step in ran["sequence"]["steps"] if step["outcome"] != "met"] == []
    assert "outputs" in ran["processes"]
    assert all(board["writes"] > 100 for board in boards)
    seen = {universe: _lamps_seen(levels) for universe, levels in standing.levels.items()}
    h4_blue, px2_yellow = 6, 4  # one flashes for less than a flash, one is not asked for on this day
    assert {**seen, 1: seen[1] - {h4_blue}} == {
        1: {*range(6), 9, 10, 11},  # h2, h4, h6
        2: set(range(9)),  # r1, r3, r5
        3: set(range(6)) - {px2_yellow},  # fin2, px2
    }
    numbers = {int.from_bytes(bytes(levels[7:9]), "big") for levels in standing.levels[1]}
    assert numbers == {0, 1, 2}  # kart 1 told to move over, kart 2 called in


def _lamps_seen(levels: list[tuple[int, ...]]) -> set[int]:
    return {slot for each in levels for slot, level in enumerate(each) if level == FULL}


def run(venue: Path, folder: Path) -> dict:
    words = ["run", "--headless", "--broker", "mosquitto", "--venue", str(venue), "--sequence", str(DAY)]
    came = subprocess.run(
        [sys.executable, "-m", "signals.cli", *words, "--json", "--data", str(folder / "data")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
    )
    assert came.stdout, came.stderr
    return json.loads(came.stdout)
