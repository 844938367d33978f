"""The window's side of the network: a loop of its own on a thread, so that drawing never delays it.

What arrives waits in `inbox` for the window; `publish` hands over to the loop. The world, where it
runs in the same process, runs on this loop too.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections import deque
from collections.abc import Callable
from enum import Enum

from signals.cli.process import stdin_watched
from signals.mqtt.link import Arrived, Credentials, Link, Owner
from signals.part import MakeLink, Part

READY_WITHIN_S = 8.0


class Change(Enum):
    """What became of the link."""

    UP = "up"
    DOWN = "down"


class Wire:
    """One post's link, and parts beside it, on a thread.

    Args:
        make_link: makes the post's link.
        client: the post's client id.
        subscriptions: what it hears.
        parts: what else runs on this loop.

    Attributes:
        inbox: (seconds of `time.monotonic`, an arrived message, or a change of the link,
            or a line of text that the supervisor said), oldest first.
        ended: set when stdin closed, or when the loop cannot go on; `failure` then says why.

    """

    def __init__(
        self,
        make_link: MakeLink,
        client: str,
        subscriptions: tuple[tuple[str, int], ...],
        parts: tuple[Part, ...] = (),
        *,
        credentials: Credentials | None = None,
    ) -> None:
        self.inbox: deque[tuple[float, Arrived | Change | str]] = deque()
        self.ended = threading.Event()
        self.failure: BaseException | None = None
        self._ready = threading.Event()
        self._parts = parts
        self._is_up = asyncio.Event()
        owner = Owner(
            on_message=self._put,
            on_up=self._came_up,
            on_down=lambda _: self._put(Change.DOWN),
        )
        self._link: Link = make_link(
            client, subscriptions=subscriptions, credentials=credentials, owner=owner
        )
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._work, name="wire", daemon=True)

    def start(self) -> bool:
        """Start the thread; whether link and parts were ready in time."""
        self._thread.start()
        return self._ready.wait(READY_WITHIN_S) and self.failure is None

    @property
    def why(self) -> str:
        """Why it did not start, as far as is known."""
        return str(self.failure or self._link.why or "not connected in time")

    def stop(self) -> None:
        """End everything on the loop and wait for it."""
        if self._loop is not None and self._stop is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join()

    def publish(self, topic: str, payload: bytes) -> bool:
        """Send with quality of service 1, from any thread; False where the link is down."""
        if self._loop is None or not self._link.up:
            return False
        self._loop.call_soon_threadsafe(lambda: self._link.publish(topic, payload, qos=1))
        return True

    def _came_up(self) -> None:
        self._put(Change.UP)
        self._is_up.set()

    def _put(self, what: Arrived | Change | str) -> None:
        self.inbox.append((time.monotonic(), what))

    def _work(self) -> None:
        try:
            asyncio.run(self._run())
        except Exception as error:  # noqa: BLE001 - handed to the window's thread, which raises it
            self.failure = error
        finally:
            self.ended.set()
            self._ready.set()

    async def _run(self) -> None:
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        waits: list[asyncio.Event] = []

        def is_ready() -> Callable[[], None]:
            event = asyncio.Event()
            waits.append(event)
            return event.set

        work = [asyncio.ensure_future(part.run(is_ready())) for part in self._parts]
        work.append(asyncio.ensure_future(self._link.run()))
        work.append(asyncio.ensure_future(self._up(waits)))
        told = asyncio.ensure_future(self._stop.wait())
        async with stdin_watched(self._stop.set, self._put):
            done, _ = await asyncio.wait((*work[:-1], told), return_when=asyncio.FIRST_COMPLETED)
        for task in (*work, told):
            task.cancel()
        await asyncio.gather(*work, told, return_exceptions=True)
        for task in done - {told}:
            task.result()

    async def _up(self, waits: list[asyncio.Event]) -> None:
        for event in waits:
            await event.wait()
        await self._is_up.wait()
        self._ready.set()
