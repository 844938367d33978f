"""Relay boards by Modbus TCP and RTU, over pymodbus.

Short timeouts and no retries: a late answer is worth less than the next write of the whole image.
On every connection the whole image is written first. Coils and holding registers are written in
runs of neighbouring addresses, so an address that is not ours is never touched; both are read back,
and that is *driven*. Sensors and contacts are discrete inputs, loops input registers.

The board's own watchdog must watch for WRITES: one that is content with reads would let a frozen
image stand.
"""

from __future__ import annotations

import asyncio
import logging
from abc import abstractmethod
from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar
from weakref import WeakValueDictionary

from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.client.base import ModbusBaseClient
from pymodbus.exceptions import ModbusException
from pymodbus.pdu import ModbusPDU

from signals.outputs.base import Output, Reading
from signals.outputs.line import Line, OutputLost, Point

REQUEST_S = 0.15
"""A board that does not answer within so long is lost; on a line of 9,600 bit/s a request takes 0.03."""
TCP_PORT = 502
BAUD = 9_600
RUN_MAX = 64
"""Points in one request; boards take at least so many."""

Request = Callable[..., Awaitable[ModbusPDU]]


@dataclass(frozen=True, slots=True)
class Run:
    """Points of one kind at neighbouring addresses: one request."""

    points: tuple[Point, ...]

    @property
    def kind(self) -> str:
        """What kind of point."""
        return self.points[0].kind

    @property
    def first(self) -> int:
        """The first address."""
        return self.points[0].address


logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL)  # `base` says what is lost, once


class _Modbus(Output):
    """What both kinds have in common."""

    def __init__(self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500) -> None:
        super().__init__(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        self._unit = 1 if line.unit is None else line.unit
        self._out_runs = tuple(_runs(line.outs))
        self._in_runs = tuple(_runs(line.ins))

    @property
    @abstractmethod
    def _client(self) -> ModbusBaseClient:
        """The connection, which is up while anything is asked of it."""

    async def _write(self, raw: Mapping[Point, int]) -> None:
        for run in self._out_runs:
            values = [raw[point] for point in run.points]
            if run.kind == "coil":
                await self._ask(self._client.write_coils, run.first, [bool(value) for value in values])
            else:
                await self._ask(self._client.write_registers, run.first, values)

    async def _read(self) -> Reading | None:
        driven, sensed = await self._levels(self._out_runs), await self._levels(self._in_runs)
        return None if driven is None or sensed is None else Reading(driven, sensed)

    async def _levels(self, runs: tuple[Run, ...]) -> dict[str, int] | None:
        """Read runs one by one; None as soon as a change is waiting to be written."""
        found: dict[str, int] = {}
        for run in runs:
            if self.hurried:
                return None
            answer = await self._ask(self._reader(run.kind), run.first, count=len(run.points))
            values = answer.registers if run.points[0].number else answer.bits
            read = zip(run.points, values, strict=False)  # bits come by the byte
            found |= {point.ref: point.level(int(value)) for point, value in read}
        return found

    def _reader(self, kind: str) -> Request:
        return {
            "coil": self._client.read_coils,
            "discrete": self._client.read_discrete_inputs,
            "holding": self._client.read_holding_registers,
            "input-register": self._client.read_input_registers,
        }[kind]

    async def _ask(self, request: Request, address: int, *also: Any, **more: Any) -> ModbusPDU:
        try:
            answer = await request(address, *also, device_id=self._unit, **more)
        except ModbusException as reason:
            raise OutputLost(_first_line(reason)) from reason
        if answer.isError():
            raise OutputLost(f"unit {self._unit} refuses address {address}: {answer}")
        return answer


class ModbusTcp(_Modbus):
    """A board behind an address of its own; `unit` tells those behind one gateway apart."""

    def __init__(self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500) -> None:
        super().__init__(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        self._tcp: AsyncModbusTcpClient | None = None

    @property
    def _client(self) -> ModbusBaseClient:
        if self._tcp is None or not self._tcp.connected:
            raise OutputLost("the connection is gone")
        return self._tcp

    async def _open(self) -> None:
        if self._tcp is not None and self._tcp.connected:
            return
        self._tcp = AsyncModbusTcpClient(
            self.line.host,
            port=self.line.port or TCP_PORT,
            timeout=REQUEST_S,
            retries=0,
            reconnect_delay=0,
        )
        if not await self._tcp.connect():
            raise OutputLost("no connection")

    async def _close(self, *, final: bool) -> None:
        del final
        if self._tcp is not None:
            self._tcp.close()
            self._tcp = None


class _Bus:
    """One serial line, shared by the boards on it; a silent board does not close it for the others."""

    open_now: ClassVar[WeakValueDictionary[tuple[str, int], _Bus]] = WeakValueDictionary()

    def __init__(self, device: str, baud: int) -> None:
        self.client = AsyncModbusSerialClient(
            device, baudrate=baud, timeout=REQUEST_S, retries=0, reconnect_delay=0
        )
        self._opening = asyncio.Lock()
        self._users: set[int] = set()

    @classmethod
    def on(cls, device: str, baud: int) -> _Bus:
        """Give the line of a device, the same to everybody."""
        bus = cls.open_now.get((device, baud))
        if bus is None:
            bus = cls.open_now[device, baud] = cls(device, baud)
        return bus

    async def join(self, user: object) -> None:
        self._users.add(id(user))
        async with self._opening:
            if not self.client.connected and not await self.client.connect():
                raise OutputLost("the serial port cannot be opened")

    def leave(self, user: object) -> None:
        self._users.discard(id(user))
        if not self._users:
            self.client.close()


class ModbusRtu(_Modbus):
    """A board on a serial line: `host` is the serial port, `port` bits a second, 8 bits, no parity."""

    def __init__(self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500) -> None:
        super().__init__(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        self._bus: _Bus | None = None

    @property
    def _client(self) -> ModbusBaseClient:
        if self._bus is None or not self._bus.client.connected:
            raise OutputLost("the serial port is gone")
        return self._bus.client

    async def _open(self) -> None:
        self._bus = self._bus or _Bus.on(self.line.host, self.line.port or BAUD)
        await self._bus.join(self)

    async def _close(self, *, final: bool) -> None:
        del final
        if self._bus is not None:
            self._bus.leave(self)
            self._bus = None


def _runs(points: Iterable[Point]) -> Iterator[Run]:
    """Give the runs of neighbouring addresses."""
    run: list[Point] = []
    for point in sorted(points, key=lambda point: (point.kind, point.address)):
        last = run[-1] if run else None
        if last and (point.kind, point.address) == (last.kind, last.address + 1) and len(run) < RUN_MAX:
            run.append(point)
        else:
            if run:
                yield Run(tuple(run))
            run = [point]
    if run:
        yield Run(tuple(run))


def _first_line(reason: ModbusException) -> str:
    return str(reason).partition("\n")[0].removeprefix("Modbus Error: ")
