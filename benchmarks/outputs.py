"""From a call, and from a command, to the coil and to the slot: `python -m benchmarks.outputs`.

The wired demo venue runs whole, on its own mosquitto; relay boards and a lighting receiver stand at the
end of its wires as processes of their own, and note when a coil or a slot changes (one monotonic
clock serves all processes). Then the outputs alone are told aspects, through a broker in memory.

The floors are in the same run and end at the same peers: a bare pymodbus write of one coil, a bare
send of a packet. Wall time, so what else the machine does counts.
"""

from __future__ import annotations

import asyncio
import json
import socket
import statistics
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID

from pymodbus.client import AsyncModbusTcpClient

from benchmarks.measure import say_where, show, verdict
from benchmarks.racing import accepted
from signals.caller import Caller
from signals.cli.broker import Embedded
from signals.cli.data import prepare
from signals.cli.links import links
from signals.cli.options import Address
from signals.cli.recipes import Wanted, recipes
from signals.mqtt.access import access_list
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import AspectCommand, Beat, NodeStatus
from signals.mqtt.link import Arrived, Credentials, Link, Owner, user_of
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.outputs.packet import PORT as E131_PORT
from signals.outputs.packet import data_packet
from signals.outputs.service import Outputs
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Aspect
from tests.outputs.bench import demo_wires, facts_of, write_venue
from tests.outputs.board import made_of

TIMES = 100
PAUSE_S = 0.06
"""Between two: everybody has done by then, as when persons call."""
SEEN_WITHIN_S = 3.0
HEARD_WITHIN_S = 3.0
TARGET = 1.5
MODBUS_HEAD, E131_HEAD = "h1", "h2"
"""Both have their red on the first point of their device."""
SLOT = 126
"""Where a packet's first slot stands."""
CID = UUID(int=7)


# --- peers, each a process


async def _be_a_board(facts: dict[str, Any]) -> None:
    """Be a board, and say when its first coil changes."""
    board = made_of(facts)
    await board.serve()
    print(json.dumps(board.port), flush=True)
    ended = asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    last = board.coils[0]
    while not ended.done():
        board.changed.clear()
        if board.coils[0] != last:
            last = board.coils[0]
            print(board.set_ns, int(last), flush=True)
        await asyncio.wait(
            {ended, asyncio.ensure_future(board.changed.wait())}, return_when="FIRST_COMPLETED"
        )
    await board.kill()


def _be_a_receiver() -> None:
    """Take packets of universe 1, and say when the first slot changes."""
    last = 0
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as listening:
        listening.bind(("127.0.0.1", 0))
        print(json.dumps(listening.getsockname()[1]), flush=True)
        while packet := listening.recv(1024):
            if packet[113:115] == b"\0\1" and packet[SLOT] != last:
                last = packet[SLOT]
                print(time.monotonic_ns(), int(last > 0), flush=True)


@dataclass
class Peer:
    """A peer's process, and what it saw last."""

    port: int
    seen: asyncio.Queue[tuple[int, int]] = field(default_factory=asyncio.Queue)

    async def until(self, level: int) -> int:
        """Give when it saw this level (ns); what it saw before counts too."""
        async with asyncio.timeout(SEEN_WITHIN_S):
            while True:
                at_ns, seen = await self.seen.get()
                if seen == level:
                    return at_ns


@asynccontextmanager
async def _peer(*words: str) -> AsyncIterator[Peer]:
    argv = (sys.executable, "-m", "benchmarks.outputs", *words)
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(*argv, stdin=pipe, stdout=pipe)
    assert process.stdout is not None
    peer = Peer(json.loads(await process.stdout.readline()))

    async def listen(lines: asyncio.StreamReader) -> None:
        async for line in lines:
            at_ns, level = line.split()
            peer.seen.put_nowait((int(at_ns), int(level)))

    listening = asyncio.create_task(listen(process.stdout))
    try:
        yield peer
    finally:
        process.kill()
        await process.wait()
        await listening


# --- what is measured

Waits = dict[str, list[float]]
Order = Callable[[int], Awaitable[None]]
"""Bring the reds to a level, 0 or 1."""


async def _many(peers: dict[str, Peer], order: Order) -> Waits:
    """Light the reds many times; how long it took until each peer saw it, in ms."""
    waits: Waits = {name: [] for name in peers}
    for _ in range(TIMES):
        began_ns = time.monotonic_ns()
        await order(1)
        for name, peer in peers.items():
            waits[name].append((await peer.until(1) - began_ns) / 1e6)
        await asyncio.sleep(PAUSE_S)
        await order(0)
        for peer in peers.values():
            await peer.until(0)
        await asyncio.sleep(PAUSE_S)
    return waits


