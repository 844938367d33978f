"""A venue on one loop in virtual time: memory broker, controller, nodes; the test is the world."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

import msgspec

from signals.clock import Clock
from signals.controller.service import Controller
from signals.journal import Draft, Entry, Journal, JournalFailed
from signals.monitor.service import Monitor
from signals.mqtt import contract
from signals.mqtt.access import access_list
from signals.mqtt.codec import encode
from signals.mqtt.contract import Answer, Beat, Call, Message
from signals.mqtt.link import Arrived, Credentials, Link, Owner
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.nodes.service import Nodes
from signals.words import Aspect, Word
from tests.controller.made import harbour

UTC_MS = 1_767_600_000_000  # 2026-01-05 08:00 UTC, a Monday
WITHIN_S = 5.0
KINDS: dict[str, type[Message]] = {
    "beat": contract.Beat,
    "state": contract.State,
    "group": contract.Group,
    "aspect": contract.AspectCommand,
    "shown": contract.Shown,
    "limit": contract.LimitCommand,
    "caps": contract.CapsCommand,
    "taken": contract.Taken,
    "answer": contract.Answer,
}


class FailingJournal(Journal):
    """A real journal that can be made to fail as a full disk does."""

    failing = False

    def append_many(self, drafts: Iterable[Draft]) -> tuple[Entry, ...]:
        if self.failing:
            raise JournalFailed("the disk is full")
        return super().append_many(drafts)


@dataclass(frozen=True)
class Noted:
    """A message that passed, with the loop's time and a count of the loop's turns."""

    levels: tuple[str, ...]
    message: Any
    at_s: float
    turn: int


class Town:
    """The venue's parts, and a reader that notes all they say."""

    here: frozenset[str] | None = None
    """The nodes that come up; None for all of them."""

    def __init__(self, folder: Path, *, monitored: bool = False) -> None:
        self.monitored = monitored
        self.venue = harbour()
        self.topics = Topics.of(self.venue.id, simulated=True)
        self.broker = MemoryBroker(access_list(self.venue))
        self.clock = Clock(lambda: UTC_MS)
        self.journal = FailingJournal(folder / "journal.sqlite")
        self.noted: list[Noted] = []
        self.latest: dict[tuple[str, ...], Any] = {}
        self.turn = 0
        self.parts: dict[str, Any] = {}
        self._folder = folder
        self._news = asyncio.Event()
        self._tasks: dict[str, asyncio.Task[Any]] = {}
        self._links: dict[str, Link] = {}
        self._ids = itertools.count(1)
        self._seqs = itertools.count(1)

    async def __aenter__(self) -> Self:
        self._tasks["turns"] = asyncio.create_task(asyncio.sleep(0))
        filters = tuple(
            (self.topics.name(*levels), 1)
            for levels in (
                ("beat",),
                ("state",),
                ("head", "+", "aspect"),
                ("head", "+", "shown"),
                ("kart", "+", "limit"),
                ("kart", "+", "caps"),
                ("kart", "+", "taken"),
                ("answer", "+"),
            )
        )
        await self.join("reader", filters, self.note)
        for client in ("gateway", "instructor", *(f"post-{post.id}" for post in self.venue.posts)):
            await self.join(client)
        if self.monitored:
            await self.start("monitor")
        else:
            await self.join("monitor")
            said = contract.MonitorStatus(status="ok")
            self.say("monitor", "monitor", "status", message=said, retain=True)
        await self.start("nodes")
        await self.start("controller")
        await asyncio.sleep(1.0)  # every node has reported and echoed a beat by then
        return self

    async def __aexit__(self, *_: object) -> None:
        for task in self._tasks.values():
            task.cancel()
        ends = await asyncio.gather(*self._tasks.values(), return_exceptions=True)
        self.journal.close()
        for end in ends:
            if isinstance(end, Exception):
                raise end

    # -- parts --

    async def start(self, name: str) -> None:
        if name == "controller":
            self.journal.close()
            self.journal = FailingJournal(self._folder / "journal.sqlite")
            part: Any = Controller(self.venue, self.link, journal=self.journal, clock=self.clock)
        elif name == "monitor":
            part = Monitor(self.venue, self.link, clock=self.clock)
        else:
            part = Nodes(self.venue, self.link, only=self.here)
        self.parts[name] = part
        ready = asyncio.Event()
        self._tasks[name] = asyncio.create_task(part.run(ready.set))
        async with asyncio.timeout(WITHIN_S):
            await ready.wait()

    async def kill(self, name: str) -> None:
        """End a part as a power cut would: nothing it says arrives any more; the broker says its will."""
        self.broker.partition(name)
        self.broker.drop(name)
        task = self._tasks.pop(name)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        self.broker.heal(name)

    def link(self, client: str, **more: Any) -> Link:
        return self.broker.link(client, **more | {"credentials": Credentials(client, "")})

    async def join(
        self,
        client: str,
        filters: tuple[tuple[str, int], ...] = (),
        on_message: Callable[[Arrived], None] = lambda _: None,
    ) -> None:
        up = asyncio.Event()
        link = self.link(client, subscriptions=filters, owner=Owner(on_message, up.set))
        self._links[client] = link
        self._tasks[client] = asyncio.create_task(link.run())
        await up.wait()

    # -- saying --

    def say(self, client: str, *levels: str, message: Message | bytes, retain: bool = False) -> None:
        payload = message if isinstance(message, bytes) else encode(message)
        assert self._links[client].publish(self.topics.name(*levels), payload, qos=1, retain=retain)

    def say_as(self, user: str, *levels: str, message: Message) -> None:
        """Say something with a user's rights from another client."""
        link = self.broker.link(f"{user}/2", credentials=Credentials(user, ""))
        link.owner.on_up = lambda: link.publish(self.topics.name(*levels), encode(message)) and None
        self._tasks[link.client] = asyncio.create_task(link.run())

    def send(self, post: str, word: str, **fields: Any) -> str:
        """Send a call without waiting; the sender has seen the latest state."""
        given: dict[str, Any] = {"id": f"c{next(self._ids)}", "boot": self.state.boot, "seq": self.state.seq}
        given |= fields
        self.say(f"post-{post}", "call", post, message=Call(call=Word(word), **given))
        return str(given["id"])

    async def call(self, post: str, word: str, **fields: Any) -> Answer:
        """Call and wait for the answer."""
        before = len(self.noted)
        name = self.send(post, word, **fields)
        await self.until(lambda: self._answer(name, before) is not None)
        answer = self._answer(name, before)
        assert answer is not None
        return answer

    async def ask(self, post: str, word: str, **fields: Any) -> None:
        """Call, and have it accepted and the state seen."""
        answer = await self.call(post, word, **fields)
        assert answer.accepted, (word, answer.refusals)
        await self.until(lambda: self.state.seq >= answer.seq)

    def _answer(self, name: str, since: int) -> Answer | None:
        found = (n.message for n in self.noted[since:] if n.levels[0] == "answer" and n.message.id == name)
        return next(found, None)

    def sees(self, kart: int, sector: str, speed: float = 20.0, *, button: bool = False) -> None:
        """Report a kart's place, as the gateway."""
        self.say(
            "gateway",
            "kart",
            str(kart),
            "where",
            message=contract.Where(
                boot="gate0",
                seq=next(self._seqs),
                sector=sector,
                at_m=None,
                speed_kmh=speed,
                in_pit=sector == "pit",
                button=button,
            ),
        )

    async def race(self, *karts: int) -> None:
        """Bring a group of adults from closed to racing, each let out and seen in s1."""
        entries = [contract.Entry(number=kart, driver=f"Driver {kart}", class_="adult") for kart in karts]
        await self.ask("desk", "prepare", entries=entries)
        await self.ask("desk", "stage")
        for item in self.venue.checklist:
            await self.ask("desk", "confirm", item=item.id)
        await self.ask("desk", "arm")
        await self.ask("desk", "start")
        for number, kart in enumerate(karts):
            if number:
                await self.drive(self.venue.timing.gap / 1000, dict.fromkeys(karts[:number], "s1"))
            await self.ask("desk", "let-out", kart=kart)
            self.sees(kart, "s1")
        await self.until(lambda: all(self.state.karts[str(kart)].place == "s1" for kart in karts))

    async def drive(self, seconds: float, places: dict[int, str], speed: float = 20.0) -> None:
        """Let time pass while the gateway keeps seeing karts where they are."""
        for _ in range(round(seconds / 0.5)):
            for kart, sector in places.items():
                self.sees(kart, sector, speed)
            await asyncio.sleep(0.5)

    # -- looking --

    def note(self, arrived: Arrived) -> None:
        """Keep what passed."""
        levels = self.topics.split(arrived.topic)
        kind = KINDS["answer" if levels[0] == "answer" else levels[-1]]
        message = msgspec.json.decode(arrived.payload, type=kind)
        self.latest[levels] = message
        self.noted.append(Noted(levels, message, asyncio.get_running_loop().time(), self.turn))
        self._news.set()

    @property
    def now_s(self) -> float:
        return asyncio.get_running_loop().time()

    @property
    def state(self) -> Any:
        return self.latest.get(("state",))

    def shows(self, head: str) -> Aspect:
        aspect: Aspect = self.latest["head", head, "shown"].aspect
        return aspect

    def takes(self, kart: int) -> float:
        limit: float = self.latest["kart", str(kart), "taken"].limit_kmh
        return limit

    @property
    def all_shown(self) -> set[Aspect]:
        return {self.shows(head.id) for head in self.venue.heads}

    def holds(self) -> set[tuple[str, str | None, str | None]]:
        return {(hold.what, hold.where, hold.post) for hold in self.state.holds}

    def beats(self) -> list[Beat]:
        return [noted.message for noted in self.noted if noted.levels == ("beat",)]

    def since(self, mark: int, *levels: str) -> list[Noted]:
        return [noted for noted in self.noted[mark:] if noted.levels[: len(levels)] == levels]

    async def until(self, holds: Callable[[], bool], within_s: float = WITHIN_S) -> None:
        """Wait for a condition over what was noted."""
        async with asyncio.timeout(within_s):
            while not holds():
                self._news.clear()
                await self._news.wait()
