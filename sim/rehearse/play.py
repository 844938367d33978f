"""A sequence played on a whole venue in this process, in the venue's own time instead of the clock's.

Broker in memory, controller, monitor, nodes and world are those that run as processes; only the clock
differs. So a file and a seed give the same world, step by step, however often and wherever they are
played, and whether or not somebody looks on: its digests tell.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Protocol

import async_solipsism
import msgspec
from msgspec import Struct

from signals.clock import Clock
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.sequence.load import Sequence
from signals.sequence.player import Player
from signals.sequence.rates import Rates
from signals.sequence.result import Result, StepResult
from signals.sequence.stage import Stage
from signals.venue.model import Venue
from sim.scene import STEP_S
from sim.world import World

FRAMES_PER_S = 30
FROM_MS = 1_800_000_000_000
"""When every rehearsal takes place (UTC): the same for all, so that pictures of them are too."""
EVERY_S = 60
READER = "reader.rehearsal"


class Digest(Struct, frozen=True, kw_only=True):
    """What the world came to at a time of its own (s): equal digests, equal worlds."""

    time_s: float
    steps: int
    digest: str


class Rehearsed(Struct, frozen=True, kw_only=True):
    """What came of it: the sequence's steps, the world at its end, and every so often before."""

    held: bool
    end: Digest
    digests: list[Digest]
    sequence: Result


class Looks(Protocol):
    """Somebody who looks on, at `FRAMES_PER_S`: a window."""

    client: str

    def subscriptions(self) -> tuple[tuple[str, int], ...]:
        """Give what is to be heard."""

    def linked(self, *, up: bool) -> None:
        """Note that the link is up."""

    def hear(self, arrived: Arrived, now_s: float) -> None:
        """Hear a message."""

    def look(self, now_s: float) -> None:
        """Look at what was heard."""


class _Told(Struct, frozen=True):
    """Of `world`, what is read here."""

    steps: int
    digest: str = ""


def rehearse(
    sequence: Sequence,
    venue: Venue,
    *,
    seed: int,
    rates: Rates = (),
    every_s: int = EVERY_S,
    onlooker: Looks | None = None,
    tell: Callable[[StepResult | Digest], None] = lambda _: None,
) -> Rehearsed:
    """Play a sequence in its own time.

    Args:
        sequence: as loaded for `venue`.
        venue: where it is played.
        seed: everything random in the world follows from it.
        rates: what chance brings.
        every_s: seconds of the world between two digests.
        onlooker: hears and looks; nothing follows from it.
        tell: called with every step's result and every digest as it comes.

    """
    worlds: list[World] = []
    digests: list[Digest] = []

    def world(venue: Venue, make_link: MakeLink, *, seed: int, clock: Clock) -> World:
        worlds.append(World(venue, make_link, seed=seed, clock=clock, rates=rates))
        return worlds[-1]

    def told(arrived: Arrived) -> None:
        view = msgspec.json.decode(arrived.payload, type=_Told)
        if view.digest and view.steps % round(every_s / STEP_S) == 0:
            digests.append(_digest(view.steps, view.digest))
            tell(digests[-1])

    async def whole() -> Result:
        async with Stage(venue, seed=seed, world=world, clock=Clock(lambda: FROM_MS)) as stage:
            topic = Topics.of(venue.id, simulated=venue.simulated).name("world")
            reader = stage.link(READER, subscriptions=((topic, 0),), owner=Owner(on_message=told))
            player = Player(sequence, venue, stage.link, processes=stage, tell=tell)
            async with _running(reader.run()), _looked_on(stage, onlooker):
                return await player.run()

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        result = runner.run(whole())
    scene = worlds[-1].scene
    end = _digest(scene.steps, scene.digest())
    return Rehearsed(held=result.held, end=end, digests=digests, sequence=result)


def _digest(steps: int, digest: str) -> Digest:
    return Digest(time_s=round(steps * STEP_S, 3), steps=steps, digest=digest)


@asynccontextmanager
async def _running(work: object) -> AsyncIterator[None]:
    """Run something beside the body, and end it with it."""
    task = asyncio.ensure_future(work)  # type: ignore[call-overload]
    try:
        yield
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def _looked_on(stage: Stage, onlooker: Looks | None) -> AsyncIterator[None]:
    if onlooker is None:
        yield
        return
    loop = asyncio.get_running_loop()

    async def looking() -> None:
        while True:
            await asyncio.sleep(1 / FRAMES_PER_S)
            onlooker.look(loop.time())

    owner = Owner(
        on_message=lambda arrived: onlooker.hear(arrived, loop.time()),
        on_up=lambda: onlooker.linked(up=True),
    )
    link = stage.link(onlooker.client, subscriptions=onlooker.subscriptions(), owner=owner)
    async with _running(link.run()), _running(looking()):
        yield
        onlooker.look(loop.time())
