"""Whoever asks a benchmark what it is hears that, and nothing is measured."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "benchmarks"
PROGRAMS = sorted(path.stem for path in FOLDER.glob("*.py") if "\nif __name__ ==" in path.read_text("utf-8"))


@pytest.mark.gate
@pytest.mark.parametrize("name", PROGRAMS)
def test_help_says_what_it_measures(name: str) -> None:
    command = [sys.executable, "-m", f"benchmarks.{name}", "--help"]
    shown = subprocess.run(command, capture_output=True, text=True, check=True, cwd=FOLDER.parent, timeout=60)
    title = (FOLDER / f"{name}.py").read_text("utf-8").splitlines()[0].strip('"')
    assert shown.stdout.startswith("usage: ")
    assert title in shown.stdout
