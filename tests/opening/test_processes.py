"""Over real processes and a real mosquitto: the morning in a terminal, on relay boards that are not ours."""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import subprocess
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
import pytest
from pypdf import PdfReader

from signals.cli.links import links
from signals.journal import reader
from signals.mqtt.contract import Inject
from signals.opening.book import Book
from signals.opening.sheet import CauseFound
from signals.sequence.observer import Observer
from signals.venue import load
from signals.venue.model import Venue
from tests.opening.reading import Screen, typed
from tests.opening.town import Walker, written
from tests.outputs.bench import facts_of
from tests.outputs.board import Board, made_of

pytestmark = [
    pytest.mark.gate,
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="no mosquitto on the PATH"),
]
CONFIGS = Path(__file__).parents[2] / "configs"
PATIENT = """
[timing_ms]
lease_head = 3000
lease_kart = 3000
lease_controller = 3000
settle = 3000
monitor_trip = 440
follow = 440
"""
"""What a busy machine does not end: faults are the point here, not leases."""
MODBUS = {"lamp": "coil", "display": "holding", "contact": "discrete"}
VERB = [sys.executable, "-m", "signals.cli"]
UP_S = 60.0


@dataclass
class Yard:
    """The boards in the cabinets, and what somebody at the track sees of them and does to them."""

    venue: Venue
    boards: dict[str, Board] = field(default_factory=dict)

    def lights(self, head: str) -> dict[str, int]:
        found = {}
        for wire in self.venue.wires:
            if wire.place == head and wire.direction == "out":
                board = self._board(head)
                number = wire.point_type == "holding"
                found[wire.aspect] = board.registers[wire.point] if number else int(board.lit(wire.point))
        return found

    async def pull(self, head: str) -> None:
        self._board(head).frozen = True
        await asyncio.sleep(4)  # its own watchdog lets go after three

    async def plug(self, head: str) -> None:
        self._board(head).frozen = False
        await asyncio.sleep(4)

    async def press(self, box: str) -> None:
        own = {wire.aspect: wire.point for wire in self.venue.wires if wire.place == box}
        board = self._board(box)
        board.contacts |= {own["make"]: True, own["break"]: False}
        await asyncio.sleep(2)
        board.contacts |= {own["make"]: False, own["break"]: True}
        await asyncio.sleep(1)

    def _board(self, place: str) -> Board:
        return self.boards[next(wire.serial for wire in self.venue.wires if wire.place == place)]

    def coil(self, ref: str) -> tuple[Board, int]:
        wire = next(wire for wire in self.venue.wires if wire.ref == ref)
        return self.boards[wire.serial], wire.point


@asynccontextmanager
async def yard(folder: Path) -> AsyncIterator[Yard]:
    """Stand two boards, and write a venue that is wired to them."""
    boards = {serial: Board() for serial in ("RB-0417", "RB-0512")}
    try:
        for board in boards.values():
            await board.serve()
        ports = {serial: board.port for serial, board in boards.items()}

        def moved(row: dict[str, str]) -> dict[str, str]:
            where = {"host": "127.0.0.1", "port": str(ports[row["serial"]]), "unit": "1"}
            point = {"protocol": "modbus-tcp", "point_type": MODBUS[row["point_type"]]}
            return {**row, **where, **point, "watchdog_ms": row["watchdog_ms"] and "3000"}

        file = written(folder, moved)
        file.write_text(file.read_text(encoding="utf-8") + PATIENT, encoding="utf-8")
        venue = load(file)
        for serial, port in ports.items():
            knowing = made_of(facts_of([wire for wire in venue.wires if wire.port == port]))
            board = boards[serial]
            board.sensors, board.contacts = knowing.sensors, knowing.contacts
            board._watchdog_s, board._fail = knowing._watchdog_s, knowing._fail
        yield Yard(venue, boards)
    finally:
        for board in boards.values():
            await board.kill()


@asynccontextmanager
async def running(venue: Path, data: Path) -> AsyncIterator[None]:
    """Run a whole venue, without its window, on a mosquitto of its own."""
    words = ["run", "--headless", "--broker", "mosquitto", "--venue", str(venue), "--data", str(data)]
    run = await asyncio.create_subprocess_exec(
        *VERB, *words, stdout=asyncio.subprocess.PIPE, stdin=asyncio.subprocess.DEVNULL
    )
    assert run.stdout is not None
    try:
        async with asyncio.timeout(UP_S):
            said = ""
            while "nodes ready" not in said or ("outputs" not in said and "harbour" not in str(venue)):
                line = await run.stdout.readline()
                assert line, said
                said += line.decode()
        await asyncio.sleep(4)  # every device is heard, every limit taken
        yield
    finally:
        run.terminate()
        await run.communicate()


async def verb(*words: str) -> tuple[int, str]:
    process = await asyncio.create_subprocess_exec(
        *VERB, *words, stdout=asyncio.subprocess.PIPE, stderr=subprocess.STDOUT
    )
    said, _ = await process.communicate()
    assert process.returncode is not None
    return process.returncode, said.decode()


@dataclass
class Session:
    """A terminal with somebody at it: reads the prompts, looks at the boards, types."""

    walker: Walker
    menu: list[str]
    read: str = ""

    async def go(self, *words: str) -> dict[str, Any]:
        """Run the walk to its end; gives what it says of itself."""
        walk = await asyncio.create_subprocess_exec(
            *VERB, "opening", *words, "--json",
            stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE,
            env={**os.environ, "COLUMNS": "120"},
        )  # fmt: skip
        assert walk.stdin is not None
        assert walk.stderr is not None
        assert walk.stdout is not None
        screen, lines = Screen(), list[str]()
        while data := await walk.stderr.read(4096):
            screen.feed(data.decode())
            if screen.asks:
                lines = lines or await self._answer(screen)
                walk.stdin.write(f"{lines.pop(0)}\n".encode())
                self.read += screen.answered()
        self.read += screen.answered()
        out = json.loads(await walk.stdout.read())
        await walk.wait()
        return {"code": walk.returncode, **out}

    async def _answer(self, screen: Screen) -> list[str]:
        if question := screen.question():
            return typed(question, await self.walker.say(question))
        if screen.stands_still:  # a busy machine lost a lease: looked, nothing is wrong there
            return ["f"]
        return [self.menu.pop(0)]


