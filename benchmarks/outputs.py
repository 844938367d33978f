"""From a call, and from a command, to the coil and to the slot: `python -m benchmarks.outputs`.

1. The outputs alone: an aspect is handed to a head's node, and its red is on the device. The floor is a bare
   write to the same device, in turn with it: pymodbus's client, and a packet on a bare socket.
2. A call of stop through the whole venue on its own mosquitto, as far as the same devices, in turn with a
   bare write. No write alone is a floor of that: a call must reach a controller, and a beat the nodes. So
   then controller and outputs are taken out of the same venue, and bare clients (`benchmarks.script`) do
   their work: the same person's call, the same broker, the same messages to the same listeners in the
   same order, and a bare write as soon as a beat says stop. They decide nothing, keep no record and read
   nothing back.

Relay board and lighting receiver are processes, and note when a coil or slot changes. Orders come one at
a time, with a pause between them as when persons call, and then again one upon the other: after a
pause a machine is cold, and most of what is measured is its waking up. Wall time, so what else the
machine does counts: the bare write of each half tells whether both met the same machine.
"""

from __future__ import annotations

import asyncio
import json
import statistics
import tempfile
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchmarks.measure import p99, parser, say_where, show, verdict
from benchmarks.peers import BARE, OWN, Peer, Writer, peer
from benchmarks.racing import accepted
from benchmarks.script import record
from benchmarks.whole import wanted
from signals.caller import Caller
from signals.cli.data import prepare
from signals.cli.links import links
from signals.cli.options import Address
from signals.cli.recipes import recipes
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import AspectCommand, Beat, NodeStatus
from signals.mqtt.link import Arrived, Link
from signals.mqtt.topics import Topics
from signals.outputs.packet import PORT as E131_PORT
from signals.outputs.service import Outputs
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Aspect, Word
from tests.outputs.bench import demo_wires, facts_of, write_venue

TIMES = 200
CALLS = 100
PAUSE_S = 0.06
"""Between two: everybody has done by then, as when persons call."""
HEARD_WITHIN_S = 3.0
TARGET = 1.5
HEADS = {"coil": "h1", "slot": "h2"}
"""Both have their red on the first point of their device."""

Waits = dict[str, list[float]]
Order = Callable[[str, int], Awaitable[None]]
"""Bring the red on `coil` or `slot` to a level, 0 or 1; what can be made before is made when called."""


@dataclass
class Bench:
    """The venue with its devices standing, and who writes to them barely."""

    venue: Path
    peers: dict[str, Peer]
    writer: Writer

    async def bare(self, what: str, level: int) -> None:
        """Write barely."""
        await (self.writer.coil if what == "coil" else self.writer.slot)(level)


@dataclass
class Told:
    """What took how long (ms), by name and by what was to be reached."""

    waits: dict[str, Waits] = field(default_factory=dict)

    def add(self, name: str, what: str, began_ns: int, ended_ns: int) -> None:
        """Note one."""
        self.waits.setdefault(name, {}).setdefault(what, []).append((ended_ns - began_ns) / 1e6)


async def _in_turn(bench: Bench, orders: Mapping[str, tuple[str, Order]], times: int, pause_s: float) -> Told:
    """Give orders by turns, on and off; how long each took until its device had it on."""
    told = Told()
    for _ in range(times):
        for what in HEADS:
            for name, (whose, order) in orders.items():
                for level in (1, 0):
                    bench.peers[what].forget()
                    ordering = order(what, level)
                    began_ns = time.monotonic_ns()
                    await ordering
                    ended_ns = await bench.peers[what].until(whose, level)
                    if level:
                        told.add(name, what, began_ns, ended_ns)
                    await asyncio.sleep(pause_s)
    return told


# --- the outputs alone


class _Handed(Link):
    """A link that nobody carries: what is to be heard is handed to its owner."""

    async def run(self) -> None:
        self.up = True
        self.owner.on_up()
        await asyncio.Event().wait()

    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        del qos, retain
        if topic.endswith("/status"):
            self.inc = decode(NodeStatus, payload).inc
        return True


