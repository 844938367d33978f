"""A stage for the monitor in virtual time: a scripted controller and scripted heads on a memory broker.

Scripted, so that they can do what real ones never should. `docs` for the parts: `Stage.say_state`
says what the controller claims, `show` what a head reports, `answered` what a post asked and got.
"""

from __future__ import annotations

import asyncio
import itertools
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, Self

from signals.clock import Clock
from signals.monitor.service import Monitor
from signals.mqtt import contract
from signals.mqtt.access import access_list
from signals.mqtt.codec import encode
from signals.mqtt.contract import Message
from signals.mqtt.link import Arrived, Credentials, Link, Owner
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.words import Because, Condition, HoldKind, Phase
from tests.controller.made import harbour

STEP_S = 0.15


def hold(key: str, kind: str = "incident") -> contract.HoldView:
    """Make a hold of `state` from its key."""
    what, *rest = key.split(":")
    post = rest[-1] if rest else None
    where = rest[0] if len(rest) == 2 else None
    kind_ = HoldKind(kind) if rest else None
    return contract.HoldView(what=what, where=where, kind=kind_, post=post, reason="", since=1, id=key)  # type: ignore[arg-type]


class Stage:
    """Controller, heads, posts: all played; the monitor alone is real."""

    def __init__(self, latch: Path | None = None) -> None:
        self.venue = harbour()
        self.topics = Topics.of(self.venue.id, simulated=True)
        self.broker = MemoryBroker(access_list(self.venue))
        self.beating = True
        self.boot = "boot1"
        self.silent: set[str] = set()
        self.deaf: set[str] = set()
        self.shows: dict[str, str] = {}
        self.lamps: dict[str, list[str]] = {}
        self.phase = Phase.CLOSED
        self.holds: list[contract.HoldView] = []
        self.places = {str(kart.number): "pit" for kart in self.venue.karts}
        self.health = {head.id: "ok" for head in self.venue.heads}
        self.kart_facts: dict[str, dict[str, Any]] = {}
        self.surface = "dry"
        self.stop_in_beat: bool | None = None
        self._latch = latch
        self._seq = itertools.count(1)
        self._beat = 0
        self._echo: dict[str, int] = {}
        self._links: dict[str, Link] = {}
        self._tasks: list[asyncio.Task[Any]] = []
        self._monitor_task: asyncio.Task[Any]
        self.monitor: Monitor

    async def __aenter__(self) -> Self:
        for client in (
            "controller",
            *(f"post-{post.id}" for post in self.venue.posts),
            *(f"node-{node.id}" for node in self.venue.nodes),
        ):
            await self._join(client)
        self.shows = {head.id: "red" if head.role == "pit-exit" else "dark" for head in self.venue.heads}
        self.say_state()
        for head, aspect in self.shows.items():
            self.command(head, aspect)
        self._tasks.append(asyncio.create_task(self._pulse()))
        await self.start()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.stop()
        for task in self._tasks:
            task.cancel()
        ends = await asyncio.gather(*self._tasks, return_exceptions=True)
        for end in ends:
            if isinstance(end, Exception):
                raise end

    async def start(self) -> None:
        """Start the monitor and wait until it watches."""
        self.monitor = Monitor(
            self.venue, self._link, clock=Clock(lambda: 1_900_000_000_000), latch=self._latch
        )
        ready = asyncio.Event()
        self._monitor_task = asyncio.create_task(self.monitor.run(ready.set))
        waiting = asyncio.ensure_future(ready.wait())
        await asyncio.wait((self._monitor_task, waiting), return_when=asyncio.FIRST_COMPLETED, timeout=5)
        waiting.cancel()

    async def tripped_at(self) -> float:
        """Wait for a trip; give the loop's time of it."""
        loop = asyncio.get_running_loop()
        told: asyncio.Future[float] = loop.create_future()

        def hear(arrived: Arrived) -> None:
            if not told.done() and json.loads(arrived.payload)["tripped"]:
                told.set_result(loop.time())

        topic = self.topics.name("monitor", "trip")
        link = self._link("reader", subscriptions=((topic, 1),), owner=Owner(on_message=hear))
        self._tasks.append(asyncio.create_task(link.run()))
        async with asyncio.timeout(60):
            return await told

    async def stop(self) -> None:
        """End the monitor in good order."""
        self._monitor_task.cancel()
        (end,) = await asyncio.gather(self._monitor_task, return_exceptions=True)
        if isinstance(end, Exception):
            raise end

    async def kill(self) -> None:
        """End it as a loss of power would: nothing it says in ending arrives."""
        self.broker.partition("monitor", detected_s=0)
        await self.stop()
        self.broker.heal("monitor")

    def _link(self, client: str, **more: Any) -> Link:
        return self.broker.link(client, **more | {"credentials": Credentials(client, "")})

    async def _join(self, client: str) -> None:
        up = asyncio.Event()
        link = self._link(client, owner=Owner(lambda _: None, up.set))
        self._links[client] = link
        self._tasks.append(asyncio.create_task(link.run()))
        await up.wait()

    # -- the controller, played --

    async def _pulse(self) -> None:
        while True:
            if self.beating:
                self.beat()
            for head in self.shows:
                self.report(head)
            await asyncio.sleep(STEP_S)

    def beat(self) -> None:
        self._beat += 1
        stop = any(hold.what == "stop" for hold in self.holds)
        stop = stop if self.stop_in_beat is None else self.stop_in_beat
        message = contract.Beat(
            boot=self.boot, seq=self._beat, epoch=0, stop=stop, test=self.phase is Phase.TEST, at=1
        )
        self.say("controller", "beat", message=message)

    def say_state(self, phase: str | None = None, *holds: str | contract.HoldView) -> None:
        """Claim a phase and holds, in `state` and at once in a beat."""
        if phase is not None:
            self.phase = Phase(phase)
            self.holds = [hold(one) if isinstance(one, str) else one for one in holds]
        self.say("controller", "state", message=self._state(), retain=True)
        if self.beating:
            self.beat()

    def _state(self) -> contract.State:
        return contract.State(
            boot=self.boot,
            seq=next(self._seq),
            epoch=0,
            at=1,
            phase=self.phase,
            condition=Condition.CLEAR,
            surface=self.surface,  # type: ignore[arg-type]
            monitor="ok",
            journal="ok",
            ready=False,
            sectors={sector.id: Condition.CLEAR for sector in self.venue.sectors},
            holds=self.holds,
            karts={kart: self._kart(kart) for kart in self.places},
            heads={head: self._head(head) for head in self.health},
            faults=[],
        )

    def _kart(self, kart: str) -> contract.KartView:
        facts: dict[str, Any] = {
            "call": "none",
            "slowed": "none",
            "limit_kmh": 0.0,
            "because": Because.CLASS,
            "link": True,
            "let_out": True,
            "button": False,
        }
        return contract.KartView(place=self.places[kart], **facts | self.kart_facts.get(kart, {}))

    def _head(self, head: str) -> contract.HeadView:
        return contract.HeadView(aspect="dark", shown=None, health=self.health[head])  # type: ignore[arg-type]

    def command(self, head: str, aspect: str, lamps: list[str] | None = None) -> None:
        message = contract.AspectCommand(
            boot=self.boot,
            seq=next(self._seq),
            epoch=0,
            inc="i1",
            aspect=aspect,
            lamps=lamps,  # type: ignore[arg-type]
        )
        self.say("controller", "head", head, "aspect", message=message, retain=True)

    def limit(self, kart: int, limit_kmh: float) -> None:
        message = contract.LimitCommand(
            boot=self.boot,
            seq=next(self._seq),
            epoch=0,
            inc="i1",
            limit_kmh=limit_kmh,
            boosts=0,
            because=Because.CLASS,
        )
        self.say("controller", "kart", str(kart), "limit", message=message, retain=True)

    def take(self, kart: int, limit_kmh: float) -> None:
        message = contract.Taken(boot="k000", seq=next(self._seq), beat_seq=self._beat, limit_kmh=limit_kmh)
        self.say(f"node-k{kart}", "kart", str(kart), "taken", message=message)

    # -- heads, played --

    def show(self, head: str, aspect: str, lamps: list[str] | None = None) -> None:
        """Show an aspect from now on; `lamps` are those really lit where they are not the aspect's own."""
        self.shows[head] = aspect
        self.lamps.pop(head, None)
        if lamps is not None:
            self.lamps[head] = lamps
        self.report(head)

    def report(self, head: str) -> None:
        if head in self.silent:
            return
        if head not in self.deaf and self.beating:
            self._echo[head] = self._beat
        made = next(one for one in self.venue.heads if one.id == head)
        lit = self.lamps.get(head, list(made.aspects[self.shows[head]]))  # type: ignore[index]
        message = contract.Shown(
            boot="n000",
            seq=next(self._seq),
            beat_seq=self._echo.get(head, 0),
            after_ms=0,
            aspect=self.shows[head],  # type: ignore[arg-type]
            driven=lit,
            proven=None,
        )
        self.say(f"node-{made.node}", "head", head, "shown", message=message)

    def all_show(self, track: str, pit_exit: str | None = None) -> None:
        """Command and show an aspect on every head; pit-exit heads another where given."""
        for head in self.venue.heads:
            aspect = pit_exit if pit_exit and head.role == "pit-exit" else track
            self.command(head.id, aspect)
            self.show(head.id, aspect)

    # -- posts, played --

    def answered(self, post: str, word: str, *, accepted: bool = True, **fields: Any) -> None:
        """Ask a word from a post, and let the controller answer it."""
        name = f"c{next(self._seq)}"
        call = {"id": name, "call": word, **fields}
        self.say(f"post-{post}", "call", post, message=json.dumps(call).encode())
        answer = contract.Answer(id=name, accepted=accepted, recorded=True, refusals=[], seq=1)
        self.say("controller", "answer", post, message=answer)

    def reset(self, post: str = "desk", reason: str = "looked at it") -> None:
        self.say(f"post-{post}", "monitor", "reset", post, message=contract.MonitorReset(reason=reason))

    def say(self, client: str, *levels: str, message: Message | bytes, retain: bool = False) -> None:
        payload = message if isinstance(message, bytes) else encode(message)
        link = self._links[client]
        assert link.publish(self.topics.name(*levels), payload, qos=1, retain=retain) is link.up

    # -- what the monitor says --

    def said(self, *levels: str) -> Any:
        """Give what is retained on a topic, as JSON; None if nothing is."""
        payload = self.broker.retained.get(self.topics.name(*levels))
        return None if payload is None else json.loads(payload)

    @property
    def status(self) -> str | None:
        said = self.said("monitor", "status")
        return None if said is None else said["status"]

    @property
    def trip(self) -> Any:
        return self.said("monitor", "trip")

    def racing(self) -> None:
        """Begin a session by the book, all green, kart 1 in s1."""
        self.say_state("staging")
        self.answered("desk", "stage")
        self.say_state("armed")
        self.answered("desk", "arm")
        self.places["1"] = "s1"
        self.answered("desk", "start")
        self.say_state("racing")
        self.all_show("green")

    def stop_for_trip(self) -> None:
        """Answer a trip as the controller does: a stop by the equipment, red everywhere."""
        self.say_state(self.phase, *self.holds, "stop:E")
        self.all_show("red")


@asynccontextmanager
async def staged(latch: Path | None = None) -> AsyncIterator[Stage]:
    """Give a running stage."""
    async with Stage(latch) as stage:
        yield stage
