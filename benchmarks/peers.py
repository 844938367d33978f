"""What `benchmarks.outputs` sends to: a relay board, a lighting receiver, and a bare controller and node.

Each is a process; all note times by one monotonic clock, which serves every process of the machine.
"""

from __future__ import annotations

import asyncio
import json
import socket
import sys
import time
from collections import defaultdict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self
from uuid import UUID

import sacn
from pymodbus.client import AsyncModbusTcpClient, ModbusTcpClient

from benchmarks.bare import Bare
from benchmarks.measure import parser
from benchmarks.script import be_a_controller, listening, where
from signals.outputs.packet import data_packet
from tests.outputs.board import Board, made_of

OWN, BARE = "own", "bare"
BARE_COIL = 40
COILS = {0: OWN, BARE_COIL: BARE}
"""The first is a lamp of the table, the second nobody's."""
RUN = 10
"""A bare write is of as many coils as the whole image of that board."""
WRITERS, NODES = 99, 98
UNIVERSES = {1: OWN, WRITERS: BARE, NODES: BARE}
"""A source counts its packets, so each has a universe."""
SEEN_WITHIN_S = 3.0
CID = UUID(int=7)


@dataclass
class Peer:
    """A peer's process, and what it saw last: own or bare, on or off, and when (ns)."""

    port: int
    seen: dict[str, asyncio.Queue[tuple[int, int]]] = field(
        default_factory=lambda: defaultdict(asyncio.Queue)
    )

    def forget(self) -> None:
        """Forget what it saw: a call reaches every peer, and one is looked at."""
        self.seen.clear()

    async def until(self, whose: str, level: int) -> int:
        """Give when it saw this level (ns), if not seen before."""
        async with asyncio.timeout(SEEN_WITHIN_S):
            while True:
                at_ns, seen = await self.seen[whose].get()
                if seen == level:
                    return at_ns


@asynccontextmanager
async def peer(*words: str) -> AsyncIterator[Peer]:
    """Run a peer as a process; it says its port first, then what it sees."""
    argv = (sys.executable, "-m", "benchmarks.peers", *words)
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(*argv, stdin=pipe, stdout=pipe)
    assert process.stdout is not None
    made = Peer(json.loads(await process.stdout.readline()))

    async def listen(lines: asyncio.StreamReader) -> None:
        async for line in lines:
            whose, at_ns, level = line.decode().split()
            made.seen[whose].put_nowait((int(at_ns), int(level)))

    listening = asyncio.create_task(listen(process.stdout))
    try:
        yield made
    finally:
        process.kill()
        await process.wait()
        await listening


class _Watched(Board):
    """A board that says when one of two coils changes."""

    def _set(self, coils: dict[int, bool]) -> None:
        now_ns, before = time.monotonic_ns(), self.coils
        super()._set(coils)
        for coil, whose in COILS.items():
            if coils[coil] != before[coil]:
                print(whose, now_ns, int(coils[coil]), flush=True)


async def _be_a_board(facts: dict[str, Any]) -> None:
    board = made_of(facts, _Watched)
    await board.serve()
    print(board.port, flush=True)
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    await board.kill()


def _be_a_receiver() -> None:
    """Say when the first slot of one of two universes changes, as an E1.31 library hands it over."""
    last = dict.fromkeys(UNIVERSES, 0)

    def take(packet: sacn.DataPacket) -> None:
        now_ns, level = time.monotonic_ns(), int(packet.dmxData[0] > 0)
        if last[packet.universe] != level:
            last[packet.universe] = level
            print(UNIVERSES[packet.universe], now_ns, level, flush=True)

    port = free_port(socket.SOCK_DGRAM)
    receiver = sacn.sACNreceiver(bind_address="127.0.0.1", bind_port=port)
    for universe in UNIVERSES:
        receiver.register_listener("universe", take, universe=universe)
    receiver.start()
    print(port, flush=True)
    sys.stdin.read()
    receiver.stop()


def free_port(kind: socket.SocketKind = socket.SOCK_STREAM) -> int:
    """Find a port that nobody has."""
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Writer:
    """The bare writes that are the floors: one coil, one packet."""

    def __init__(self, board: int, receiver: int) -> None:
        self._board = AsyncModbusTcpClient("127.0.0.1", port=board, retries=0)
        self._receiver = ("127.0.0.1", receiver)
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._sequence = 0

    async def __aenter__(self) -> Self:
        await self._board.connect()
        return self

    async def __aexit__(self, *_: object) -> None:
        self._board.close()
        self._socket.close()

    async def coil(self, level: int) -> None:
        """Write the bare coil and its neighbours."""
        await self._board.write_coils(BARE_COIL, [bool(level)] * RUN, device_id=1)

    async def slot(self, level: int) -> None:
        """Send the bare universe."""
        self._sequence += 1
        self._socket.sendto(_packet(WRITERS, level, self._sequence), self._receiver)


def _packet(universe: int, level: int, sequence: int) -> bytes:
    slots = bytes([255 * level])
    return data_packet(cid=CID, source="bare", universe=universe, sequence=sequence, slots=slots)


def _be_a_node(beats: Bare, board: int, receiver: int) -> None:
    """Be a node that writes as soon as a beat says stop, or says it no more."""
    coils = ModbusTcpClient("127.0.0.1", port=board, retries=0)
    coils.connect()  # type: ignore[no-untyped-call]
    slots, sequence, level = socket.socket(socket.AF_INET, socket.SOCK_DGRAM), 0, 0
    print(0, flush=True)
    while True:
        for beat in beats.receive():
            stop = int(b'"stop":true' in beat.payload)
            if stop != level:
                level, sequence = stop, sequence + 1
                slots.sendto(_packet(NODES, level, sequence), ("127.0.0.1", receiver))
                coils.write_coils(BARE_COIL, [bool(level)] * RUN, device_id=1)


def main(words: list[str]) -> None:
    """Be one of them."""
    match words:
        case ["board", facts]:
            asyncio.run(_be_a_board(json.loads(facts)))
        case ["receiver"]:
            _be_a_receiver()
        case ["controller", venue, url, data, script]:
            be_a_controller(where(venue, url, data), Path(script))
        case ["node", venue, url, data, board, receiver]:
            _be_a_node(listening(where(venue, url, data)), int(board), int(receiver))


if __name__ == "__main__":
    asked = parser(__doc__)
    asked.add_argument("words", nargs="+", metavar="PEER", help="board, receiver, controller or node")
    main(asked.parse_args().words)
