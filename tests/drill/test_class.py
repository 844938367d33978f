"""A class as it really is: a host, two trainees' windows and the instructor's, each a process on a display.

Everything is done by keys, or by the verbs the docs name; pictures of every step are kept in `build`.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

import numpy as np
import pytest

from signals.look import SMALL_PX
from signals.mqtt.link import KEEPALIVE_S
from sim.drill.score import Score
from sim.drill.trainees import NAME, Trainees
from tests.drill.playing import venue
from tests.system.display import SIZE, Display, stands_in, with_display

PICTURES = Path(__file__).parents[2] / "build" / "drill-class"
KERBLIGHT = (sys.executable, "-m", "signals.cli")
FROZEN_S = 2 * KEEPALIVE_S
"""Longer than a broker waits for a client that says nothing."""
UP_S, SOON_S, TRIES = 120.0, 6.0, 10
"""On one busy computer: how long a class may take to come up, and an answer; how often keys are pressed."""


def end(process: subprocess.Popen[str]) -> None:
    """Let a process be gone, with its pipes, whatever became of it."""
    process.kill()
    with process:
        process.wait()


@dataclass
class Seat:
    """A window of the class on a display of its own."""

    name: str
    argv: tuple[str, ...]
    display: Display = field(default_factory=Display)

    def __enter__(self) -> Self:
        self.display.__enter__()
        environment = {**os.environ, "DISPLAY": self.display.name}
        self.process = subprocess.Popen(
            [*KERBLIGHT, "drill", *self.argv], env=environment, stderr=subprocess.PIPE, text=True
        )
        return self

    def __exit__(self, *why: object) -> None:
        end(self.process)
        self.display.__exit__(*why)

    def close(self) -> str:
        """End it as a session's end does; gives what it said on stderr."""
        self.process.terminate()
        said = self.process.communicate(timeout=UP_S)[1]
        assert self.process.returncode == 0, said
        return said

    def press(self, *keys: str, then: str) -> None:
        """Press keys until a line stands in the window."""
        for _ in range(TRIES):
            self.display.press(*keys)
            if self.display.shows(then, SOON_S):
                return
        pytest.fail(f"{self.name}: {then!r} did not come of {keys}")


@dataclass
class Class:
    """Host, trainees and instructor."""

    data: Path
    host: subprocess.Popen[str]
    ada: Seat
    ben: Seat
    instructor: Seat
    steps: int = 0

    def keep(self, step: str) -> None:
        """Keep a picture of every window."""
        self.steps += 1
        for seat in (self.ada, self.ben, self.instructor):
            seat.display.save(PICTURES / f"{self.steps}-{step}-{seat.name}.png")

    def lose_links(self) -> None:
        """Wait until every window says that it has no link."""
        for seat in (self.ada, self.ben, self.instructor):
            assert seat.display.shows("Flag and radio: nothing here reaches the track"), seat.name

    def freeze(self) -> None:
        """Let the host stand still, as on a computer that does much else, and go on."""
        self.host.send_signal(signal.SIGSTOP)
        self.lose_links()
        time.sleep(FROZEN_S)
        self.host.send_signal(signal.SIGCONT)

    def verb(self, *argv: str) -> None:
        """Say something at a terminal, which must be done."""
        verb = [*KERBLIGHT, *argv, "--data", str(self.data)]
        done = subprocess.run(verb, capture_output=True, text=True, timeout=UP_S, check=False)
        assert done.returncode == 0, done.stdout + done.stderr

    def lets_happen(self, sector: str, words: str) -> None:
        """Let parts lie in a sector, by the instructor's keys: the first thing there is to choose."""
        self.instructor.press(sector[0], "F4", then=f"up, down), or in {sector}?")
        self.instructor.press("1", then=words)

    def scores(self) -> dict[str, Score]:
        """Give every trainee's score, as it was kept."""
        with Trainees(self.data / NAME) as trainees:
            runs = {who: list(trainees.runs(who)) for who in ("Ada", "Ben")}
        return {who: run.score for who, (run,) in runs.items()}


def until(holds: Callable[[], bool], what: str, within_s: float = UP_S) -> None:
    """Wait until something holds."""
    deadline = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < deadline, f"{what}: not within {within_s:g} s"
        time.sleep(0.1)


@pytest.fixture
def training(tmp_path: Path) -> Iterator[Class]:
    """A class of two at two posts, in quiet minutes, whose windows all stand."""
    shutil.rmtree(PICTURES, ignore_errors=True)
    data = tmp_path / "class"
    here = ("--data", str(data))
    seats = ("--seat", "p1=Ada", "--seat", "p2=Ben", "--seed", "3", "--wait", "20")
    argv = [*KERBLIGHT, "drill", "host", "quiet-minutes", *seats, *here]
    host = subprocess.Popen(argv, stdout=subprocess.PIPE, text=True)
    try:
        until((data / "broker").exists, "the host's broker")
        with ExitStack() as stack:
            ada = stack.enter_context(Seat("ada", ("join", "--post", "p1", *here)))
            ben = stack.enter_context(Seat("ben", ("join", "--post", "p2", *here)))
            instructor = stack.enter_context(Seat("instructor", ("instruct", *here)))
            yield Class(data, host, ada, ben, instructor)
    finally:
        end(host)


