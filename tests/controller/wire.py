"""A controller on a bare wire: what it says is kept in order, what it hears is put in by the test."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from signals.clock import Clock
from signals.controller.service import Controller
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import Call, Message, State
from signals.mqtt.link import Arrived, Link
from signals.mqtt.topics import Topics
from signals.words import Word
from tests.controller.made import harbour
from tests.controller.town import UTC_MS, FailingJournal

TOPICS = Topics.of(harbour().id, simulated=True)


class Wire(Link):
    """A link that is always up and keeps what is sent."""

    def __init__(self, client: str, **more: Any) -> None:
        super().__init__(client, **more)
        self.sent: list[tuple[str, bytes]] = []
        self._news = asyncio.Event()

    async def run(self) -> None:
        self.up = True
        self.owner.on_up()
        await asyncio.Event().wait()

    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        del qos, retain
        self.sent.append(("/".join(TOPICS.split(topic)), payload))
        self._news.set()
        return True

    async def until(self, holds: Callable[[], bool]) -> None:
        async with asyncio.timeout(5):
            while not holds():
                self._news.clear()
                await self._news.wait()

    def hear(self, topic: str, message: Message | bytes, *, retained: bool = False) -> None:
        payload = message if isinstance(message, bytes) else encode(message)
        self.owner.on_message(Arrived(TOPICS.name(topic), payload, 1, retained))

    def call(self, post: str, word: str, **fields: Any) -> None:
        self.hear(f"call/{post}", Call(call=Word(word), **{"id": f"{post}-{word}"} | fields))

    def topics(self) -> list[str]:
        return [topic for topic, _ in self.sent]

    def last(self, topic: str) -> bytes:
        return next(payload for said, payload in reversed(self.sent) if said == topic)

    @property
    def state(self) -> State:
        return decode(State, self.last("state"))


@asynccontextmanager
async def wired(
    folder: Path, *, utc_ms: int = UTC_MS, **more: Any
) -> AsyncIterator[tuple[Wire, FailingJournal]]:
    """Run a controller on a wire."""
    journal = FailingJournal(folder / "journal.sqlite")
    wires: list[Wire] = []

    def make_link(client: str, **kwargs: Any) -> Wire:
        wires.append(Wire(client, **kwargs))
        return wires[-1]

    part = Controller(harbour(), make_link, journal=journal, clock=Clock(lambda: utc_ms), **more)
    ready = asyncio.Event()
    run = asyncio.create_task(part.run(ready.set))
    waiting = asyncio.create_task(ready.wait())
    await asyncio.wait((run, waiting), return_when=asyncio.FIRST_COMPLETED)
    waiting.cancel()
    try:
        if not run.done():
            yield wires[0], journal
    finally:
        run.cancel()
        (end,) = await asyncio.gather(run, return_exceptions=True)
        if isinstance(end, Exception):
            raise end
