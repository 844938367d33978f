"""A venue behind a real mosquitto that lets in certificates only; and a thief who has somebody's keys.

Everything runs in real time on one loop: the controller, the nodes, the test as gateway and posts.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from signals.mqtt.codec import decode
from signals.mqtt.contract import NodeStatus
from signals.mqtt.keys import Keys
from signals.mqtt.link import Arrived, Link, MqttLink, Owner, user_of
from tests.broker.site import holder_of, make_keys, mosquitto
from tests.controller.town import Town
from tests.panel.court import patient
from tests.ports import free_port

WITHIN_S = 15.0
LEASE_MS = 3_000
"""Nodes report four times in it: all are heard before anything is called."""


class Guarded(Town):
    """A town on a real broker. `statuses` are what nodes last said of themselves."""

    def __init__(self, folder: Path, port: int) -> None:
        super().__init__(folder)
        self.venue = patient(lease_ms=LEASE_MS)
        self.port = port
        self.keys = folder / "keys"
        self.statuses: dict[str, NodeStatus] = {}
        self.idle = {n.id for n in self.venue.nodes if not (n.heads or n.karts or n.inputs)}

    def link(self, client: str, **more: Any) -> Link:
        return self.link_of(client, user_of(client), **more)

    def link_of(self, client: str, user: str, **more: Any) -> MqttLink:
        """Make a link under any client id, with the keys of any user."""
        context = Keys(self.keys, holder_of(self.keys, user)).pair(user).context
        return MqttLink("localhost", self.port, client, tls=context, **more)

    async def kill(self, name: str) -> None:
        task = self._tasks.pop(name)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)

    def hear(self, arrived: Arrived) -> None:
        """Take a node's status."""
        self.statuses[self.topics.split(arrived.topic)[1]] = decode(NodeStatus, arrived.payload)
        self._news.set()

    async def until(self, holds: Callable[[], bool], within_s: float = WITHIN_S) -> None:
        await super().until(holds, within_s)

    async def settled(self) -> None:
        """Wait until every head shows what it is told."""

        def shows() -> bool:
            heads = self.state.heads.values()
            return all(head.shown == head.aspect for head in heads)

        await self.until(shows)


class Thief:
    """Somebody on the network with the keys of a user."""

    def __init__(self, town: Guarded, user: str, client: str = "") -> None:
        self._town = town
        self._up = asyncio.Event()
        self.heard: list[Arrived] = []
        owner = Owner(on_up=self._up.set, on_message=self.heard.append)
        filters = ((f"{town.topics.root}/#", 1),)
        self.link = town.link_of(client or f"{user}.thief", user, subscriptions=filters, owner=owner)

    @asynccontextmanager
    async def inside(self) -> AsyncIterator[Thief]:
        """Be connected."""
        running = asyncio.create_task(self.link.run())
        try:
            async with asyncio.timeout(WITHIN_S):
                await self._up.wait()
            yield self
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)

    def say(self, topic: str, payload: bytes, *, retain: bool = False) -> None:
        """Publish something below the venue's root."""
        self.link.publish(self._town.topics.name(topic), payload, qos=1, retain=retain)


@asynccontextmanager
async def guarded(folder: Path) -> AsyncIterator[Guarded]:
    """Run the venue behind its broker."""
    port = free_port()
    make_keys(folder / "keys", patient(lease_ms=LEASE_MS), port=port)
    async with mosquitto(folder / "keys", port), Guarded(folder, port) as town:
        filters = ((f"{town.topics.root}/node/+/status", 1),)
        await town.join("reader.all", filters, town.hear)
        await town.until(lambda: len(town.statuses) == len(town.venue.nodes) - len(town.idle))
        yield town
