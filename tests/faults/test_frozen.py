"""A real process frozen for two seconds in a race, and thawed: nothing turns green by itself."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from tests.system.outside import Listener, Post, Run, with_broker
from tests.system.racing import race
from tests.system.test_killed import reports, verify

pytestmark = [*with_broker, pytest.mark.night]

FROZEN_S, AFTER_S = 2.0, 4.0
HOLDS_UP = {"controller", "mosquitto", "nodes"}
"""Without these no beat reaches a head, or no head hears one."""


@pytest.mark.parametrize("name", ["controller", "mosquitto", "nodes", "monitor", "sim"])
def test_frozen_and_thawed(name: str, tmp_path: Path) -> None:
    data = tmp_path / "data"
    with Run(data, "--headless", "--broker", "mosquitto").started() as run, Listener(run, "post-desk") as ear:
        desk = Post(run, "desk", ear)
        assert ear.until(lambda: len(ear.shown()) == len(ear.says("state")["heads"]))
        race(run, desk, ear)
        assert "green" in ear.shown().values()
        process, mark = run.children()[name], len(ear.kept)
        os.kill(process, signal.SIGSTOP)
        try:
            ear.until(lambda: False, FROZEN_S)
        finally:
            os.kill(process, signal.SIGCONT)
        ear.until(lambda: False, AFTER_S)
        aspects = {
            head: [aspect for _, aspect in told]
            for head, told in reports(ear.since(mark), "shown", "aspect").items()
        }
        for head, told in aspects.items():
            left = next((at for at, aspect in enumerate(told) if aspect != "green"), len(told))
            assert "green" not in told[left:], f"{head} came back by itself: {told}"
        if name in HOLDS_UP:
            assert "green" not in ear.shown().values(), ear.shown()
        assert desk.call("stop", kind="incident", reason="after the frost")["accepted"]
        assert ear.until(lambda: set(ear.shown().values()) == {"red"}), ear.shown()
    assert verify(data).returncode == 0
