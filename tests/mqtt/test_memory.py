"""The faults one can ask of the broker in memory, in virtual time."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from signals.mqtt.link import Arrived, Link, Owner, Will
from signals.mqtt.memory import DETECTED_S, MemoryBroker
from tests.virtual import virtual

Heard = list[tuple[float, str]]
DIED = Will("status", b"gone")


@asynccontextmanager
async def joined(
    broker: MemoryBroker, name: str, *filters: str, will: Will | None = None
) -> AsyncIterator[tuple[Link, Heard]]:
    """A client with a list of what happened to it, and when."""
    heard: Heard = []
    now = asyncio.get_running_loop().time

    def take(message: Arrived) -> None:
        heard.append((now(), message.payload.decode()))

    link = broker.link(
        name,
        subscriptions=tuple((f, 1) for f in filters),
        will=will,
        owner=Owner(
            on_message=take,
            on_up=lambda: heard.append((now(), "up")),
            on_down=lambda reason: heard.append((now(), f"down: {reason}")),
        ),
    )
    running = asyncio.create_task(link.run())
    await asyncio.sleep(0)
    try:
        yield link, heard
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)


@virtual
async def test_delivery_takes_no_virtual_time() -> None:
    broker = MemoryBroker()
    async with joined(broker, "a") as (a, _), joined(broker, "b", "#") as (_, heard):
        a.publish("t", b"x")
        await asyncio.sleep(0.001)
        assert heard == [(0, "up"), (0, "x")]


@virtual
async def test_a_dropped_client_is_back_after_a_tenth_of_a_second_and_its_will_was_said() -> None:
    broker = MemoryBroker()
    async with joined(broker, "watch", "#") as (_, seen), joined(broker, "node", will=DIED) as (_, heard):
        await asyncio.sleep(1)
        broker.drop("node")
        await asyncio.sleep(1)
        assert heard == [(0, "up"), (1, "down: the connection was lost"), (pytest.approx(1.1), "up")]
        assert seen == [(0, "up"), (1, "gone")]
        assert broker.retained == {"status": b"gone"}


@virtual
async def test_a_dropped_client_loses_what_was_under_way() -> None:
    broker = MemoryBroker()
    async with joined(broker, "a") as (a, _), joined(broker, "b", "t") as (_, heard):
        a.publish("t", b"lost", qos=1)
        broker.drop("a")
        await asyncio.sleep(1)
        assert heard == [(0, "up")]


@virtual
async def test_a_short_partition_delivers_late_and_in_order_as_tcp_does() -> None:
    broker = MemoryBroker()
    async with joined(broker, "a") as (a, _), joined(broker, "b", "t") as (b, heard):
        broker.partition("b")
        a.publish("t", b"1")
        await asyncio.sleep(1)
        a.publish("t", b"2")
        assert b.up, "it cannot know"
        await asyncio.sleep(1)
        broker.heal("b")
        await asyncio.sleep(10)
        assert heard == [(0, "up"), (2, "1"), (2, "2")]


@virtual
async def test_a_long_partition_costs_the_session_and_no_attempt_succeeds_before_it_heals() -> None:
    broker = MemoryBroker()
    async with (
        joined(broker, "watch", "#") as (_, seen),
        joined(broker, "node", "t", will=DIED) as (node, heard),
    ):
        broker.partition("node")
        assert node.publish("t", b"into the void", qos=1) is True
        await asyncio.sleep(20)
        assert seen == [(0, "up"), (DETECTED_S, "gone")]
        assert heard == [(0, "up"), (DETECTED_S, "down: the connection was lost")]
        assert node.publish("t", b"x") is False
        broker.heal("node")
        await asyncio.sleep(1)
        assert heard[2][1] == "up"
        assert 20 <= heard[2][0] <= 21, "it tries at least once a second"


@virtual
async def test_what_a_partitioned_client_sends_arrives_after_healing() -> None:
    broker = MemoryBroker()
    async with joined(broker, "a") as (a, _), joined(broker, "b", "t") as (_, heard):
        broker.partition("a")
        a.publish("t", b"late")
        await asyncio.sleep(2)
        assert heard == [(0, "up")]
        broker.heal("a")
        await asyncio.sleep(2)
        assert heard == [(0, "up"), (2, "late")]


@virtual
async def test_a_dead_broker_says_no_wills_forgets_all_and_refuses_until_it_is_back() -> None:
    broker = MemoryBroker()
    async with (
        joined(broker, "watch", "#") as (watch, seen),
        joined(broker, "node", will=DIED) as (_, heard),
    ):
        watch.publish("kept", b"x", retain=True)
        await asyncio.sleep(1)
        broker.stop()
        await asyncio.sleep(5)
        assert broker.retained == {}
        assert broker.connected == frozenset()
        assert watch.publish("t", b"x") is False
        broker.start()
        await asyncio.sleep(1)
        assert [what for _, what in seen] == ["up", "x", "down: the broker is gone", "up"]
        assert [what for _, what in heard] == ["up", "down: the broker is gone", "up"]
        assert seen[3][0] == heard[2][0] == pytest.approx(1 + 0.1 + 0.2 + 0.4 + 0.8 + 1 + 1 + 1 + 1)


@virtual
async def test_delays_are_drawn_anew_and_keep_the_order() -> None:
    async def once() -> Heard:
        broker = MemoryBroker()
        draw = random.Random(7)  # noqa: S311 - repeatable on purpose
        broker.delay("b", lambda: draw.uniform(0.001, 0.2))
        begun = asyncio.get_running_loop().time()
        async with joined(broker, "a") as (a, _), joined(broker, "b", "t") as (_, heard):
            for number in range(50):
                a.publish("t", str(number).encode())
                await asyncio.sleep(0.01)
            await asyncio.sleep(1)
        return [(round(at - begun, 6), what) for at, what in heard]

    first, second = await once(), await once()
    assert first == second, "the same seed, the same run"
    assert [what for _, what in first] == ["up", *map(str, range(50))]
    assert len({at for at, _ in first}) > 10


@virtual
async def test_a_client_that_leaves_sends_the_rest_without_waiting() -> None:
    broker = MemoryBroker()
    broker.delay("a", lambda: 3.0)
    async with joined(broker, "b", "t") as (_, heard):
        async with joined(broker, "a", will=DIED) as (a, _):
            a.publish("t", b"bye")
        await asyncio.sleep(0.001)
        assert heard == [(0, "up"), (0, "bye")]
        assert broker.retained == {}
