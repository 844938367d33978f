"""The terminal: its words alone are enough to walk by, and what was expected comes only after the answer."""

from __future__ import annotations

import asyncio
import io
import os
import pty
import re
import termios
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from signals.opening.keyboard import Keyboard, keyboard
from signals.opening.terminal import Terminal
from signals.words import Phase, Verdict
from tests.opening.reading import Screen, typed
from tests.opening.town import Morning, morning, walked
from tests.virtual import in_virtual_time

WIDE, NARROW = 120, 80


class Typist(Keyboard):
    """Types what the walker sees; after the last question, what the menu is to be answered."""

    def __init__(self, here: Morning, to: io.StringIO, menu: list[str]) -> None:
        super().__init__(terminal=False)
        self.screen = Screen()
        self.read: list[str] = []
        self._here = here
        self._to = to
        self._menu = menu
        self._next: list[str] = []

    async def answer(self, singles: str = "") -> str | None:
        del singles
        self.screen.feed(self._to.getvalue())
        self._to.truncate(0)
        self._to.seek(0)
        question = self.screen.question()
        self.read.append(self.screen.answered())
        if self._next:
            return self._next.pop(0)
        if question is not None:
            self._next = typed(question, await self._here.walker.say(question))
            return self._next.pop(0)
        return self._menu.pop(0) if self._menu else None


def run(
    tmp_path: Path,
    menu: list[str],
    plant: Callable[[Morning], None] = lambda _: None,
    *,
    before: int = 0,
    width: int = WIDE,
) -> tuple[Typist, Terminal, Phase]:
    async def whole() -> tuple[Typist, Terminal, Phase]:
        async with morning(tmp_path) as here:
            plant(here)
            walk = here.walk()
            if before:
                assert await walk.begin() == ()
                await walked(walk, here.walker, most=before)
                await walk.rest()
            to = io.StringIO()
            console = Console(file=to, width=width, highlight=False)
            keys = Typist(here, to, menu)
            terminal = Terminal(walk, keys, console, here.town.link, by="Ada Westerby")
            walk.tell = terminal.tell
            await terminal.run()
            keys.read.append(to.getvalue())
            return keys, terminal, here.floor.state.phase

    return in_virtual_time(whole)


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_its_words_are_enough_to_walk_by_and_to_sign(tmp_path: Path, width: int) -> None:
    keys, terminal, phase = run(tmp_path, ["v", "1", "", "Kim Harlow"], before=40, width=width)
    assert terminal.signed is not None
    signed = terminal.walk.sheet.signed
    assert signed is not None
    assert (signed.verdict, signed.by, signed.witness) == (Verdict.OPEN, "Ada Westerby", "Kim Harlow")
    said = "".join(keys.read)
    assert re.search(r"4\d of 64 rows are answered already", said)
    assert "no certificate" in said
    assert "Nothing here is an emergency stop" in re.sub(r"\s+", " ", said)
    assert phase is Phase.CLOSED


def test_what_was_expected_comes_after_the_answer(tmp_path: Path) -> None:
    """A dead lamp's row is asked like any other; only its answer brings up what should have burned."""

    def plant(here: Morning) -> None:
        here.town.devices["PX1-RED"].dead.add("PX1-RED")

    keys, _, _ = run(tmp_path, ["q"], plant)
    told = next(n for n, text in enumerate(keys.read) if "expected red alone" in text)
    asked = keys.read[told - 1]
    assert "Which lamps burn on it now?" in asked
    assert "1 red  2 yellow  3 green  0 none" in asked
    question = asked.partition("Which lamps burn")[2]  # before the first of all comes a greeting
    assert question.count("red") == 1
    assert "✗ px1/lamp/red: nothing; expected red alone" in keys.read[told]
    assert "It can be signed: Do not open" in "".join(keys.read)


def test_an_end_of_input_keeps_everything_and_gives_the_lamps_back(tmp_path: Path) -> None:
    keys, terminal, phase = run(tmp_path, [])
    assert terminal.signed is None
    assert "goes on from here" in keys.read[-1]
    assert phase is Phase.CLOSED
    assert len(terminal.walk.sheet.tries) == len(terminal.walk.sheet.rows)


def test_a_verdict_that_is_not_possible_says_why(tmp_path: Path) -> None:
    def plant(here: Morning) -> None:
        here.walker.bad = {"Barriers in place"}

    keys, terminal, _ = run(tmp_path, ["v", "1", "", "", "q"], plant, before=30)
    said = "".join(keys.read)
    assert terminal.signed is None
    assert "Open cannot be signed" in said
    assert "1 row failed: barriers." in said
    assert terminal.walk.sheet.tries["barriers"].left.note == "not in order"


# --- keys


@pytest.fixture
def tty() -> tuple[int, int]:
    return pty.openpty()


async def test_one_key_is_an_answer_where_one_is_enough() -> None:
    keys = Keyboard(terminal=True)
    keys.take(b"y")
    assert await keys.answer("yn") == "y"
    keys.take(b"12\x7f3\r")
    assert await keys.answer("yn") == "13"
    keys.take(b"y no\n")  # typed on: y is an answer by itself, the rest belongs to the next
    assert await keys.answer("yn") == "y"
    assert await keys.answer("yn") == "no"


async def test_from_a_pipe_every_answer_is_a_line() -> None:
    keys = Keyboard(terminal=False)
    keys.take("y\nnaïve\n".encode())
    assert await keys.answer("yn") == "y"
    assert await keys.answer("yn") == "naïve"
    keys.take(b"")
    assert await keys.answer("yn") is None
    assert await keys.answer("yn") is None


async def test_ctrl_d_and_the_end_are_the_end() -> None:
    keys = Keyboard(terminal=True)
    keys.take(b"\x04")
    assert await keys.answer() is None
    closed = Keyboard(terminal=True)
    asyncio.get_running_loop().call_soon(closed.close)
    assert await closed.answer() is None


async def test_a_terminal_is_left_as_it_was_found(
    tty: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:

    leader, follower = tty
    before = termios.tcgetattr(follower)
    with os.fdopen(follower, "r", closefd=False) as stdin:
        monkeypatch.setattr("sys.stdin", stdin)
        async with keyboard() as keys:
            assert termios.tcgetattr(follower) != before
            os.write(leader, b"g")
            assert await keys.answer("g") == "g"
    assert termios.tcgetattr(follower) == before
    os.close(leader)
    os.close(follower)
