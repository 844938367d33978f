"""Killed at any write of the record: no answered call is lost, no hold forgotten, no chain broken."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from signals.controller.layout import layout_of
from signals.controller.restart import begin
from signals.journal import Draft, Journal, Kind, reader
from tests.faults.dying import CALLS
from tests.sequence.playing import core_for, venue

HERE = Path(__file__).parent
needs_gcc = pytest.mark.skipif(shutil.which("gcc") is None, reason="gcc not found: apt-get install gcc")


@pytest.fixture(scope="session")
def shim(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("shim") / "die.so"
    subprocess.run(["gcc", "-shared", "-fPIC", "-O1", "-o", made, HERE / "die.c", "-ldl"], check=True)
    return made


def deaths(folder: Path, shim: Path, how: int, first: int = 1, step: int = 1) -> list[dict[str, Any]]:
    argv = [sys.executable, "-m", "tests.faults.dying", *map(str, (folder, how, first, step))]
    told = subprocess.run(
        argv, env={**os.environ, "LD_PRELOAD": str(shim)}, capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stderr[-2000:]
    return [json.loads(line) for line in told.stdout.splitlines()]


def holds_after(path: Path) -> set[str]:
    """What a controller that begins anew takes up."""
    journal = Journal(path)
    beginning = begin(core_for(layout_of(venue(), 0)), journal, "b00t")
    journal.append_many([Draft(kind=Kind.BOOT, body={}, at=1, boot="b00t", seq=1)])
    journal.close()
    return set(beginning.state.notes)


def judge(death: dict[str, Any]) -> None:
    path = Path(death["folder"]) / "journal.sqlite"
    if not path.exists():
        assert not death["recorded"]
        return
    holds = holds_after(path)
    assert reader.verify(path) == [], death
    entries = [entry for entry in reader.entries(path) if isinstance(entry.body, dict)]
    for kind in ("call", "answer"):
        written = {entry.body.get("id") for entry in entries if entry.kind == kind}
        assert set(death["recorded"]) <= written, (kind, death)
    assert set(death["holds"]) <= holds | _lifted(entries), death


def _lifted(entries: list[Any]) -> set[str]:
    """Holds whose lift was written though nobody was told: the call came, and nobody can know."""
    return {
        entry.body["hold"] for entry in entries if entry.kind == "call" and entry.body.get("call") == "lift"
    }


@needs_gcc
@pytest.mark.gate
def test_in_the_midst_of_every_write(tmp_path: Path, shim: Path) -> None:
    found = deaths(tmp_path, shim, how=1)
    print(f"killed at {len(found) - 1} writes")
    assert len(found) > 4 * len(CALLS), "hardly a write was counted: is the shim in use?"
    assert [death["died"] for death in found] == [True] * (len(found) - 1) + [False]
    for death in found:
        judge(death)
    assert len(found[-1]["recorded"]) == len(CALLS)


@needs_gcc
@pytest.mark.night
@pytest.mark.parametrize("how", [0, 2], ids=["before", "after"])
def test_before_and_after_every_write(tmp_path: Path, shim: Path, how: int) -> None:
    for death in deaths(tmp_path, shim, how=how):
        judge(death)


def test_an_answer_that_was_promised_and_is_missing_is_noticed(tmp_path: Path) -> None:
    Journal(tmp_path / "journal.sqlite").close()
    death = {"folder": str(tmp_path), "recorded": ["c-stop"], "holds": [], "died": True}
    with pytest.raises(AssertionError):
        judge(death)
    with pytest.raises(AssertionError):
        judge({**death, "recorded": [], "holds": ["stop:desk"]})
