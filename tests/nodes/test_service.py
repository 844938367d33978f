"""The nodes part over the bus in memory, with the venue's access list, in virtual time."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import partial
from typing import Any

import pytest

from signals.mqtt import contract as c
from signals.mqtt.access import access_list
from signals.mqtt.codec import decode, encode
from signals.mqtt.link import Arrived, Credentials, Link, Owner
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.nodes.device import Device
from signals.nodes.service import Nodes
from signals.words import Aspect
from tests.nodes.conftest import CAPS, make_venue
from tests.virtual import virtual

VENUE = make_venue()
TOPICS = Topics.of(VENUE.id, simulated=True)
KINDS = {
    "shown": c.Shown,
    "taken": c.Taken,
    "status": c.NodeStatus,
    "state": c.InputReport,
    "injected": c.Injected,
}
PATIENCE_S = 20.0


class Yard:
    """The nodes, a controller's pen and an instructor's, and everything the nodes said."""

    def __init__(self) -> None:
        self.broker = MemoryBroker(access_list(VENUE))
        self.said: list[tuple[float, str, Any]] = []
        self.came = asyncio.Event()
        self.links: dict[str, Link] = {}
        self.seq = 0
        self.inc = ""

    def link(self, client: str, **more: Any) -> Link:
        return self.broker.link(client, **{"credentials": Credentials(client, ""), **more})

    def hear(self, arrived: Arrived) -> None:
        levels = TOPICS.split(arrived.topic)
        kind = KINDS["injected"] if levels[0] == "injected" else KINDS[levels[-1]]
        message = decode(kind, arrived.payload)
        if isinstance(message, c.NodeStatus) and levels[1] == "n1":
            self.inc = message.inc
        self.said.append((asyncio.get_running_loop().time(), "/".join(levels), message))
        self.came.set()

    def last(self, topic: str) -> Any:
        return next((said for _, where, said in reversed(self.said) if where == topic), None)

    async def until(self, topic: str, wanted: Callable[[Any], bool]) -> float:
        """Wait for the last word on a topic to be as wanted; gives the moment it was said, s."""
        async with asyncio.timeout(PATIENCE_S):
            while (last := self.last(topic)) is None or not wanted(last):
                self.came.clear()
                await self.came.wait()
        return next(at_s for at_s, where, said in reversed(self.said) if said is last)

    def say(self, *levels: str, user: str = "controller", **fields: Any) -> None:
        self.seq += 1
        kinds: dict[str, type[c.Message]] = {"beat": c.Beat, "aspect": c.AspectCommand}
        kinds |= {"limit": c.LimitCommand, "caps": c.CapsCommand, "trip": c.Trip}
        kind = c.Inject if levels[0] == "inject" else kinds[levels[-1]]
        usual = {"boot": "aaaa", "seq": self.seq, "epoch": 1, "inc": self.inc, "at": 0, "test": False}
        usual |= {"flash": None, "number": None, "lamps": None, "boosts": 0, "because": "class", "id": "i"}
        usual |= {"what": "", "where": "h1", "due": "red", "shown": "green", "stop": False}
        known = kind.__struct_fields__
        need = {key: value for key, value in {**usual, **fields}.items() if key in known}
        if kind is c.Inject:
            need = {"id": "i", **fields}
        self.links[user].publish(
            TOPICS.name(*levels), encode(kind(**need)), qos=1, retain=levels[-1] == "trip"
        )

    async def drive(self) -> None:
        """Beat, and order full speed and green."""
        self.say("beat")
        self.say("kart", "7", "caps", fall_mps2=2, rise_mps2=1, reverse_kmh=4, boost_kmh=5, **CAPS)
        self.say("head", "h1", "aspect", aspect=Aspect.GREEN)
        self.say("kart", "7", "limit", limit_kmh=45.0)
        await self.until("head/h1/shown", lambda shown: shown.aspect == "green")
        await self.until("kart/7/taken", lambda taken: taken.limit_kmh == 45)

    async def fault(self, event: str, node: str = "n1", **more: Any) -> c.Injected:
        before = len(self.said)
        self.say("inject", node, user="instructor", event=event, **more)
        await self.until(
            f"injected/{node}", lambda _: f"injected/{node}" in {s[1] for s in self.said[before:]}
        )
        return self.last(f"injected/{node}")


@asynccontextmanager
async def yard(**more: Any) -> AsyncIterator[Yard]:
    it = Yard()
    filters = ("head/+/shown", "kart/+/taken", "node/+/status", "input/+/state", "injected/+")
    for user in ("controller", "monitor", "instructor"):
        heard = tuple((TOPICS.name(name), 1) for name in filters) if user == "instructor" else ()
        it.links[user] = it.link(user, subscriptions=heard, owner=Owner(on_message=it.hear))
    ready = asyncio.Event()
    tasks = [asyncio.ensure_future(link.run()) for link in it.links.values()]
    tasks.append(asyncio.ensure_future(Nodes(VENUE, it.link, **more).run(ready.set)))
    try:
        async with asyncio.timeout(PATIENCE_S):
            await ready.wait()
        yield it
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


@virtual
async def test_every_simulated_node_comes_up_on_a_link_of_its_own_and_introduces_itself() -> None:
    async with yard() as it:
        await it.until("node/n1/status", lambda status: status.status == "ready")
        await it.until("node/box/status", lambda status: status.status == "ready")
        assert {client for client in it.broker.connected if client.startswith("node-")} == {
            *("node-n1", "node-box", "node-pair")
        }


@virtual
async def test_a_lapse_over_the_bus_comes_exactly_at_the_lease() -> None:
    async with yard(only=frozenset({"n1"})) as it:
        await it.until("node/n1/status", lambda status: status.status == "ready")
        await asyncio.sleep(0.0317)
        beaten_s = asyncio.get_running_loop().time()
        await it.drive()
        lapsed_s = await it.until("head/h1/shown", lambda shown: shown.aspect == "yellow-flash")
        fell_s = await it.until("kart/7/taken", lambda taken: taken.limit_kmh == 15)
        crept_s = await it.until("kart/7/taken", lambda taken: taken.limit_kmh == 5)
        first = next(
            s for s in it.said if s[0] > beaten_s and s[1] == "head/h1/shown" and s[2].aspect != "green"
        )
        assert first[0] - beaten_s == pytest.approx(0.5, abs=2e-6)
        assert lapsed_s >= first[0]
        assert fell_s - beaten_s == pytest.approx(0.5, abs=0.13)
        assert crept_s - beaten_s == pytest.approx(3.5, abs=2e-6)


@virtual
async def test_a_dead_broker_does_not_hold_up_the_watchdog() -> None:
    async with yard(only=frozenset({"n1"})) as it:
        await it.until("node/n1/status", lambda status: status.status == "ready")
        await it.drive()
        before = it.inc
        it.broker.stop()
        await asyncio.sleep(1.0)
        it.broker.start()
        await it.until("node/n1/status", lambda status: status.inc != before)
        await it.until("head/h1/shown", lambda shown: shown.aspect == "yellow-flash")


@virtual
async def test_a_lost_node_is_silent_until_it_is_told_to_be_back() -> None:
    async with yard(only=frozenset({"n1"})) as it:
        await it.until("node/n1/status", lambda status: status.status == "ready")
        await it.drive()
        assert (await it.fault("head-lost")).done
        before = len(it.said)
        it.say("monitor", "trip", user="monitor", tripped=True)
        await asyncio.sleep(2.0)
        assert it.said[before:] == []
        assert (await it.fault("head-back")).done
        await it.until("head/h1/shown", lambda shown: shown.aspect == "red")


@virtual
async def test_a_reboot_gives_a_new_boot_and_what_is_retained_for_it() -> None:
    async with yard(only=frozenset({"n1"})) as it:
        await it.until("node/n1/status", lambda status: status.status == "ready")
        await it.drive()
        boot, inc = it.last("node/n1/status").boot, it.inc
        it.say("monitor", "trip", user="monitor", tripped=True)
        await it.until("head/h1/shown", lambda shown: shown.aspect == "red")
        assert (await it.fault("reboot")).done
        await it.until("node/n1/status", lambda status: status.boot != boot)
        assert it.inc != inc
        await it.until("head/h1/shown", lambda shown: shown.aspect == "red" and shown.boot != boot)
        await it.until("kart/7/taken", lambda taken: taken.limit_kmh == 0 and taken.boot != boot)


@virtual
async def test_a_fault_that_cannot_be_is_answered_with_what_could() -> None:
    async with yard(only=frozenset({"box"})) as it:
        await it.until("node/box/status", lambda status: status.status == "ready")
        answer = await it.fault("spin", "box")
        assert not answer.done
        assert "only head-back" in answer.said
        assert (await it.fault("input-active", "box", input="b2")).done
        await it.until("input/b2/state", lambda report: report.state == "active")


@virtual
async def test_a_vanished_connection_leaves_a_will() -> None:
    async with yard(only=frozenset({"n1"})) as it:
        await it.until("node/n1/status", lambda status: status.status == "ready")
        it.broker.drop("node-n1")
        await it.until("node/n1/status", lambda status: status.status == "gone")
        await it.until("node/n1/status", lambda status: status.status == "ready")


@virtual
async def test_a_node_that_leaves_says_so_only_if_the_venue_goes_on_without_it() -> None:
    for goodbye, left_behind in ((True, "gone"), (False, "ready")):
        async with yard(only=frozenset({"n1"}), goodbye=goodbye) as it:
            await it.until("node/n1/status", lambda status: status.status == "ready")
        kept = decode(c.NodeStatus, it.broker.retained[TOPICS.name("node", "n1", "status")])
        assert kept.status == left_behind


@virtual
async def test_a_watchdog_that_fails_takes_the_process_down() -> None:
    def broken(*_: object) -> list[object]:
        raise RuntimeError("the watchdog broke")

    it = Yard()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Device, "wake", broken)
        with pytest.RaisesGroup(pytest.RaisesExc(RuntimeError, match="the watchdog broke")):
            await Nodes(VENUE, it.link, only=frozenset({"n1"})).run(partial(int))


def test_a_node_that_is_not_there_is_named() -> None:
    with pytest.raises(ValueError, match="no simulated node n9; there are n1, box, pair"):
        Nodes(VENUE, MemoryBroker().link, only=frozenset({"n9"}))
