"""The drills' window under Xvfb, with keys alone: choose, run, pause, finish, replay; pictures are kept."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sim.drill.trainees import NAME, Trainees
from tests.system.display import Display, with_display

PICTURES = Path(__file__).parents[2] / "build" / "drill-window"
WITHIN_S = 20.0


def shown(page: str) -> None:
    """Wait until the window has drawn a page: it keeps a picture of each."""
    deadline = time.monotonic() + WITHIN_S
    while not list(PICTURES.glob(f"*-{page}.png")):
        assert time.monotonic() < deadline, f"{page} was not shown within {WITHIN_S:g} s"
        time.sleep(0.1)


def first(display: Display, key: str, page: str) -> None:
    """Press the first key until it is heard: a window just drawn may not have the keyboard yet."""
    deadline = time.monotonic() + WITHIN_S
    while not list(PICTURES.glob(f"*-{page}.png")):
        assert time.monotonic() < deadline, f"{page} was not shown within {WITHIN_S:g} s"
        display.press(key)
        time.sleep(1.0)


@with_display
@pytest.mark.gate
def test_a_drill_is_chosen_run_paused_finished_and_looked_at_again_with_keys_alone(tmp_path: Path) -> None:
    shutil.rmtree(PICTURES, ignore_errors=True)
    with Display() as display:
        argv = [sys.executable, "-m", "signals.cli", "drill", "--as", "Ada", "--seed", "4"]
        window = subprocess.Popen(
            [*argv, "--data", str(tmp_path), "--pictures", str(PICTURES)],
            env={**os.environ, "DISPLAY": display.name},
        )
        try:
            shown("lobby")
            first(display, "w", "weeks")
            display.press("Escape", "Down", "Down", "Up", "Return")
            shown("briefing")
            display.press("Return")
            shown("running")
            display.press("3", "y")
            assert display.shows("Yellow 3 Hairpin: done."), "the call was answered"
            display.press("F10")
            shown("paused")
            display.press("F10", "F12")
            shown("summary")
            display.press("r")
            shown("replay")
            display.press("Down", "Right", "space", "Escape", "Return", "Escape")
            assert window.wait(timeout=WITHIN_S) == 0
        finally:
            window.kill()
            window.wait()
    with Trainees(tmp_path / NAME) as trainees:
        (run,) = trainees.runs("Ada")
    assert run.score.drill == "hand-raised"
    assert not run.score.passed