async def _whole(file: Path, folder: Path, peers: dict[str, Peer]) -> Waits:
    """Call stop on the whole venue, and lift it again."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        broker = Address("127.0.0.1", probe.getsockname()[1])
    wanted = Wanted(
        venue=file, data=prepare(folder / "data"), broker=broker, embedded=Embedded.MOSQUITTO,
        headless=True, picture=None, film=None, incidents="0", seed=1, wired=True,
    )  # fmt: skip
    venue = load(file)
    async with Supervisor(recipes(wanted)):
        topics = Topics.of(venue.id, simulated=venue.simulated)
        caller = Caller(topics, "desk", links(broker.url, wanted.data), device="bench")
        running = asyncio.create_task(caller.run())
        await asyncio.sleep(HEARD_WITHIN_S)

        async def order(level: int) -> None:
            if level:
                await accepted(caller, "stop")
            else:
                await accepted(caller, "lift", hold="stop:desk", checked=True)
                await accepted(caller, "clear", checked=True)

        try:
            return await _many(peers, order)
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)


class _Commanding:
    """The outputs alone, on a broker in memory, and a controller of two words."""

    def __init__(self, venue: Venue) -> None:
        self._broker = MemoryBroker(access_list(venue))
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._nodes = {head.id: head.node for head in venue.heads}
        self._inc: dict[str, str] = {}
        self._seq = 0
        self.outputs = Outputs(venue, self._link)
        owner = Owner(on_message=self._take)
        self.link = self._link(
            "controller", subscriptions=((self._topics.name("node", "+", "status"), 1),), owner=owner
        )

    def _link(self, client: str, **given: Any) -> Link:
        given["credentials"] = Credentials(user_of(client), "")
        return self._broker.link(client, **given)

    def _take(self, arrived: Arrived) -> None:
        self._inc[self._topics.split(arrived.topic)[1]] = decode(NodeStatus, arrived.payload).inc

    async def beat(self) -> None:
        while True:
            self._say("beat", Beat(boot="desk", seq=self._next(), epoch=1, stop=False, test=False, at=0))
            await asyncio.sleep(0.1)

    async def order(self, level: int) -> None:
        for head in (MODBUS_HEAD, E131_HEAD):
            aspect = Aspect.RED if level else Aspect.DARK
            inc = self._inc[self._nodes[head]]
            order = AspectCommand(boot="desk", seq=self._next(), epoch=1, inc=inc, aspect=aspect)
            self._say(f"head/{head}/aspect", order)

    def _next(self) -> int:
        self._seq += 1
        return self._seq

    def _say(self, topic: str, message: Any) -> None:
        self.link.publish(self._topics.name(*topic.split("/")), encode(message))


async def _alone(venue: Venue, peers: dict[str, Peer]) -> Waits:
    commanding = _Commanding(venue)
    ready = asyncio.Event()
    tasks = [asyncio.create_task(commanding.outputs.run(ready.set))]
    tasks += [asyncio.create_task(commanding.link.run()), asyncio.create_task(commanding.beat())]
    await ready.wait()
    await asyncio.sleep(0.5)
    try:
        return await _many(peers, commanding.order)
    finally:
        for task in reversed(tasks):
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def _bare(board: Peer, receiver: Peer) -> Waits:
    client = AsyncModbusTcpClient("127.0.0.1", port=board.port, retries=0)
    await client.connect()

    async def write(level: int) -> None:
        await client.write_coils(0, [bool(level)], device_id=1)

    waits = await _many({"coil": board}, write)
    client.close()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sending:

        async def send(level: int) -> None:
            slots = bytes([255 * level])
            packet = data_packet(cid=CID, source="bare", universe=1, sequence=0, slots=slots)
            sending.sendto(packet, ("127.0.0.1", receiver.port))

        return waits | await _many({"slot": receiver}, send)


def _rows(name: str, waits: Waits, floors: Waits) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for what, took in waits.items():
        p50, p99 = _p50_p99(took)
        floor_p50, floor_p99 = _p50_p99(floors[what])
        ratios = (p50 / floor_p50, p99 / floor_p99)
        held = "" if waits is floors else verdict(max(ratios) <= TARGET)
        shown = [f"{value:.2f}" for value in (p50, p99, *ratios)]
        rows.append((f"{name} → {what}", *shown, held))
    return rows


def _p50_p99(took: list[float]) -> tuple[float, float]:
    return statistics.median(took), statistics.quantiles(took, n=100)[98]


async def _measure(folder: Path) -> list[tuple[str, ...]]:
    async with AsyncExitStack() as stack:
        wires = demo_wires()
        ports: dict[int | None, int] = {}
        boards = []
        for port in sorted({wire.port or 0 for wire in wires if wire.protocol == "modbus-tcp"}):
            facts = json.dumps(facts_of([wire for wire in wires if wire.port == port]))
            boards.append(await stack.enter_async_context(_peer("board", facts)))
            ports[port] = boards[-1].port
        receiver = await stack.enter_async_context(_peer("receiver"))
        ports[E131_PORT] = receiver.port
        file = write_venue(folder, wires, ports)
        peers = {"coil": boards[0], "slot": receiver}
        floors = await _bare(boards[0], receiver)
        rows = _rows("command", await _alone(load(file), peers), floors)
        try:
            rows += _rows("call, whole venue", await _whole(file, folder, peers), floors)
        except SystemExit as refused:
            print(f"the whole venue was not measured: {refused}")
    return [*rows, *_rows("floor: bare write, bare send", floors, floors)]


def main() -> None:
    """Run, light, and print."""
    say_where()
    with tempfile.TemporaryDirectory() as folder:
        rows = asyncio.run(_measure(Path(folder)))
    show(f"{TIMES} times each", ("ms", "p50", "p99", "÷ floor", "÷ its p99", f"≤ {TARGET}"), rows)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["board", facts]:
            asyncio.run(_be_a_board(json.loads(facts)))
        case ["receiver"]:
            _be_a_receiver()
        case _:
            main()