@asynccontextmanager
async def eyes(yard: Yard, data: Path) -> AsyncIterator[Walker]:
    """Somebody at the track, who also sees which kart creeps and how fast."""
    ears = Observer(yard.venue, links("", data), client="instructor.eyes")
    listening = asyncio.create_task(ears.run())
    try:
        await ears.connected()
        yield Walker(yard, ears)
    finally:
        listening.cancel()
        await asyncio.gather(listening, return_exceptions=True)


async def arm_refused(venue: Path, data: Path) -> str:
    """Bring a group in and ask for ready; what was said against it, then home again."""
    own = ("--post", "desk", "--venue", str(venue), "--data", str(data))
    for words in (
        ("stage", "--entry", "1:Ada:adult"),
        *(("confirm", "--item", item) for item in ("briefing", "helmets", "belts", "track")),
    ):
        code, said = await verb("call", *words, *own)
        assert code == 0, said
    code, said = await verb("call", "arm", *own)
    if code == 0:
        await verb("call", "disarm", *own)
    assert (await verb("call", "close", *own))[0] == 0
    return said if code else ""


async def test_two_planted_faults_are_found_repaired_and_the_day_opens(tmp_path: Path) -> None:
    async with yard(tmp_path) as track:
        venue, data = tmp_path / "small.toml", tmp_path / "data"
        red_board, red = track.coil("H3-RED")
        _, green = track.coil("H3-GRE")
        dead_board, dead = track.coil("H4-YEL")
        red_board.crossed = {red: green, green: red}
        dead_board.dead.add(dead)
        own = ("--venue", str(venue), "--data", str(data), "--by", "Ada Westerby")
        async with running(venue, data), eyes(track, data) as walker:
            evening = Session(walker, ["v", "3", "", "Kim Harlow"])
            came = await evening.go(*own)
            assert (came["code"], came["verdict"]) == (1, "do-not-open")
            assert set(came["failed"]) == {"h3/lamp/red", "h3/lamp/green", "h4/lamp/yellow"}
            assert "✗ h4/lamp/yellow: nothing; expected yellow alone" in evening.read
            assert "No passed opening check of today stands" in (await arm_refused(venue, data)).replace(
                "\n", " "
            )
            red_board.crossed = {}
            dead_board.dead.clear()
            morning = Session(walker, ["r", "e", "v", "1", "", "Kim Harlow"])
            came = await morning.go(*own)
            assert (came["code"], came["verdict"], came["failed"], came["open"]) == (0, "open", [], 0)
            assert await arm_refused(venue, data) == ""
        text = " ".join(page.extract_text() for page in PdfReader(came["printed"]).pages)
        assert "OPEN" in text
        assert "h4: yellow lit alone" in text
        assert reader.verify(data / "journal.sqlite") == []
        listed = json.loads((await verb("opening", "list", "--data", str(data), "--json"))[1])
        assert [line["verdict"] for line in listed] == ["do-not-open", "open"]


async def test_the_whole_matrix_of_a_simulated_venue_and_a_planted_slow_head(tmp_path: Path) -> None:
    """Under three minutes, or the verb is ended; processes are another's here, so theirs are left out."""
    venue, data = CONFIGS / "harbour-loop.toml", tmp_path / "data"
    known = load(venue)
    async with running(venue, data):
        ears = Observer(known, links("", data), client="instructor.plant")
        listening = asyncio.create_task(ears.run())
        await ears.connected()
        planted = await ears.inject("n1", Inject(id="slow", event="slow", head="h3", for_ms=240))
        assert planted is not None
        assert planted.done
        async with asyncio.timeout(180):
            code, said = await verb("opening", "--auto", "--json", "--data", str(data))
        listening.cancel()
        await asyncio.gather(listening, return_exceptions=True)
    told, ran = said[: said.index("{")], json.loads(said[said.index("{") :])
    assert code == 1
    lines = told.splitlines()
    assert len(lines) == len(ran["causes"]), told
    assert all(line.lstrip().startswith(f"{n} of {len(lines)}  ") for n, line in enumerate(lines, start=1))
    kept = Book(data / "opening")
    assert (ran["kept"], ran["sequences"]) == (str(kept.walk), str(kept.sequences))
    walk = kept.sheet()
    assert walk is not None
    assert list(walk.causes.values()) == msgspec.convert(ran["causes"], list[CauseFound])
    assert (kept.sequences / "calls.toml").exists()
    assert {slow["head"] for slow in ran["slow"]} == {"h3"}
    assert {slow["cause"] for slow in ran["slow"]} >= {"start", "stop", "caution/s3"}
    calls = [slow["ms"] for slow in ran["slow"] if slow["cause"] in ("start", "stop")]
    assert min(calls) >= 240
    kinds = {cause["kind"]: cause["outcome"] for cause in ran["causes"]}
    assert kinds.keys() == {"call", "input", "communication", "lamp", "restart", "power"}
    for cause in ran["causes"]:
        for cell in cause["cells"]:
            assert cell.keys() == {"head", "expected", "within_ms", "came", "ms", "met"}
    wrong = [cell for cause in ran["causes"] for cell in cause["cells"] if not cell["met"]]
    assert {cell["head"] for cell in wrong} == {"h3"}
