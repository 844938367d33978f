"""What every part of a running venue looks like: controller, monitor, nodes, world."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any, Protocol

from signals.mqtt.link import Credentials, Link, Owner, Will


class MakeLink(Protocol):
    """Make a client's link; who carries it (a broker on the network, or in memory) is bound already."""

    def __call__(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> Link:
        """Make it; nothing connects before `run`."""


class Part(Protocol):
    """Something that runs until it is cancelled."""

    async def run(self, ready: Callable[[], None]) -> None:
        """Work; call `ready` once when connected and working."""


async def run_ready(
    run: Coroutine[Any, Any, None], connected: Awaitable[object], ready: Callable[[], None]
) -> None:
    """Run what connects by itself until cancelled, and call `ready` once it is connected."""
    running = asyncio.ensure_future(run)
    try:
        await connected
        ready()
        await running
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
