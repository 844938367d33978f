"""From a call to the last node's new aspect or limit: `python -m benchmarks.latency [--n 2000] [--load]`.

A whole simulated venue runs on its own mosquitto. Every head and kart is listened to by a bare socket, and
the calls come from one: stop (acted on first) and lift (written first), which both address every node anew.
Three answer them in turn, on one broker, in one run:

* kerblight's controller;
* a bare socket that writes the same publishes at once, with bare SQLite commits (WAL, synchronous FULL) where
  the controller has them: before a lift is acted on, and before any answer. Nothing can do less;
* aiomqtt alone, with the same publishes and the same commits.

The floors replay what the controller published, to the byte. `--load`: every kart reports 10 times a second
beside its own reports; `--window`: the window draws. Wall time: other work on the machine counts.
"""

from __future__ import annotations

import argparse
import asyncio
import base64
import json
import os
import selectors
import sqlite3
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import asynccontextmanager, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import aiomqtt
from msgspec import UNSET

from benchmarks.bare import Bare, Publish
from benchmarks.measure import p99, parser, say_where, show, verdict
from benchmarks.whole import wanted
from signals.cli.data import credentials_of, prepare, read_credentials
from signals.cli.options import DEFAULT_VENUE, Address, address
from signals.cli.recipes import recipes
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import Answer, Call, State
from signals.mqtt.link import NODELAY
from signals.mqtt.topics import Topics
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Word

POST = "desk"
WITHIN_S = 5.0
PAUSE_S = 0.015
"""Between two calls: nodes, karts and monitor have done by then, as when persons call."""
QUIET_S = 3.0
"""Until everything has heard of everything after a start or a change of hands."""
WARM_UP = 10
TARGET = 2.0
"""p99 against the bare socket's."""
CALLS = (Word.STOP, Word.LIFT)


@dataclass(slots=True)
class Waits:
    """ms of many calls, by what was waited for; and what one call made be published, in order."""

    took: dict[str, list[float]] = field(default_factory=dict)
    published: list[Publish] = field(default_factory=list)

    def add(self, what: str, ms: float) -> None:
        """Note one wait."""
        self.took.setdefault(what, []).append(ms)


class Listening:
    """A caller, and a bare socket for every head and kart; blocking, in one thread."""

    def __init__(self, venue: Venue, where: Address, data: Path) -> None:
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._state: State | None = None
        self._count = 0
        known = credentials_of(read_credentials(data), f"post-{POST}")
        nodes = [("head", head.id, "aspect") for head in venue.heads]
        nodes += [("kart", str(kart.number), "limit") for kart in venue.karts]
        self.nodes = [self._topics.name(*levels) for levels in nodes]
        screen = [(self._topics.name("answer", POST), 1), (self._topics.name("beat"), 0)]
        screen += [(self._topics.name("state"), 1), (self._topics.name("group"), 1)]

        def bare(name: str, subscriptions: list[tuple[str, int]]) -> Bare:
            return Bare(where.host, where.port, f"post-{POST}.{name}", subscriptions, known)

        self._caller = bare("caller", screen)
        for message in self._caller.retained:
            self._note(message)
        beat = (self._topics.name("beat"), 0)
        self._all = [self._caller]
        self._all += [bare(f"n{n}", [(topic, 1), beat]) for n, topic in enumerate(self.nodes)]
        self._selector = selectors.DefaultSelector()
        for each in self._all:
            self._selector.register(each.socket, selectors.EVENT_READ, each)

    def close(self) -> None:
        """End all connections."""
        self._selector.close()
        for each in self._all:
            each.close()

    def many(self, times: int) -> dict[Word, Waits]:
        """Stop and lift so many times, after a few that do not count."""
        self._listen(QUIET_S)
        for _ in range(WARM_UP):
            for word in CALLS:
                self._call(word, Waits())
        waits = {word: Waits() for word in CALLS}
        for _ in range(times):
            for word in CALLS:
                self._call(word, waits[word])
        return waits

    def told(self, teller: Bare, beat: Publish, times: int) -> list[float]:
        """Give how long one publish of a beat takes to all, in ms, so many times."""
        took = []
        for _ in range(times):
            unheard = set(self._all)
            sent_s = time.perf_counter()
            teller.send([beat])
            while unheard:
                unheard -= {bare for bare, message in self._heard(WITHIN_S) if message.topic == beat.topic}
            took.append((time.perf_counter() - sent_s) * 1000)
            self._listen(PAUSE_S)
        return took

    def _listen(self, seconds: float) -> None:
        until_s = time.perf_counter() + seconds
        while (left_s := until_s - time.perf_counter()) > 0:
            for _ in self._heard(left_s):
                pass

    def _heard(self, wait_s: float) -> Iterator[tuple[Bare, Publish]]:
        for key, _ in self._selector.select(wait_s):
            for message in key.data.receive():
                self._note(message)
                yield key.data, message

    def _note(self, message: Publish) -> None:
        if message.topic == self._topics.name("state"):
            self._state = decode(State, message.payload)

    def _call(self, word: Word, waits: Waits) -> None:
        self._count += 1
        payload = encode(self._worded(word))
        beat, answer = self._topics.name("beat"), self._topics.name("answer", POST)
        missing, unstopped, answered = set(self.nodes), set(self._all), False
        waits.published.clear()
        sent_s = time.perf_counter()
        self._caller.send([Publish(self._topics.name("call", POST), payload, qos=1)])
        while missing or not answered:
            if time.perf_counter() - sent_s > WITHIN_S:
                silent = f"nothing on {len(missing)} of {len(self.nodes)} topics"
                raise TimeoutError(f"{word}: {'' if answered else 'no answer, '}{silent}")
            for bare, message in self._heard(WITHIN_S):
                ms = (time.perf_counter() - sent_s) * 1000
                if bare is self._caller or message.topic != beat:
                    waits.published.append(message)
                if message.topic in missing:
                    missing.discard(message.topic)
                    if not missing:
                        waits.add("last node", ms)
                elif message.topic == answer:
                    answered = True
                    given = decode(Answer, message.payload)
                    if not given.accepted:
                        raise RuntimeError(f"{word} refused: {given.refusals}")
                    waits.add("answer", ms)
                elif word is Word.STOP and bare in unstopped and b'"stop":true' in message.payload:
                    unstopped.discard(bare)
                    if not unstopped:
                        waits.add("beat at all nodes", ms)
        self._listen(PAUSE_S)

    def _worded(self, word: Word) -> Call:
        boot, seq = (self._state.boot, self._state.seq) if self._state else ("0", 0)
        hold = f"stop:{POST}" if word is Word.LIFT else UNSET
        return Call(id=f"l{self._count}", call=word, boot=boot, seq=seq, hold=hold)


