"""The fault bench: a whole venue in virtual time, a marshal at work, things going wrong at random moments.

    table = await bench(venue, seed=1, faults=50)

Everything is what really runs, but the broker and the clock (`signals.sequence.stage`). Each fault begins
while heads are green where that is possible, lasts a while, ends, and the marshal brings the session back.
All the while somebody looks who shares nothing with the controller: he sees what heads really show and
which messages reach whom, and keeps in mind what the marshal was answered.
"""

from __future__ import annotations

import asyncio
import json
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from signals.caller import Caller
from signals.clock import Clock, utc_ms
from signals.journal import reader
from signals.mqtt.contract import Answer, HoldView, State
from signals.mqtt.link import Arrived, Credentials, Link, Owner, Will
from signals.mqtt.topics import Topics
from signals.nodes.head import HeadLogic
from signals.nodes.service import Nodes
from signals.part import Part
from signals.proof.watch import JournalWatch
from signals.sequence.stage import Stage
from signals.venue.model import Venue
from signals.words import Aspect, Phase

POST = "desk"
LOOK_S = 0.01
"""How often heads are looked at: their timers run between two looks, so one look is allowed for."""
SLOWEST_S = 0.3
"""The longest that a delay fault holds a message up."""
RED_WITHIN_S = 0.5 + SLOWEST_S + 2 * LOOK_S
"""A lease, and the slowest message: after so long no head is green under a stop."""
GREEN_WITHIN_S = 45.0
AFTER_S = 3.0
SETTLED_S = 8.0
AFTERWARDS = "(a session's end)"
"""The row for what is looked at once all faults of a session are over: holds and the record."""
HOUR_MS = 3_600_000

BAD = ("late green", "stop lost", "unrecorded", "chain", "forgotten", "rule")
"""What may never be: green past the lease; green under a stop that was answered; an answer that says it
is recorded and is not; a broken chain in the record; a hold gone without a lift; a proved rule broken."""


@dataclass(slots=True)
class Outcome:
    """What came of faults of one kind: how many, how many while green, and of each bad thing how often."""

    faults: int = 0
    while_green: int = 0
    bad: Counter[str] = field(default_factory=Counter)

    def add(self, other: Outcome) -> None:
        """Count another's too."""
        self.faults += other.faults
        self.while_green += other.while_green
        self.bad.update(other.bad)