class _Alone:
    """The outputs, told by hand what a controller would say."""

    def __init__(self, venue: Venue) -> None:
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._nodes = {head.id: f"node-{head.node}" for head in venue.heads}
        self._links: dict[str, _Handed] = {}
        self._seq = 0
        self.outputs = Outputs(venue, self._link)

    def _link(self, client: str, **given: Any) -> Link:
        self._links[client] = _Handed(client, **given)
        return self._links[client]

    async def beat(self) -> None:
        while True:
            self._seq += 1
            beat = encode(Beat(boot="desk", seq=self._seq, epoch=1, stop=False, test=False, at=0))
            for link in self._links.values():
                link.owner.on_message(Arrived(self._topics.name("beat"), beat))
            await asyncio.sleep(0.1)

    def order(self, what: str, level: int) -> Awaitable[None]:
        """Write a red, or a dark, as a controller does; awaited it is handed over."""
        self._seq += 1
        link = self._links[self._nodes[HEADS[what]]]
        aspect = Aspect.RED if level else Aspect.DARK
        order = AspectCommand(boot="desk", seq=self._seq, epoch=1, inc=link.inc, aspect=aspect)
        return self._hand(link, Arrived(self._topics.name("head", HEADS[what], "aspect"), encode(order)))

    async def _hand(self, link: Link, arrived: Arrived) -> None:
        link.owner.on_message(arrived)


async def _alone(bench: Bench, pause_s: float) -> Told:
    alone = _Alone(load(bench.venue))
    ready = asyncio.Event()
    tasks = [asyncio.create_task(alone.outputs.run(ready.set)), asyncio.create_task(alone.beat())]
    await ready.wait()
    await asyncio.sleep(0.5)
    orders = {"aspect": (OWN, alone.order), "bare": (BARE, bench.bare)}
    try:
        return await _in_turn(bench, orders, TIMES, pause_s)
    finally:
        for task in reversed(tasks):
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


# --- the whole venue


@dataclass
class _Running:
    """The whole venue, who calls in it, and where its broker is."""

    venue: Venue
    data: Path
    broker: Address
    supervisor: Supervisor
    caller: Caller

    async def call(self, _: str, level: int) -> None:
        """Call a stop, or end it."""
        if level:
            await accepted(self.caller, Word.STOP)
        else:
            await accepted(self.caller, Word.LIFT, hold="stop:desk", checked=True)
            await accepted(self.caller, Word.CLEAR, checked=True)


@asynccontextmanager
async def _venue(file: Path, folder: Path) -> AsyncIterator[_Running]:
    """Run the whole venue, and give who calls."""
    asked = wanted(file, prepare(folder / "data"), wired=True)
    venue = load(file)
    async with Supervisor(recipes(asked)) as supervisor:
        topics = Topics.of(venue.id, simulated=venue.simulated)
        caller = Caller(topics, "desk", links(asked.broker.url, asked.data), device="bench")
        running = asyncio.create_task(caller.run())
        await asyncio.sleep(HEARD_WITHIN_S)
        try:
            yield _Running(venue, asked.data, asked.broker, supervisor, caller)
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)


@asynccontextmanager
async def _barely(running: _Running, bench: Bench, script: Path) -> AsyncIterator[None]:
    """Let bare clients do what controller and outputs did; the monitor misses the heads, unheeded."""
    await running.supervisor.kill("outputs")
    await running.supervisor.kill("controller")
    where = (str(bench.venue), running.broker.url, str(running.data))
    ports = (str(bench.peers[what].port) for what in HEADS)
    async with peer("controller", *where, str(script)), peer("node", *where, *ports):
        await asyncio.sleep(HEARD_WITHIN_S)
        yield


