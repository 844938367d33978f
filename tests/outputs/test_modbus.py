"""What is a relay board's own: runs of addresses, displays, refusals, several boards on one line."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

import pytest

from signals.outputs.line import Line, Point
from signals.outputs.modbus import ModbusTcp, _runs
from tests.outputs.board import Board

WITHIN_S = 8.0


@pytest.fixture
async def board() -> AsyncIterator[Board]:
    made = Board()
    await made.serve()
    yield made
    await made.kill()


async def drive(board: Board, *outs: Point, ins: tuple[Point, ...] = ()) -> tuple[ModbusTcp, asyncio.Task]:
    line = Line(protocol="modbus-tcp", host="127.0.0.1", port=board.port, unit=1, outs=outs, ins=ins)
    output = ModbusTcp(line, lease_ms=60_000)
    return output, asyncio.create_task(output.run(board.changed.set))


async def end(task: asyncio.Task) -> None:
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


def test_neighbours_go_in_one_request_and_gaps_are_left_alone() -> None:
    points = [Point(str(at), "coil", at) for at in (0, 1, 2, 5, 6, 9)] + [Point("n", "holding", 3)]
    runs = [(run.kind, run.first, len(run.points)) for run in _runs(points)]
    assert runs == [("coil", 0, 3), ("coil", 5, 2), ("coil", 9, 1), ("holding", 3, 1)]


async def test_what_is_not_ours_is_never_written(board: Board) -> None:
    _, running = await drive(board, Point("A", "coil", 2, fail=True), Point("B", "coil", 4, fail=True))
    await board.until(lambda: len(board.writes) >= 4, WITHIN_S)
    await end(running)
    assert {address for _, address, _ in board.writes} == {2, 4}
    assert {len(values) for *_, values in board.writes} == {1}


async def test_a_display_takes_a_number_and_falls_dark(board: Board) -> None:
    output, running = await drive(board, Point("N", "holding", 7, number=True))
    output.show({"N": 412})
    await board.until(lambda: board.registers[7] == 412, WITHIN_S)
    await board.until(lambda: output.driven == {"N": 412}, WITHIN_S)
    with pytest.raises(ValueError, match="N is 1000"):
        output.show({"N": 1000})
    await end(running)
    assert board.registers[7] == 0


async def test_loops_are_read_as_numbers_beside_contacts(board: Board) -> None:
    ins = (
        Point("L1", "input-register", 5, number=True),
        Point("L2", "input-register", 6, number=True),
        Point("C", "discrete", 40),
    )
    board.loops |= {5: 611, 6: 4095}
    board.contacts[40] = True
    output, running = await drive(board, Point("A", "coil", 0), ins=ins)
    await board.until(lambda: output.sensed == {"L1": 611, "L2": 4095, "C": 1}, WITHIN_S)
    await end(running)


async def test_an_inverted_lamp_burns_while_its_coil_is_off(board: Board) -> None:
    output, running = await drive(board, Point("A", "coil", 0, invert=True, fail=True))
    await board.until(lambda: output.driven == {"A": 1}, WITHIN_S)
    assert not board.coils[0]
    output.show({"A": 0})
    await board.until(lambda: board.coils[0], WITHIN_S)
    await end(running)
    assert not board.coils[0]


async def test_an_address_the_board_does_not_have_is_a_loss_with_its_reason(board: Board) -> None:
    output, running = await drive(board, Point("A", "coil", 4000))
    await board.until(lambda: "refuses address 4000" in output.lost, WITHIN_S)
    assert not running.done()
    await end(running)