# -- who answers: the floors ----------------------------------------------------------------------------


def _script(venue: Venue, waits: dict[Word, Waits]) -> str:
    """Write down what was published after each call, once for each topic, the answer last."""
    topics = Topics.of(venue.id, simulated=venue.simulated)
    beat, answer = topics.name("beat"), topics.name("answer", POST)
    told: dict[str, list[list[object]]] = {}
    for word in CALLS:
        last = {message.topic: message for message in waits[word].published}
        told[word] = [
            [
                each.topic,
                base64.b64encode(each.payload).decode(),
                each.topic != beat,
                each.topic not in (beat, answer),
            ]
            for each in sorted(last.values(), key=lambda message: message.topic == answer)
        ]
    return json.dumps(told)


def _replies(script: str) -> dict[Word, list[Publish]]:
    told = json.loads(script)
    return {
        Word(word): [
            Publish(topic, base64.b64decode(raw), int(qos), retain) for topic, raw, qos, retain in each
        ]
        for word, each in told.items()
    }


class Floor:
    """What a floor does on a call, with its way of publishing."""

    def __init__(self, venue: Venue, data: Path, script: str) -> None:
        self.calls = Topics.of(venue.id, simulated=venue.simulated).name("call", "+")
        self.credentials = credentials_of(read_credentials(data), "controller")
        self._replies = _replies(script)
        self._record = sqlite3.connect(data / "floor.sqlite", isolation_level=None)
        self._record.execute("PRAGMA journal_mode = WAL")
        self._record.execute("PRAGMA synchronous = FULL")
        self._record.execute("CREATE TABLE IF NOT EXISTS entry (body TEXT)")

    def bursts(self, payload: bytes) -> Iterator[list[Publish]]:
        """Give what to publish, in two goes, with a commit before each that the record comes before."""
        word = decode(Call, payload).call
        *acts, answer = self._replies[word]
        if word is Word.LIFT:
            self._commit(payload)
        yield acts
        self._commit(payload)
        yield [answer]

    def _commit(self, payload: bytes) -> None:
        self._record.execute("INSERT INTO entry VALUES (?)", (payload.decode(),))


def bare_floor(where: Address, floor: Floor) -> None:
    """Answer on a bare socket until terminated."""
    bare = Bare(where.host, where.port, "controller", [(floor.calls, 1)], floor.credentials)
    print("ready", flush=True)
    while True:
        for message in bare.receive():
            for burst in floor.bursts(message.payload):
                bare.send(burst)


async def aiomqtt_floor(where: Address, floor: Floor) -> None:
    """Answer by aiomqtt until terminated."""
    known = floor.credentials
    assert known is not None
    client = aiomqtt.Client(
        where.host, where.port, identifier="controller", username=known.user, password=known.password,
        socket_options=NODELAY, max_inflight_messages=2000,
    )  # fmt: skip
    client.pending_calls_threshold = 2000
    async with client:
        await client.subscribe(floor.calls, 1)
        print("ready", flush=True)
        async for message in client.messages:
            assert isinstance(message.payload, bytes)
            for burst in floor.bursts(message.payload):
                await asyncio.gather(*(client.publish(p.topic, p.payload, p.qos, p.retain) for p in burst))


