"""The window as somebody has it who sits down at it: on a display, with keys, closed by its button."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.system.display import Display, with_display
from tests.system.outside import Listener, Post, Run, patient_venue, watched, with_broker
from tests.system.racing import NEAR_THE_EXIT, lift_equipments, on_track

pytestmark = [*with_broker, with_display]

PICTURE = Path(__file__).parents[2] / "build" / "window.png"
TITLE = "Harbour Loop"
ITEMS = {"briefing": "b", "helmets": "h", "belts": "k", "track": "t"}
TRIES = 6
SOON_S = 4.0
STANDS_S = 12.0
"""How long the window waits for karts to stand; then it ends all the same."""
STANDS_KMH = 0.5


@dataclass
class Desk:
    """A run with its window, and an ear beside it."""

    run: Run
    display: Display
    ear: Listener

    def press(self, *keys: str, then: str) -> None:
        """Press until the state says what it should; what equipment holds up is lifted in between."""
        for _ in range(TRIES):
            self.display.press(*keys)
            if self.ear.until(lambda: self.came(then), SOON_S):
                return
            lift_equipments(self.run, Post(self.run, "desk", self.ear), self.ear)
        pytest.fail(f"{then} did not come of {keys}: {self.ear.says('state')}")

    def start(self) -> None:
        """Ready, then start, as the screen says; what equipment places takes the readiness back."""
        for _ in range(TRIES):
            self.press("a", then="armed")
            assert self.display.shows("Next: start the session (S)") or not self.came("armed")
            self.display.press("s", "Return")
            if self.ear.until(lambda: self.came("racing"), SOON_S):
                return
        pytest.fail(f"no start: {self.ear.says('state')}")

    def came(self, what: str) -> bool:
        """Whether a phase, a confirmed item of the checklist, or a kart that was let out is there."""
        state, group = self.ear.says("state"), self.ear.says("group")
        out = state["karts"].get(what, {}).get("let_out")
        return bool(what == state["phase"] or out or group["checklist"].get(what))


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("window")
    options = ("--broker", "mosquitto", "--venue", str(patient_venue(folder)))
    with (
        Display() as display,
        Run(folder / "data", *options, display=display.name).started() as run,
        Listener(run, "post-desk") as ear,
    ):
        yield Desk(run, display, ear)


def test_it_stands_on_the_display(desk: Desk) -> None:
    assert desk.display.shows("Next: bring a group in (G)")
    desk.display.save(PICTURE)
    assert len(np.unique(desk.display.picture())) > 100
    assert not desk.display.shows("Next: bring a group in (H)", 0)


def test_a_first_session_by_the_keys_it_shows(desk: Desk) -> None:
    desk.press("g", then="staging")
    assert desk.display.shows("Next: confirm: briefing held")
    for item, key in ITEMS.items():
        desk.press(key, then=item)
    assert desk.display.shows("Next: everyone set? Ready (A)")
    desk.start()
    assert desk.display.shows("Next: let out kart 1 (O)")
    assert set(desk.ear.shown().values()) == {"green"}


def test_a_process_that_ends_is_told_in_the_window(desk: Desk) -> None:
    monitor = desk.run.children()["monitor"]
    with watched({"monitor": monitor}) as left:
        os.kill(monitor, signal.SIGKILL)
        assert left(5) == set()
    assert desk.run.saw("monitor ended with exit code -9; starting it again (1 of 3)")
    assert desk.run.saw("monitor ready", 20, times=2)
    assert desk.display.shows("Monitor ended with exit code -9; starting it again (1 of 3)")
    assert desk.ear.until(lambda: desk.ear.says("state")["monitor"] == "ok")


def test_closing_it_with_karts_out_asks_then_calls_red_then_ends(desk: Desk) -> None:
    ear, display = desk.ear, desk.display
    lift_equipments(desk.run, Post(desk.run, "desk", ear), ear)
    desk.press("o", "Return", then="1")
    desk.run.publish("instructor", "inject/world", NEAR_THE_EXIT)
    assert ear.until(lambda: on_track(ear, "1") and ear.says("state")["karts"]["1"]["place"] != "pit", 20)
    question = "Kart 1 out on the track. Close this"
    display.ask_to_close(TITLE)
    assert display.shows(question)
    before = len(ear.of("beat"))
    display.press("Escape")
    assert ear.until(lambda: len(ear.of("beat")) >= before + 10)
    assert desk.run.process.poll() is None
    assert ("stop", "desk") not in {(hold["what"], hold["post"]) for hold in ear.says("state")["holds"]}
    display.ask_to_close(TITLE)
    assert display.shows(question)
    display.press("Return")
    assert desk.run.process.wait(STANDS_S + 30) == 0
    assert {hold["what"] for hold in ear.says("state")["holds"] if hold["post"] == "desk"} == {"stop"}
    assert set(ear.shown().values()) == {"red"}
    assert set(ear.taken().values()) == {0}
    assert all(kart["in_pit"] or kart["speed_kmh"] <= STANDS_KMH for kart in ear.says("world")["karts"])
    parts = ("panel", "controller", "nodes", "monitor", "broker")
    order = ["sim was closed", *(f"{name} ended" for name in parts)]
    assert desk.run.said[-len(order) :] == order
