"""Each backend with a peer that is not ours: what it drives is told by the peer, not by the backend."""

from __future__ import annotations

import asyncio
import errno
import os
import pty
import socket
import tty
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from gpiozero.pins.mock import MockFactory
from sacn.messages.data_packet import DataPacket
from sacn.receiving.receiver_handler import ReceiverHandler, ReceiverHandlerListener
from sacn.receiving.receiver_socket_base import ReceiverSocketBase

from signals.outputs.base import Output
from signals.outputs.e131 import E131
from signals.outputs.gpio import Gpio
from signals.outputs.line import Line, Point
from signals.outputs.modbus import ModbusRtu, ModbusTcp
from signals.outputs.virtual import Virtual
from tests.outputs.board import Board

WITHIN_S = 8.0
WATCHDOG_MS = 1000
LEASE_MS = 60_000
"""Long, where the lease is not the point."""
LOOK_S = 0.1
FAIL_SLOTS = tuple(255 * (slot == 11) for slot in range(512))
"""What a receiver is set to show when data is lost: YEL."""


class Rig(ABC):
    """One output with lamps RED (fails off) and YEL (fails on), and how its peer is looked at and broken."""

    kind: str
    breaks: tuple[str, ...]
    has_sensors = False
    watchdog_ms = 0
    inverted = False

    def __init__(self) -> None:
        self.output: Output
        self.changed = asyncio.Event()
        self.running: asyncio.Task[None] | None = None

    async def start(self, *, lease_ms: int = LEASE_MS, refresh_ms: int = 250) -> Rig:
        await self.plug_in()
        self.output = self.make(refresh_ms=refresh_ms, lease_ms=lease_ms)
        self.running = asyncio.create_task(self.output.run(self.changed.set))
        return self

    async def stop(self) -> None:
        if self.running is not None:
            self.running.cancel()
            await asyncio.gather(self.running, return_exceptions=True)

    @abstractmethod
    async def plug_in(self) -> None: ...

    @abstractmethod
    async def unplug(self) -> None: ...

    @abstractmethod
    def make(self, *, refresh_ms: int, lease_ms: int) -> Output: ...

    @abstractmethod
    def lamps(self) -> dict[str, int]:
        """What the peer says its lamps are."""

    @abstractmethod
    def writes(self) -> int:
        """How many whole images the peer was given."""

    @abstractmethod
    async def break_(self, how: str) -> None: ...

    @abstractmethod
    async def mend(self, how: str) -> None: ...

    async def shows(self, **lamps: int) -> None:
        await self.until(lambda: self.lamps() == lamps)

    async def until(self, holds: Callable[[], bool]) -> None:
        async with asyncio.timeout(WITHIN_S):
            while not holds():
                self.changed.clear()
                await self.changed.wait()

    def line(self, **more: Any) -> Line:
        return Line(protocol=self.kind, watchdog_ms=self.watchdog_ms, **more)


def lamp_points(
    kind: str, first: int = 0, *, feedback: bool = False, invert: bool = False
) -> tuple[Point, ...]:
    return (
        Point("RED", kind, first, feedback="RED-S" if feedback else None),
        Point("YEL", kind, first + 1, fail=True, invert=invert, feedback="YEL-S" if feedback else None),
    )


def sensor_points(kind: str) -> tuple[Point, ...]:
    return (Point("RED-S", kind, 0), Point("YEL-S", kind, 1))


class VirtualRig(Rig):
    kind = "virtual"
    breaks = ("unreachable",)
    has_sensors = True

    async def plug_in(self) -> None: ...

    async def unplug(self) -> None: ...

    def make(self, *, refresh_ms: int, lease_ms: int) -> Output:
        outs, ins = lamp_points("lamp", feedback=True), sensor_points("contact")
        self.device = Virtual(self.line(outs=outs, ins=ins), refresh_ms=refresh_ms, lease_ms=lease_ms)
        write = self.device._write

        async def told(raw: Mapping[Point, int]) -> None:
            await write(raw)
            self.changed.set()

        self.device._write = told  # type: ignore[method-assign]
        return self.device

    def lamps(self) -> dict[str, int]:
        return self.device.lit

    def writes(self) -> int:
        return self.device.writes

    async def break_(self, how: str) -> None:
        self.device.unreachable = how

    async def mend(self, how: str) -> None:
        del how
        self.device.unreachable = ""


