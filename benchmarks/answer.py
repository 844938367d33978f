"""From a call to its answer, and to the lights: `python -m benchmarks.answer`.

A whole run without a window, on its own mosquitto; the caller sits in this process. Calls come one by one,
with a pause, as from a person. The floor is a bare ping-pong in the same run: the controller is
killed, and a process takes its name and answers every call at once with a constant, on the same broker,
topics and access list. Wall time, so what else the machine does counts.
"""

from __future__ import annotations

import asyncio
import socket
import statistics
import sys
import tempfile
import time
from pathlib import Path

from msgspec import UNSET

from benchmarks.measure import say_where, show
from signals.cli.broker import Embedded
from signals.cli.data import prepare
from signals.cli.links import links
from signals.cli.options import DEFAULT_VENUE, Address
from signals.cli.recipes import Wanted, recipes
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import Answer, AspectCommand, Beat, Call, Entry, State
from signals.mqtt.link import Arrived, Link, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Word

TIMES = 200
REPLY_WITHIN_S = 5.0
HEARD_WITHIN_S = 2.0
PAUSE_S = 0.05
"""Between two calls: heads, karts and monitor have done by then, as when persons call."""
POST = "desk"
Waits = dict[str, list[float]]


class Client:
    """A post's client that notes when things arrive."""

    def __init__(self, venue: Venue, make_link: MakeLink) -> None:
        self.up = asyncio.Event()
        self.refused = 0
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        name = self._topics.name
        self._heads = len(venue.heads)
        self._state: State | None = None
        self._epoch = self._epoch_before = self._count = 0
        self._sent_s = 0.0
        self._waits: dict[str, asyncio.Future[float]] = {}
        self._lit: set[str] = set()
        subscriptions = (
            (name("answer", POST), 1),
            (name("beat"), 0),
            (name("state"), 1),
            (name("head", "+", "aspect"), 1),
        )
        owner = Owner(on_message=self._take, on_up=self.up.set)
        self.link: Link = make_link(f"post-{POST}.bench", subscriptions=subscriptions, owner=owner)

    async def call(self, word: Word, *also: str, entries: list[Entry] | None = None) -> dict[str, float]:
        """Call, and give after how many ms the answer came, and what else was asked for."""
        self._count += 1
        loop = asyncio.get_running_loop()
        self._waits = {what: loop.create_future() for what in ("answer", *also)}
        self._lit.clear()
        self._epoch_before = self._epoch
        seen = (self._state.boot, self._state.seq) if self._state else (UNSET, UNSET)
        call = Call(id=f"b{self._count}", call=word, boot=seen[0], seq=seen[1], entries=entries or UNSET)
        payload = encode(call)
        self._sent_s = time.perf_counter()
        self.link.publish(self._topics.name("call", POST), payload, qos=1)
        async with asyncio.timeout(REPLY_WITHIN_S):
            return {what: await wait for what, wait in self._waits.items()}

    def _came(self, what: str) -> None:
        wait = self._waits.get(what)
        if wait is not None and not wait.done():
            wait.set_result((time.perf_counter() - self._sent_s) * 1000)

    def _take(self, arrived: Arrived) -> None:
        match self._topics.split(arrived.topic):
            case ("answer", _):
                self._answered(decode(Answer, arrived.payload))
            case ("beat",):
                self._epoch = decode(Beat, arrived.payload).epoch
                if self._epoch > self._epoch_before:
                    self._came("beat")
            case ("head", head, _):
                self._commanded(head, decode(AspectCommand, arrived.payload))
            case ("state",):
                self._state = decode(State, arrived.payload)

    def _answered(self, answer: Answer) -> None:
        if answer.id == f"b{self._count}":
            self.refused += not answer.accepted
            self._came("answer")

    def _commanded(self, head: str, command: AspectCommand) -> None:
        if command.epoch > self._epoch_before:
            self._lit.add(head)
            self._came("first head")
            if len(self._lit) == self._heads:
                self._came("last head")