@asynccontextmanager
async def _answering(floor: str, url: str, data: Path, script: str) -> AsyncIterator[None]:
    """Let a floor answer, with the controller's name, in a process of its own."""
    path = data / "script.json"
    path.write_text(script, encoding="ascii")
    argv = (sys.executable, "-m", "benchmarks.latency", "--floor", floor, url, str(data), str(path))
    process = await asyncio.create_subprocess_exec(*argv, stdout=asyncio.subprocess.PIPE)
    assert process.stdout is not None
    try:
        assert await process.stdout.readline() == b"ready\n"
        yield
    finally:
        process.terminate()
        await process.wait()


# -- load -----------------------------------------------------------------------------------------------


@contextmanager
def _reporting(venue: Venue, where: Address, data: Path, *, wanted: bool) -> Iterator[None]:
    """Let every kart report 10 times a second, beside its own reports."""
    if not wanted:
        yield
        return
    topics, over = Topics.of(venue.id, simulated=venue.simulated), threading.Event()
    known = read_credentials(data)
    nodes = {kart: node.id for node in venue.nodes for kart in node.karts}
    karts = {
        kart: Bare(
            where.host, where.port, f"node-{node}.load{kart}", (), credentials_of(known, f"node-{node}")
        )
        for kart, node in nodes.items()
    }

    def report() -> None:
        seq = 0
        while not over.wait(0.1):
            seq += 1
            for kart, bare in karts.items():
                body = {"boot": "10ad", "seq": seq, "sector": "pit", "at_m": None, "speed_kmh": 0.0,
                        "in_pit": True, "button": False}  # fmt: skip
                bare.send([Publish(topics.name("kart", str(kart), "where"), json.dumps(body).encode())])

    thread = threading.Thread(target=report)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


# -- the run --------------------------------------------------------------------------------------------


async def measure(options: argparse.Namespace, folder: Path) -> dict[str, dict[Word, Waits]]:
    """Let the three answer in turn; give their waits."""
    venue = load(options.venue)
    asked = wanted(options.venue.resolve(), folder, headless=not options.window)
    prepare(folder)
    results: dict[str, dict[Word, Waits]] = {}
    async with Supervisor(recipes(asked)) as supervisor:
        listening = Listening(venue, address(asked.broker.url), folder)
        with closing(listening), _reporting(venue, asked.broker, folder, wanted=options.load):
            results["kerblight"] = await asyncio.to_thread(listening.many, options.n)
            script = _script(venue, results["kerblight"])
            await supervisor.kill("controller")
            for floor in ("bare socket", "aiomqtt alone"):
                async with _answering(floor, asked.broker.url, folder, script):
                    results[floor] = await asyncio.to_thread(listening.many, options.n)
    return results


def rows(results: dict[str, dict[Word, Waits]]) -> Iterator[Sequence[str]]:
    """Give the table: for each wait ours, then the floors."""
    for word, what in ((Word.STOP, "beat at all nodes"), (Word.STOP, "last node"), (Word.STOP, "answer"),
                       (Word.LIFT, "last node"), (Word.LIFT, "answer")):  # fmt: skip
        least = results["bare socket"][word].took.get(what)
        floor = p99(least) if least else 0.0
        for who, waits in results.items():
            took = waits[word].took.get(what)
            if took is None:
                continue
            ratio = f"{p99(took) / floor:.2f}" if floor else "–"
            kept = verdict(p99(took) <= TARGET * floor) if floor and who == "kerblight" else ""
            numbers = (statistics.median(took), p99(took), max(took))
            yield (f"{word} → {what}, {who}", *(f"{ms:.2f}" for ms in numbers), ratio, kept)


def main() -> None:
    """Run, call, and print."""
    asked = parser(__doc__)
    asked.add_argument("--n", type=int, default=2000, help="calls of each word")
    asked.add_argument("--venue", type=Path, default=DEFAULT_VENUE)
    asked.add_argument("--load", action="store_true", help="every kart reports 10 times a second more")
    asked.add_argument("--window", action="store_true", help="with the window drawing")
    asked.add_argument("--floor", nargs=4, help=argparse.SUPPRESS)
    options = asked.parse_args()
    if options.floor:
        _be_a_floor(options.venue, *options.floor)
        return
    say_where()
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    with tempfile.TemporaryDirectory() as folder:
        results = asyncio.run(measure(options, Path(folder)))
    print(f"{len(load(options.venue).heads)} heads, {len(load(options.venue).karts)} karts\n")
    heads = ("ms", "median", "p99", "max", "p99 ÷ bare", f"≤ {TARGET:g} ×")
    show(f"{options.n} calls of each word", heads, list(rows(results)))


def _be_a_floor(venue: Path, name: str, url: str, data: str, script: str) -> None:
    floor = Floor(load(venue), Path(data), Path(script).read_text(encoding="ascii"))
    if name == "bare socket":
        bare_floor(address(url), floor)
    else:
        asyncio.run(aiomqtt_floor(address(url), floor))


if __name__ == "__main__":
    main()