class TcpRig(Rig):
    kind = "modbus-tcp"
    breaks = ("killed", "cut", "frozen")
    has_sensors = True
    watchdog_ms = WATCHDOG_MS

    async def plug_in(self) -> None:
        self.board = Board(watchdog_s=WATCHDOG_MS / 1000, fail=frozenset({1}))
        self.board.changed = self.changed
        await self.serve()

    async def serve(self) -> None:
        await self.board.serve()

    async def unplug(self) -> None:
        self.board.frozen = False
        await self.board.kill()

    def make(self, *, refresh_ms: int, lease_ms: int) -> Output:
        outs, ins = lamp_points("coil", feedback=True), sensor_points("discrete")
        line = self.line(host="127.0.0.1", port=self.board.port, unit=1, outs=outs, ins=ins)
        return ModbusTcp(line, refresh_ms=refresh_ms, lease_ms=lease_ms)

    def lamps(self) -> dict[str, int]:
        return {"RED": int(self.board.coils[0]), "YEL": int(self.board.coils[1])}

    def writes(self) -> int:
        whole = [values for _, address, values in self.board.writes if (address, len(values)) == (0, 2)]
        assert len(whole) == len(self.board.writes)
        return len(whole)

    async def break_(self, how: str) -> None:
        if how == "killed":
            await self.board.kill()
        elif how == "cut":
            await self.board.cut()
        else:
            self.board.frozen = True

    async def mend(self, how: str) -> None:
        self.board.frozen = False
        if how != "frozen":
            await self.serve()


class RtuRig(TcpRig):
    """Two ptys, joined: ours is named by a link, so that it can be pulled out and put back."""

    kind = "modbus-rtu"
    breaks = ("unplugged", "closed", "frozen")

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self.port = folder / "serial"
        self._masters: list[int] = []
        self._slaves: list[int] = []

    async def serve(self) -> None:
        ours, theirs = self._pair(), self._pair()
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(ours[1]))
        self._join(ours[0], theirs[0])
        self._join(theirs[0], ours[0])
        await self.board.serve_serial(os.ttyname(theirs[1]))

    def make(self, *, refresh_ms: int, lease_ms: int) -> Output:
        outs, ins = lamp_points("coil", feedback=True), sensor_points("discrete")
        line = self.line(host=str(self.port), port=9600, unit=1, outs=outs, ins=ins)
        return ModbusRtu(line, refresh_ms=refresh_ms, lease_ms=lease_ms)

    async def break_(self, how: str) -> None:
        if how == "frozen":
            self.board.frozen = True
            return
        await (self.board.kill() if how == "unplugged" else self.board.cut())
        self._pull()

    async def unplug(self) -> None:
        await super().unplug()
        self._pull()

    def _pair(self) -> tuple[int, int]:
        master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self._masters.append(master)
        self._slaves.append(slave)
        return master, slave

    def _join(self, one: int, other: int) -> None:
        asyncio.get_running_loop().add_reader(one, lambda: os.write(other, os.read(one, 4096)))

    def _pull(self) -> None:
        for master in self._masters:
            asyncio.get_running_loop().remove_reader(master)
        for end in (*self._masters, *self._slaves):
            os.close(end)
        self._masters, self._slaves = [], []