async def _many(client: Client, word: Word, *also: str, entries: list[Entry] | None = None) -> Waits:
    """Call so many times; give all waits by what was waited for."""
    waits: Waits = {}
    for _ in range(TIMES):
        for what, ms in (await client.call(word, *also, entries=entries)).items():
            waits.setdefault(what, []).append(ms)
        await asyncio.sleep(PAUSE_S)
    return waits


async def _echo(url: str, data: Path) -> None:
    """Be a controller that answers every call at once, and does nothing else."""
    venue = load(DEFAULT_VENUE)
    topics = Topics.of(venue.id, simulated=venue.simulated)

    def reply(arrived: Arrived) -> None:
        call = decode(Call, arrived.payload)
        _, post = topics.split(arrived.topic)
        answer = Answer(id=call.id, accepted=True, recorded=False, refusals=[], seq=1)
        link.publish(topics.name("answer", post), encode(answer), qos=1)

    ready = asyncio.Event()
    owner = Owner(on_message=reply, on_up=ready.set)
    link = links(url, data)("controller", subscriptions=((topics.name("call", "+"), 1),), owner=owner)
    run = asyncio.create_task(link.run())
    await ready.wait()
    print("ready", flush=True)
    await run


async def _bare(client: Client, url: str, data: Path) -> Waits:
    """Measure the ping-pong, with the controller's name in another process's hands."""
    argv = (sys.executable, "-m", "benchmarks.answer", url, str(data))
    echo = await asyncio.create_subprocess_exec(*argv, stdout=asyncio.subprocess.PIPE)
    assert echo.stdout is not None
    try:
        assert await echo.stdout.readline() == b"ready\n"
        return await _many(client, Word.STOP)
    finally:
        echo.terminate()
        await echo.wait()


def _rows(name: str, waits: Waits, floor_ms: float) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for what, took in waits.items():
        median, p99 = statistics.median(took), statistics.quantiles(took, n=100)[98]
        rows.append((f"{name} → {what}", f"{median:.2f}", f"{p99:.2f}", f"{median / floor_ms:.1f}"))
    return rows


def _wanted(folder: Path) -> Wanted:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        broker = Address("127.0.0.1", probe.getsockname()[1])
    return Wanted(
        venue=DEFAULT_VENUE,
        data=folder,
        broker=broker,
        embedded=Embedded.MOSQUITTO,
        headless=True,
        picture=None,
        seed=1,
    )


async def _measure(folder: Path) -> list[tuple[str, ...]]:
    venue = load(DEFAULT_VENUE)
    wanted = _wanted(folder)
    url = wanted.broker.url
    prepare(folder)
    async with Supervisor(recipes(wanted)) as supervisor:
        client = Client(venue, links(url, folder))
        link = asyncio.create_task(client.link.run())
        await client.up.wait()
        await asyncio.sleep(HEARD_WITHIN_S)
        group = [Entry(number=1, driver="A driver", class_="adult")]
        prepared = await _many(client, Word.PREPARE, entries=group)
        assert client.refused == 0
        refused = await _many(client, Word.ARM)
        assert client.refused == TIMES
        stopped = await _many(client, Word.STOP, "beat", "first head", "last head")
        assert client.refused == TIMES
        await supervisor.kill("controller")
        bare = await _bare(client, url, folder)
        link.cancel()
        await asyncio.gather(link, return_exceptions=True)
    floor_ms = statistics.median(bare["answer"])
    rows = _rows("stop", stopped, floor_ms)
    rows += _rows("prepare (written first)", prepared, floor_ms)
    rows += _rows("arm, refused", refused, floor_ms)
    return rows + _rows("floor: ping-pong", bare, floor_ms)


def main() -> None:
    """Run, call, and print."""
    say_where()
    with tempfile.TemporaryDirectory() as folder:
        rows = asyncio.run(_measure(Path(folder)))
    show(f"{TIMES} calls each", ("ms", "median", "p99", "÷ floor"), rows)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        asyncio.run(_echo(sys.argv[1], Path(sys.argv[2])))
    else:
        main()