async def _whole(bench: Bench, folder: Path) -> tuple[Told, Told]:
    """Give how long calls took through the venue, and through bare clients in it."""
    async with _venue(bench.venue, folder) as running:
        script = folder / "script.json"
        script.write_bytes(await record(running.venue, running.broker, running.data, running.call))
        ours = await _in_turn(bench, _calls(OWN, running, bench), CALLS, PAUSE_S)
        async with _barely(running, bench, script):
            floor = await _in_turn(bench, _calls(BARE, running, bench), CALLS, PAUSE_S)
    return ours, floor


def _calls(whose: str, running: _Running, bench: Bench) -> dict[str, tuple[str, Order]]:
    return {"call": (whose, running.call), "bare": (BARE, bench.bare)}


# --- telling


def _row(name: str, took: list[float], floor: list[float], *, judged: bool = False) -> tuple[str, ...]:
    ours, least = _p50_p99(took), _p50_p99(floor)
    ratios = (ours[0] / least[0], ours[1] / least[1])
    held = verdict(ratios[0] <= TARGET) if judged else ""
    return (name, *(f"{ms:.2f}" for ms in ours), *(f"{ratio:.1f}" for ratio in ratios), held)


def _p50_p99(took: list[float]) -> tuple[float, float]:
    return statistics.median(took), p99(took)


def _alone_rows(how: str, told: Told) -> list[tuple[str, ...]]:
    ours, bare = told.waits["aspect"], told.waits["bare"]
    rows = [
        _row(f"aspect handed over → {what}, {how}", ours[what], bare[what], judged=True) for what in HEADS
    ]
    return rows + [_row(f"  floor: bare write → {what}", bare[what], bare[what]) for what in HEADS]


def _whole_rows(ours: Told, floor: Told) -> list[tuple[str, ...]]:
    calls, barely = ours.waits["call"], floor.waits["call"]
    writes, again = ours.waits["bare"], floor.waits["bare"]
    rows = [_row(f"call → {what}", calls[what], barely[what], judged=True) for what in HEADS]
    rows += [_row(f"  floor: bare clients → {what}", barely[what], barely[what]) for what in HEADS]
    rows += [_row(f"call → {what}, beside a bare write", calls[what], writes[what]) for what in HEADS]
    rows += [_row(f"  bare write → {what}, with ours", writes[what], writes[what]) for what in HEADS]
    return rows + [_row(f"  … with bare clients → {what}", again[what], writes[what]) for what in HEADS]


async def _measure(folder: Path, *, alone: bool) -> list[tuple[str, ...]]:
    async with AsyncExitStack() as stack:
        wires = demo_wires()
        ports: dict[int | None, int] = {}
        boards = []
        for port in sorted({wire.port or 0 for wire in wires if wire.protocol == "modbus-tcp"}):
            facts = json.dumps(facts_of([wire for wire in wires if wire.port == port]))
            boards.append(await stack.enter_async_context(peer("board", facts)))
            ports[port] = boards[-1].port
        receiver = await stack.enter_async_context(peer("receiver"))
        ports[E131_PORT] = receiver.port
        writer = await stack.enter_async_context(Writer(boards[0].port, receiver.port))
        bench = Bench(write_venue(folder, wires, ports), {"coil": boards[0], "slot": receiver}, writer)
        rows = _alone_rows("after a pause", await _alone(bench, PAUSE_S))
        rows += _alone_rows("one upon the other", await _alone(bench, 0))
        if not alone:
            rows += _whole_rows(*await _whole(bench, folder))
    return rows


def main() -> None:
    """Run, light, and print."""
    asked = parser(__doc__)
    asked.add_argument("--alone", action="store_true", help="the outputs alone, without a venue around them")
    alone = asked.parse_args().alone
    say_where()
    with tempfile.TemporaryDirectory() as folder:
        rows = asyncio.run(_measure(Path(folder), alone=alone))
    title = f"{TIMES} times each, calls {CALLS} times"
    show(title, ("ms", "p50", "p99", "÷ floor", "÷ its p99", f"≤ {TARGET}"), rows)


if __name__ == "__main__":
    main()
