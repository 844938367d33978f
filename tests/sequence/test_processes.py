"""The same files over real processes and real brokers."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.sequence.playing import CONFIGS

needs_mosquitto = pytest.mark.skipif(shutil.which("mosquitto") is None, reason="no mosquitto on the PATH")
MOSQUITTO = pytest.param("mosquitto", marks=[pytest.mark.broker, needs_mosquitto])
BOTH = [MOSQUITTO, "wheel"]


def run(name: str, broker: str, tmp_path: Path) -> dict[str, Any]:
    sequence = CONFIGS / "sequences" / f"{name}.toml"
    words = ["run", "--headless", "--broker", broker, "--sequence", str(sequence), "--json"]
    came = subprocess.run(
        [sys.executable, "-m", "signals.cli", *words, "--data", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
        timeout=180,
    )
    assert came.stdout, came.stderr
    ran: dict[str, Any] = json.loads(came.stdout)
    short = [step for step in ran["sequence"]["steps"] if step["outcome"] != "met"]
    assert (came.returncode, short) == (0, []), came.stderr
    return ran


@pytest.mark.parametrize(
    ("name", "broker"),
    [
        pytest.param("journal-fault", *MOSQUITTO.values, marks=MOSQUITTO.marks),
        pytest.param("broker-killed", "wheel", marks=pytest.mark.night),
    ],
)
def test_it_holds_over_processes(name: str, broker: str, tmp_path: Path) -> None:
    ran = run(name, broker, tmp_path)
    assert ran["processes"] == ["broker", "monitor", "sim", "nodes", "controller"]
    assert (tmp_path / "journal.sqlite").exists()
    assert (tmp_path / "logs" / "controller.log").exists()


@pytest.mark.night
@pytest.mark.parametrize("broker", BOTH)
@pytest.mark.parametrize("name", ["full-day", "quarry-day", "controller-killed", "monitor-tripped"])
def test_whole_days_hold_over_processes(name: str, broker: str, tmp_path: Path) -> None:
    run(name, broker, tmp_path)