class Disturbed(Stage):
    """A stage on which messages can be lost, doubled and overtaken on their way to a client."""

    def __init__(self, venue: Venue, dice: Random, **more: Any) -> None:
        super().__init__(venue, **more)
        self.parts: dict[str, Part] = {}
        self.beats: dict[str, float] = {}
        """Client -> when a live beat last reached it."""
        self.upset: Callable[[str, Arrived], str] = lambda _client, _message: ""
        """Says what happens to a message for a client: "" nothing, "lost", "doubled" or "late"."""
        self._dice = dice
        self._beat = Topics.of(venue.id, simulated=venue.simulated).name("beat")

    def link(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> Link:
        """Make a client's link, with the disturbance before its owner."""
        owner = owner or Owner()
        hear = owner.on_message

        def arrive(message: Arrived) -> None:
            if message.topic == self._beat and not message.retained:
                self.beats[client] = asyncio.get_running_loop().time()
            hear(message)

        def on_message(message: Arrived) -> None:
            match self.upset(client, message):
                case "lost":
                    return
                case "doubled":
                    arrive(message)
                case "late":
                    asyncio.get_running_loop().call_later(self._dice.uniform(0, SLOWEST_S), arrive, message)
                    return
            arrive(message)

        return super().link(
            client,
            subscriptions=subscriptions,
            will=will,
            credentials=credentials,
            owner=Owner(on_message, owner.on_up, owner.on_down),
        )

    def _make(self, name: str) -> Part:
        self.parts[name] = super()._make(name)
        return self.parts[name]

    def clients_of(self, part: str) -> set[str]:
        """Give the clients of a part."""
        return self._clients.get(part, set())

    @property
    def journal_path(self) -> Path:
        """Where the record lies."""
        assert self.journal is not None
        return self.journal.path


# -- who looks -------------------------------------------------------------------------------------------


class Witness:
    """Looks at heads every 10 ms, and keeps in mind what the marshal was answered."""

    def __init__(self, stage: Disturbed) -> None:
        self.bad: Counter[str] = Counter()
        self.green = False
        self.holds: set[str] = set()
        self.unsure: set[str] = set()
        self._stage = stage
        self._stopped_s: float | None = None
        self._recorded: list[str] = []
        self._told: set[tuple[str, str]] = set()

    async def look(self) -> None:
        """Look until cancelled."""
        while True:
            now_s = asyncio.get_running_loop().time()
            greens = list(self._greens())
            self.green = bool(greens)
            for client, lease_s, head in greens:
                if now_s - self._stage.beats.get(client, 0.0) > lease_s + 2 * LOOK_S:
                    self._note("late green", head)
                if self._stopped_s is not None and now_s - self._stopped_s > RED_WITHIN_S:
                    self._note("stop lost", head)
            await asyncio.sleep(LOOK_S)

    def _note(self, what: str, head: str) -> None:
        """Count a bad thing once for each head and fault."""
        if (what, head) not in self._told:
            self._told.add((what, head))
            self.bad[what] += 1

    def _greens(self) -> Iterator[tuple[str, float, str]]:
        nodes = self._stage.parts.get("nodes")
        if not isinstance(nodes, Nodes) or "nodes" not in self._stage._runs:  # noqa: SLF001
            return  # without power heads are dark, whatever their memory says
        for station in nodes._stations.values():  # noqa: SLF001
            for organ in station.device.organs:
                if isinstance(organ, HeadLogic) and organ.display.aspect is Aspect.GREEN:
                    yield f"node-{station.device.node.id}", station.device.node.lease_ms / 1000, organ.id

    async def sees_green(self) -> None:
        """Wait until some head is green."""
        while True:
            if self.green:
                return
            await asyncio.sleep(10 * LOOK_S)

    def asked(self, fields: dict[str, Any]) -> None:
        """Keep in mind that an answer may never come: until it does nothing is known of this hold."""
        if key := _key(fields):
            self.unsure.add(key)
        if fields["call"] in ("clear", "start"):
            self._stopped_s = None

    def answered(self, fields: dict[str, Any], answer: Answer) -> None:
        """Keep in mind what was promised."""
        if answer.recorded:
            self._recorded.append(answer.id)
        key = _key(fields)
        if key:
            self.unsure.discard(key)
        if not answer.accepted:
            return
        match fields["call"]:
            case "stop":
                self.holds.add(key)
                self._stopped_s = self._stopped_s or asyncio.get_running_loop().time()
            case "caution":
                self.holds.add(key)
            case "lift":
                self.holds.discard(key)

    def compare(self, state: State) -> None:
        """Look whether every hold that was promised stands, once all is well again."""
        standing = {_hold_key(hold) for hold in state.holds}
        self.bad["forgotten"] += len(self.holds - self.unsure - standing)

    def read(self, path: Path) -> None:
        """Read the record: the chain, the properties, and every answer that says it is recorded."""
        self.bad["chain"] += len(reader.verify(path))
        watch, answers, calls = JournalWatch(), set[Any](), set[Any]()
        for entry in reader.entries(path):
            self.bad["rule"] += len(list(watch.take(entry)))
            if entry.kind in ("answer", "call") and isinstance(entry.body, dict):
                (answers if entry.kind == "answer" else calls).add(entry.body.get("id"))
        self.bad["unrecorded"] += len(set(self._recorded) - (answers & calls))

    def take(self) -> Counter[str]:
        """Give what was bad since the last time."""
        bad, self.bad = self.bad, Counter()
        self._told.clear()
        return bad


def _key(fields: dict[str, Any]) -> str:
    """Name the hold a call is about."""
    match fields["call"]:
        case "stop":
            return f"stop:{POST}"
        case "caution":
            return f"caution:{fields['where']}:{POST}"
        case "lift":
            return str(fields["hold"])
    return ""


def _hold_key(hold: HoldView) -> str:
    return ":".join(filter(None, (hold.what, hold.where, hold.post)))


# -- who works -------------------------------------------------------------------------------------------


class Marshal:
    """Does at random what a marshal may, and always brings the session back to green."""

    def __init__(self, caller: Caller, witness: Witness, venue: Venue, dice: Random) -> None:
        self._caller = caller
        self._witness = witness
        self._venue = venue
        self._dice = dice
        self.resting = False

    async def work(self) -> None:
        """Call until cancelled; while resting, only what leads back to green."""
        while True:
            await asyncio.sleep(self._dice.uniform(0.2, 1.2))
            state = self._caller.state
            if state is None or not self._caller.up:
                continue
            for fields in self._next(state):
                await self._ask(fields)

    async def _ask(self, fields: dict[str, Any]) -> None:
        self._witness.asked(fields)
        answer = await self._caller.ask(fields)
        if answer is not None:
            self._witness.answered(fields, answer)

    def _next(self, state: State) -> list[dict[str, Any]]:
        if state.monitor == "tripped":
            self._caller.reset_monitor("looked at every head")
        if state.phase is Phase.RACING:
            return self._racing(state)
        if state.phase is Phase.FINISHING:
            return [{"call": "close"}]
        return [*self._lifts(state), *self._start(state)]

    def _racing(self, state: State) -> list[dict[str, Any]]:
        if state.holds:
            return self._lifts(state) if self.resting or self._dice.random() < 0.6 else []
        if self.resting or self._dice.random() < 0.5:
            return []
        if self._dice.random() < 0.35:
            return [{"call": "stop", "kind": "incident", "reason": "seen"}]
        where = self._dice.choice([sector.id for sector in self._venue.sectors])
        return [{"call": "caution", "where": where, "kind": "incident", "reason": "seen"}]

    def _lifts(self, state: State) -> list[dict[str, Any]]:
        lifts = [
            {"call": "lift", "hold": _hold_key(hold), "checked": True, "reason": "looked at"}
            for hold in state.holds
            if hold.what != "recovery"
        ]
        return lifts or [{"call": "clear", "checked": True}]

    def _start(self, state: State) -> list[dict[str, Any]]:
        if state.phase is Phase.ARMED:
            return [{"call": "start"}]
        if state.phase is Phase.CLOSED:
            entry = {"number": 1, "driver": "A driver", "class": "adult"}
            return [{"call": "prepare", "entries": [entry]}, {"call": "stage"}]
        confirms = [{"call": "confirm", "item": item.id} for item in self._venue.checklist]
        return [*confirms, {"call": "arm"}]


# -- what goes wrong -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Field:
    """What a fault works on."""

    stage: Disturbed
    dice: Random
    venue: Venue
    topics: Topics

    def nodes(self) -> list[str]:
        """Give the clients of all nodes."""
        return sorted(self.stage.clients_of("nodes"))

    def some(self, share: float) -> Callable[[], bool]:
        """Give a die that says yes to a share of throws."""
        return lambda: self.dice.random() < share


Fault = Callable[[Field, float], Awaitable[None]]
"""Goes wrong for so many seconds, and is well again when it returns."""


def _killed(part: str) -> Fault:
    async def fault(field: Field, seconds: float) -> None:
        await field.stage.kill(part)
        await asyncio.sleep(seconds)
        await field.stage.start(part)

    return fault


def _partitioned(part: str) -> Fault:
    async def fault(field: Field, seconds: float) -> None:
        clients = sorted(field.stage.clients_of(part))
        cut = clients if part != "nodes" else field.dice.sample(clients, max(1, len(clients) // 2))
        for client in cut:
            field.stage.broker.partition(client)
        await asyncio.sleep(seconds)
        for client in cut:
            field.stage.broker.heal(client)

    return fault


def _upset(how: str, share: float, part: str) -> Fault:
    async def fault(field: Field, seconds: float) -> None:
        clients, die = field.stage.clients_of(part), field.some(share)
        field.stage.upset = lambda client, _: how if client in clients and die() else ""
        await asyncio.sleep(seconds)
        field.stage.upset = lambda _client, _message: ""

    return fault


async def _cut_again_and_again(field: Field, seconds: float) -> None:
    ends_s = asyncio.get_running_loop().time() + seconds
    while asyncio.get_running_loop().time() < ends_s:
        field.stage.broker.drop(field.dice.choice([*field.nodes(), "controller"]))
        await asyncio.sleep(field.dice.uniform(0.05, 0.5))


async def _clock_moved(field: Field, seconds: float) -> None:
    by_ms = field.dice.choice((-24, -1, 1, 24)) * HOUR_MS
    field.stage.clock = Clock(lambda: utc_ms() + by_ms)
    await _killed("controller")(field, min(seconds, 1.0))


async def _flood(field: Field, seconds: float) -> None:
    """Say a hundred times what a kart says, and as much that is no message at all."""
    node = next(node for node in field.venue.nodes if node.karts)
    link = field.stage.link(f"node-{node.id}.flood", credentials=Credentials(f"node-{node.id}", ""))
    running = asyncio.create_task(link.run())
    topic, seq = field.topics.name("kart", str(node.karts[0]), "where"), 0
    ends_s = asyncio.get_running_loop().time() + seconds
    while asyncio.get_running_loop().time() < ends_s:
        for _ in range(25):
            seq += 1
            body = {"boot": "f100d", "seq": seq, "sector": "pit", "at_m": None, "speed_kmh": 0.0,
                    "in_pit": True, "button": False}  # fmt: skip
            link.publish(topic, json.dumps(body).encode())
            link.publish(topic, field.dice.randbytes(40))
        await asyncio.sleep(0.05)
    await _ended(running)


async def _second_controller(field: Field, seconds: float) -> None:
    """Somebody with the controller's keys speaks as if he were it."""
    link = field.stage.link("controller.rogue", credentials=Credentials("controller", ""))
    running = asyncio.create_task(link.run())
    ends_s, seq = asyncio.get_running_loop().time() + seconds, 0
    while asyncio.get_running_loop().time() < ends_s:
        seq += 1
        beat = {"boot": "bad0", "seq": seq, "epoch": 0, "stop": False, "test": False, "at": 0}
        link.publish(field.topics.name("beat"), json.dumps(beat).encode())
        await asyncio.sleep(0.1)
    await _ended(running)


async def _slow_screen(field: Field, seconds: float) -> None:
    """Let a screen take two seconds for every message."""
    field.stage.broker.delay(f"post-{POST}.slow", lambda: 2.0)
    everything = tuple((f"{field.topics.name(*levels)}", 1) for levels in (("state",), ("group",), ("beat",)))
    link = field.stage.link(f"post-{POST}.slow", subscriptions=everything)
    running = asyncio.create_task(link.run())
    await asyncio.sleep(seconds)
    await _ended(running)


async def _ended(task: asyncio.Task[None]) -> None:
    """End a task; raises what ended it before."""
    task.cancel()
    await asyncio.wait((task,))
    if not task.cancelled():
        task.result()


FAULTS: dict[str, Fault] = {
    "controller killed": _killed("controller"),
    "monitor killed": _killed("monitor"),
    "broker killed": _killed("broker"),
    "nodes killed": _killed("nodes"),
    "world killed": _killed("world"),
    "controller cut off": _partitioned("controller"),
    "half the nodes cut off": _partitioned("nodes"),
    "monitor cut off": _partitioned("monitor"),
    "connections lost again and again": _cut_again_and_again,
    "3 of 10 messages to nodes lost": _upset("lost", 0.3, "nodes"),
    "messages to nodes doubled": _upset("doubled", 0.7, "nodes"),
    "messages to nodes overtaken": _upset("late", 0.5, "nodes"),
    "3 of 10 reports lost": _upset("lost", 0.3, "controller"),
    "reports overtaken": _upset("late", 0.5, "controller"),
    "record's disk full": _killed("journal"),
    "clock moved": _clock_moved,
    "a node floods": _flood,
    "a second controller": _second_controller,
    "a slow screen": _slow_screen,
}


# -- the session -----------------------------------------------------------------------------------------


async def bench(
    venue: Venue,
    *,
    seed: int,
    faults: int,
    only: tuple[str, ...] = (),
    make_core: Any = None,
    watch: Callable[[str], None] = lambda _: None,
) -> dict[str, Outcome]:
    """Let so many faults happen in one session, and give what came of them by their kind."""
    dice, table = Random(seed), {name: Outcome() for name in (*FAULTS, AFTERWARDS)}  # noqa: S311 - no secrets
    topics = Topics.of(venue.id, simulated=venue.simulated)
    async with Disturbed(venue, dice, seed=seed, make_core=make_core) as stage:
        caller, witness = Caller(topics, POST, stage.link, device="marshal"), Witness(stage)
        marshal = Marshal(caller, witness, venue, dice)
        working = asyncio.create_task(marshal.work())
        others = [asyncio.create_task(each) for each in (caller.run(), witness.look())]
        try:
            for _ in range(faults):
                name = dice.choice(only or tuple(FAULTS))
                watch(name)
                await _one(name, Field(stage, dice, venue, topics), witness, marshal, table[name])
            await _ended(working)
            await asyncio.sleep(SETTLED_S)
            assert caller.state is not None
            witness.compare(caller.state)
            witness.read(stage.journal_path)
        finally:
            for task in (working, *others):
                await _ended(task)
        table[AFTERWARDS].bad.update(witness.take())
    return table


async def _one(name: str, on: Field, witness: Witness, marshal: Marshal, outcome: Outcome) -> None:
    marshal.resting = True
    with suppress(TimeoutError):
        async with asyncio.timeout(GREEN_WITHIN_S):
            await witness.sees_green()
    marshal.resting = False
    await asyncio.sleep(on.dice.uniform(0, 2))
    outcome.faults += 1
    outcome.while_green += witness.green
    await FAULTS[name](on, on.dice.choice((0.3, 0.8, 2.0, 6.0)))
    await asyncio.sleep(AFTER_S)
    outcome.bad.update(witness.take())