class Receiver(ReceiverHandlerListener, asyncio.DatagramProtocol):
    """The `sacn` library's receiver, fed by a socket and the clock of our loop; it keeps every packet.

    It is set as a lamp's receiver is: when the library says that data is lost, it shows `on_loss`.
    """

    def __init__(self, changed: asyncio.Event, on_loss: tuple[int, ...]) -> None:
        self.packets: list[tuple[float, DataPacket]] = []
        self.slots: tuple[int, ...] = ()
        self.said: list[str] = []
        self._changed = changed
        self._on_loss = on_loss
        self._handler = ReceiverHandler("", 0, self, ReceiverSocketBase(self))
        self._look()

    def _look(self) -> None:
        loop = asyncio.get_running_loop()
        self._handler.on_periodic_callback(loop.time())
        self._timer = loop.call_later(LOOK_S, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        del exc
        self._timer.cancel()

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        del addr
        now_s = asyncio.get_running_loop().time()
        self.packets.append((now_s, DataPacket.make_data_packet(data)))
        self._handler.on_data(data, now_s)
        self._changed.set()

    def on_availability_change(self, universe: int, changed: str) -> None:
        self.said.append(changed)
        if changed == "timeout":
            self.slots = self._on_loss
            self._handler._previousData.pop(universe, None)  # or what comes back unchanged is not told
            self._changed.set()

    def on_dmx_data_change(self, packet: DataPacket) -> None:
        self.slots = packet.dmxData


class Stubborn(socket.socket):
    """A socket that can be told to find no network."""

    unreachable = False

    def sendto(self, *given: Any) -> int:
        if self.unreachable:
            raise OSError(errno.ENETUNREACH, os.strerror(errno.ENETUNREACH))
        return super().sendto(*given)


class E131Rig(Rig):
    kind = "e131"
    breaks = ("unreachable",)
    watchdog_ms = 2500

    async def plug_in(self) -> None:
        loop = asyncio.get_running_loop()
        self.transport, self.receiver = await loop.create_datagram_endpoint(
            lambda: Receiver(self.changed, FAIL_SLOTS), local_addr=("127.0.0.1", 0)
        )

    async def unplug(self) -> None:
        self.transport.close()

    def make(self, *, refresh_ms: int, lease_ms: int) -> Output:
        port = self.transport.get_extra_info("sockname")[1]
        line = self.line(host="127.0.0.1", port=port, unit=7, outs=lamp_points("slot", 10))
        output = E131(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        output._make_socket = lambda: Stubborn(socket.AF_INET, socket.SOCK_DGRAM)  # type: ignore[method-assign]
        return output

    def lamps(self) -> dict[str, int]:
        slots = self.receiver.slots
        return {"RED": slots[10] // 255, "YEL": slots[11] // 255} if slots else {}

    def writes(self) -> int:
        return len(self.receiver.packets)

    async def break_(self, how: str) -> None:
        del how
        Stubborn.unreachable = True

    async def mend(self, how: str) -> None:
        del how
        Stubborn.unreachable = False


class GpioRig(Rig):
    """gpiozero's mock pins: they keep their states with times, and know whether they are inputs."""

    kind = "gpio"
    breaks = ("taken",)
    has_sensors = False
    inverted = True

    async def plug_in(self) -> None:
        self.factory = MockFactory()

    async def unplug(self) -> None:
        self.factory.reset()

    def make(self, *, refresh_ms: int, lease_ms: int) -> Output:
        outs = lamp_points("pin", 17, invert=True)
        output = Gpio(
            self.line(host="mock", outs=outs), refresh_ms=refresh_ms, lease_ms=lease_ms, driver=self.factory
        )
        self.count = 0
        write = output._write

        async def told(raw: Mapping[Point, int]) -> None:
            await write(raw)
            self.count += 1
            self.changed.set()

        output._write = told  # type: ignore[method-assign]
        return output

    def lamps(self) -> dict[str, int]:
        """The relay at 18 opens its contact when energised: its lamp burns without."""
        return {"RED": int(self._energised(17)), "YEL": int(not self._energised(18))}

    def _energised(self, number: int) -> bool:
        pin = self.factory.pin(number)
        return bool(pin.function == "output" and pin.state)

    def writes(self) -> int:
        return self.count

    async def break_(self, how: str) -> None:
        """Somebody else makes the pin an input: writing to it fails."""
        del how
        self.factory.pin(17).function = "input"

    async def mend(self, how: str) -> None: ...
