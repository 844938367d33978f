"""What the kit holds against its own machine and broker, and not against the node. In virtual time."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import async_solipsism
import pytest

from signals.conform.bench import LATE_S, Bench
from signals.conform.run import target
from signals.conform.sentences import Kind
from signals.conform.subject import Subject
from signals.conform.verdict import Inconclusive
from signals.mqtt.access import access_list
from signals.mqtt.link import Credentials, Link, user_of
from signals.mqtt.memory import MemoryBroker
from signals.venue import load

VENUE = load(Path(__file__).parents[2] / "configs" / "harbour-loop.toml")


class Owing:
    """A broker in memory that can keep what it owes for itself for a while."""

    def __init__(self) -> None:
        self.broker = MemoryBroker(access_list(VENUE))
        self.owes: list[tuple[Callable[[Any], None], Any]] | None = None

    def make_link(self, client: str, **given: Any) -> Link:
        link = self.broker.link(client, **given, credentials=Credentials(user_of(client), ""))
        hand_on = link.owner.on_message

        def handed(arrived: Any) -> None:
            if self.owes is None:
                hand_on(arrived)
            else:
                self.owes.append((hand_on, arrived))

        link.owner.on_message = handed
        return link

    def pay(self) -> None:
        """Hand on what was kept, and whatever comes."""
        owed, self.owes = self.owes or [], None
        for hand_on, arrived in owed:
            hand_on(arrived)


@asynccontextmanager
async def kit() -> AsyncIterator[tuple[Bench, Owing]]:
    owing = Owing()
    node, organ = target(Kind.HEAD, "n1", VENUE)
    bench = Bench(VENUE, node, organ, owing.make_link)
    bench.subject = cast("Subject", SimpleNamespace(waited_s=lambda: 0.0))
    running = asyncio.create_task(bench.run())
    await bench.connected(5.0)
    try:
        yield bench, owing
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)


def in_virtual_time(story: Callable[[Bench, Owing], Awaitable[None]]) -> None:
    async def whole() -> None:
        async with kit() as (bench, owing):
            await asyncio.sleep(1.0)
            await story(bench, owing)

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        runner.run(whole())


def test_on_a_quiet_machine_nothing_is_late() -> None:
    async def story(bench: Bench, _: Owing) -> None:
        bench.look_late()
        assert bench.late_s < LATE_S

    in_virtual_time(story)


@pytest.mark.parametrize("paid", [False, True])
def test_a_broker_that_owes_a_beat_is_late_though_others_were_said_since(paid: bool) -> None:
    async def story(bench: Bench, owing: Owing) -> None:
        owing.owes = []
        await asyncio.sleep(0.35)
        if paid:
            owing.pay()
        bench.look_late()
        assert 0.2 < bench.late_s <= 0.36

    in_virtual_time(story)


def test_a_broker_that_is_held_up_on_purpose_is_not_late() -> None:
    async def story(bench: Bench, owing: Owing) -> None:
        bench.stands_still()
        owing.owes = []
        await asyncio.sleep(0.75)
        owing.pay()
        bench.goes_on()
        await asyncio.sleep(0.3)
        bench.look_late()
        assert bench.late_s < LATE_S

    in_virtual_time(story)


def test_a_kit_without_a_broker_blames_no_node() -> None:
    async def story() -> None:
        node, organ = target(Kind.HEAD, "n1", VENUE)
        bench = Bench(VENUE, node, organ, Owing().make_link)  # nobody runs its links
        with pytest.raises(Inconclusive, match="the kit itself found no broker"):
            await bench.linked(3.0)

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        runner.run(story())
