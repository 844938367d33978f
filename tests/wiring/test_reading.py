"""What wired inputs read, said without writing anything."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest

from signals.cli.app import run
from signals.outputs.line import Line
from signals.outputs.modbus import ModbusTcp
from signals.venue import load
from signals.wiring.reading import read_inputs, watch_inputs
from tests.outputs.bench import CONFIGS, demo_wires, facts_of, write_venue
from tests.outputs.board import Board, made_of

VENUE = load(CONFIGS / "harbour-wired.toml")


async def boards(folder: Path) -> tuple[dict[int, Board], Path]:
    wires, made = demo_wires(), {}
    for port in sorted({wire.port or 0 for wire in wires if wire.protocol == "modbus-tcp"}):
        made[port] = made_of(facts_of([wire for wire in wires if wire.port == port]))
        await made[port].serve()
    ports = {port: board.port for port, board in made.items()} | {5568: 5568}
    return made, write_venue(folder, wires, ports)


async def test_each_input_is_read_and_nothing_is_written(tmp_path: Path) -> None:
    made, file = await boards(tmp_path)
    made[5022].loops[0] = 4095
    made[5021].contacts[8], made[5021].contacts[9] = True, False  # the gate's
    await made[5023].kill()
    read = {each.input: each for each in await read_inputs(load(file))}
    assert {name: each.circuit for name, each in read.items()} == {
        "alarm": "normal",
        "gate": "active",
        "box-p1": "normal",
        "box-p2": None,
        "box-3": "open",
    }
    assert read["box-3"].reads == {"BOX-3": 4095}
    assert "no connection" in read["box-p2"].means
    for board in made.values():
        assert board.writes == []
        await board.kill()


async def test_a_watch_tells_each_input_once_and_then_its_changes(tmp_path: Path) -> None:
    made, file = await boards(tmp_path)
    told = watch_inputs(load(file))
    async with asyncio.timeout(10):
        first = {(await anext(told)).input for _ in range(5)}
        made[5022].loops[0] = 611
        pressed = await anext(told)
    await told.aclose()
    assert first == {"alarm", "gate", "box-p1", "box-p2", "box-3"}
    assert (pressed.input, pressed.circuit, pressed.reads) == ("box-3", "active", {"BOX-3": 611})
    for board in made.values():
        await board.kill()


async def test_a_device_that_hangs_is_not_waited_for_long(tmp_path: Path) -> None:
    made, file = await boards(tmp_path)
    made[5022].frozen = True

    def make(line: Line, _: int) -> ModbusTcp:
        return ModbusTcp(line)

    read = {each.input: each.circuit for each in await read_inputs(load(file), make)}
    assert (read["alarm"], read["box-p1"], read["box-3"]) == ("normal", None, None)
    made[5022].frozen = False
    for board in made.values():
        await board.kill()


def test_what_cannot_be_read_is_said_and_falls_short(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        run(["wiring", "read", "--venue", str(CONFIGS / "harbour-wired.toml"), "--json"])
    assert ended.value.code == 1
    read = json.loads(capsys.readouterr().out)
    assert {each["circuit"] for each in read} == {None}