def tag(letter: str) -> Any:
    """Give the inside of an accepted call's tag, as a ribbon shows it."""
    import pygame  # noqa: PLC0415 - says hello unless told not to

    from sim.view.paint import Brush  # noqa: PLC0415 - needs pygame
    from sim.view.strip import MARK_PX  # noqa: PLC0415 - likewise

    brush = Brush()
    surface = pygame.Surface((MARK_PX, MARK_PX))
    surface.fill(brush.colour("text"))
    middle = surface.get_rect().center
    brush.write(surface, letter, middle, SMALL_PX, "ground", bold=True, align="centre")
    inside = pygame.surfarray.array3d(surface).swapaxes(0, 1)[3:-3, 3:-3]
    return inside.astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], np.uint32)


def has_tag(seat: Seat, letter: str, sector: str) -> bool:
    """Whether a call's tag stands in a sector's row of a window's ribbon."""
    import pygame  # noqa: PLC0415 - says hello unless told not to

    from sim.view.desk import Desk  # noqa: PLC0415 - needs pygame
    from sim.view.hands import Hands  # noqa: PLC0415 - likewise
    from sim.view.layout import RIBBON_ROW_PX  # noqa: PLC0415 - likewise
    from sim.view.screen import Screen  # noqa: PLC0415 - likewise

    desk = Desk(venue())
    ribbon = Screen(pygame.Surface(SIZE), desk, Hands(desk, lambda *_: False)).layout.ribbon
    top = ribbon.top + desk.ribbon.rows.index(sector) * RIBBON_ROW_PX
    row = seat.display.picture()[top : top + RIBBON_ROW_PX + 8, ribbon.left : ribbon.right]
    return stands_in(tag(letter), row)


def line_of(score: Score, name: str) -> tuple[float, float]:
    """Give a line's marks: got, and of."""
    line = next(line for line in score.lines if line.name == name)
    return line.got, line.of


@with_display
@pytest.mark.gate
@pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed")
def test_two_trainees_answer_what_the_instructor_lets_happen_each_for_the_own_sectors(
    training: Class,
) -> None:
    ada, ben, instructor = training.ada, training.ben, training.instructor
    assert training.host.stdout is not None
    opened = iter(training.host.stdout.readline, "")
    until(lambda: next(opened).startswith("It runs."), "the drill")
    instructor.press("Escape", then="All are out")
    training.keep("it-runs")

    training.freeze()
    instructor.press("Escape", then="All are out")
    training.keep("nothing-fell-safe-while-the-host-stood-still")

    training.lets_happen("3 Hairpin", "Debris in 3 Hairpin")
    training.keep("debris-in-the-hairpin")
    ada.press("3", "y", then="Yellow 3 Hairpin: done.")
    until(lambda: has_tag(instructor, "Y", "s3"), "Ada's call on the instructor's ribbon")
    assert not has_tag(instructor, "Y", "s5")
    training.keep("ada-calls")

    training.lets_happen("5 Capstan", "Debris in 5 Capstan")
    ben.press("5", "y", then="Yellow 5 Capstan: done.")
    until(lambda: has_tag(instructor, "Y", "s5"), "Ben's call on the instructor's ribbon")
    training.keep("ben-calls")

    training.verb("drill", "inject", "wet-patch", "--where", "s2")
    training.verb("call", "caution", "--post", "p1", "--where", "s2")
    until(lambda: has_tag(instructor, "Y", "s2"), "a call by a verb on the instructor's ribbon")
    training.keep("by-verbs")

    training.host.send_signal(signal.SIGINT)
    told = training.host.communicate(timeout=UP_S)[0]
    assert told.index("Ada, Post 1") < told.index("Ben, Post 2") < told.index("kerblight drill report")
    training.lose_links()
    training.keep("it-is-over")
    scores = training.scores()
    assert (training.host.returncode == 0) == all(score.passed for score in scores.values())
    thrown_in = {
        who: {line.name.partition(".")[0] for line in score.lines if line.name.startswith("live-")}
        for who, score in scores.items()
    }
    assert thrown_in == {"Ada": {"live-1", "live-3"}, "Ben": {"live-2"}}
    for who, lives in thrown_in.items():
        for live in lives:
            assert line_of(scores[who], f"{live}.call") == (9.0, 9.0)
            assert line_of(scores[who], f"{live}.where") == (6.0, 6.0)
    assert [seat.close() for seat in (ada, ben, instructor)] == ["", "", ""]
