"""A relay board that is not ours: a pymodbus server with coils, sensors, contacts and a write watchdog.

In a test it is a `Board` on the test's loop; as a process (`python -m tests.outputs.board PORT`) it stands
beside a whole venue. Coil n feeds the sensor at discrete input n unless wired otherwise.
"""

from __future__ import annotations

import asyncio
import json
import logging
import sys
from collections.abc import Callable
from typing import Any

from pymodbus.constants import ExcCodes
from pymodbus.framer import FramerType
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL)  # boards are killed here on purpose

POINTS = 64
WRITES = (5, 6, 15, 16)
READ_COILS, READ_INPUTS, READ_LOOPS = 1, 2, 4


class Board:
    """Coils 0 to 63, holding registers 0 to 63, discrete inputs 0 to 63, input registers 0 to 63.

    Attributes:
        coils: the relays. A watchdog that runs out sets them to `fail`.
        crossed, dead: coils that light another's lamp, coils without light.
        sensors: the discrete input that senses a coil's light; its own number unless wired otherwise.
        contacts: discrete inputs that are no sensor.
        loops: what the input registers read.
        frozen: answers nothing and hears nothing.

    """

    def __init__(self, *, watchdog_s: float = 0.0, fail: frozenset[int] = frozenset()) -> None:
        self.coils = dict.fromkeys(range(POINTS), False)
        self.registers = dict.fromkeys(range(POINTS), 0)
        self.contacts: dict[int, bool] = {}
        self.loops = dict.fromkeys(range(POINTS), 0)
        self.crossed: dict[int, int] = {}
        self.dead: set[int] = set()
        self.sensors = {coil: coil for coil in range(POINTS)}
        self.frozen = False
        self.writes: list[tuple[float, int, list[int]]] = []
        self.port = 0
        self.changed = asyncio.Event()
        self._watchdog_s = watchdog_s
        self._fail = fail
        self._timer: asyncio.TimerHandle | None = None
        self._server: ModbusTcpServer | ModbusSerialServer | None = None

    async def serve(self, port: int = 0) -> None:
        """Listen on loopback."""
        self._server = ModbusTcpServer(self._device(), address=("127.0.0.1", port or self.port))
        await self._server.serve_forever(background=True)
        self.port = self._server.transport.sockets[0].getsockname()[1]

    async def serve_serial(self, tty: str, baud: int = 9600) -> None:
        """Answer on a serial line."""
        self._server = ModbusSerialServer(self._device(), framer=FramerType.RTU, port=tty, baudrate=baud)
        await self._server.serve_forever(background=True)

    async def cut(self) -> None:
        """Lose the line and keep the current: every connection ends, the relays wait for the watchdog."""
        if self._server is not None:
            await self._server.shutdown()
            self._server = None

    async def kill(self) -> None:
        """Go as a board without current goes: every relay falls, every connection ends."""
        await self.cut()
        if self._timer is not None:
            self._timer.cancel()
        self._set(dict.fromkeys(range(POINTS), False))

    def lit(self, coil: int) -> bool:
        """Whether there is light behind a coil."""
        drivers = {self.crossed.get(own, own): own for own in self.coils}
        return coil not in self.dead and self.coils[drivers[coil]]

    async def until(self, holds: Callable[[], bool], within_s: float = 5.0) -> None:
        """Wait until something holds, looking at every change."""
        async with asyncio.timeout(within_s):
            while not holds():
                self.changed.clear()
                await self.changed.wait()

    def _device(self) -> SimDevice:
        bits = [SimData(0, values=[False] * POINTS, datatype=DataType.BITS)]
        inputs = [SimData(0, values=[False] * POINTS, datatype=DataType.BITS)]
        words = [SimData(0, values=[0] * POINTS, datatype=DataType.REGISTERS)]
        loops = [SimData(0, values=[0] * POINTS, datatype=DataType.REGISTERS)]
        return SimDevice(1, simdata=(bits, inputs, words, loops), action=self._asked)

    async def _asked(
        self, code: int, first: int, address: int, count: int, registers: list[int], values: Any
    ) -> ExcCodes | None:
        while self.frozen:  # noqa: ASYNC110 - nothing is to be waited for: it is frozen
            await asyncio.sleep(0.01)
        if code in WRITES:
            self._write(code, address, list(values))
        elif code == READ_LOOPS:
            registers[address - first : address - first + count] = [
                self.loops[address + offset] for offset in range(count)
            ]
        elif code in (READ_COILS, READ_INPUTS):
            known = self.coils if code == READ_COILS else self._inputs()
            for word in range(len(registers)):
                bits = (known.get(16 * word + bit, False) << bit for bit in range(16))
                registers[word] = sum(bits)
        return None

    def _inputs(self) -> dict[int, bool]:
        return {sensor: self.lit(coil) for coil, sensor in self.sensors.items()} | self.contacts

    def _write(self, code: int, address: int, values: list[int]) -> None:
        now_s = asyncio.get_running_loop().time()
        self.writes.append((now_s, address, values))
        told = {address + offset: value for offset, value in enumerate(values)}
        if code in (6, 16):
            self.registers |= told
            self.changed.set()
        else:
            self._set(self.coils | {at: bool(value) for at, value in told.items()})
        if self._timer is not None:
            self._timer.cancel()
        if self._watchdog_s:
            self._timer = asyncio.get_running_loop().call_later(self._watchdog_s, self._bark)

    def _bark(self) -> None:
        self._set({coil: coil in self._fail for coil in self.coils})

    def _set(self, coils: dict[int, bool]) -> None:
        self.coils = coils
        self.changed.set()


def made_of(facts: dict[str, Any], kind: type[Board] = Board) -> Board:
    """Make a board that knows its wires (see `bench.facts_of`)."""
    board = kind(watchdog_s=3.0, fail=frozenset(facts["fail"]))
    board.sensors = {int(coil): at for coil, at in facts["sensors"].items()}
    board.contacts = dict.fromkeys(facts["closed"], True)
    board.loops |= {int(at): reads for at, reads in facts["loops"].items()}
    return board


async def stand(facts: dict[str, Any]) -> None:
    """Be a board until stdin closes; then tell every coil that was written, as JSON."""
    board = made_of(facts)
    await board.serve()
    print(json.dumps({"port": board.port}), flush=True)
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    told = sorted({coil for _, first, values in board.writes for coil in range(first, first + len(values))})
    print(json.dumps({"writes": len(board.writes), "coils": told, "left": board.coils}), flush=True)
    await board.kill()


if __name__ == "__main__":
    asyncio.run(stand(json.loads(sys.argv[1])))
