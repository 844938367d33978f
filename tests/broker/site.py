"""A real mosquitto with what `kerblight wiring keys` wrote, and clients with certificates of it."""

from __future__ import annotations

import asyncio
import getpass
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from signals.mqtt.keys import Keys
from signals.mqtt.link import Arrived, MqttLink, Owner, user_of
from signals.venue.model import Venue
from signals.wiring.keys.folder import KeyFolder

WITHIN_S = 15.0


def make_keys(
    folder: Path, venue: Venue, now: datetime | None = None, *, revoke: Sequence[str] = (), **site: object
) -> None:
    """Do what `kerblight wiring keys` does."""
    kept = KeyFolder(folder, venue, now or datetime.now(UTC))
    kept.open(None)
    asked = msgspec.structs.replace(kept.book.site, **site)
    kept.settle(asked, renew=False, revoke=frozenset(revoke), days=30)


@asynccontextmanager
async def mosquitto(folder: Path, port: int) -> AsyncIterator[asyncio.subprocess.Process]:
    """Run mosquitto with `broker/mosquitto.conf` as it was written; as root it is told to stay root."""
    conf = folder / "broker.conf"
    written = (folder / "broker/mosquitto.conf").read_text(encoding="utf-8")
    conf.write_text(f"user {getpass.getuser()}\n{written}", encoding="utf-8")
    async with running(conf, port) as process:
        yield process


@asynccontextmanager
async def running(conf: Path, port: int) -> AsyncIterator[asyncio.subprocess.Process]:
    """Run mosquitto with a configuration."""
    log = conf.with_suffix(".log")
    with log.open("wb") as said:
        process = await asyncio.create_subprocess_exec("mosquitto", "-c", str(conf), stderr=said, stdout=said)
    try:
        async with asyncio.timeout(WITHIN_S):
            while True:
                assert process.returncode is None, log.read_text(encoding="utf-8")
                with suppress(OSError):
                    _, writer = await asyncio.open_connection("127.0.0.1", port)
                    writer.close()
                    await writer.wait_closed()
                    break
                await asyncio.sleep(0.02)
        yield process
    finally:
        if process.returncode is None:
            process.terminate()
        await process.wait()


def holder_of(folder: Path, user: str) -> str:
    """Give a holder that speaks as a user."""
    return next(file.parent.name for file in sorted(folder.glob(f"*/{user}.crt")))


class Ear:
    """One client with a certificate, as any process is one: what came, and whether it is up."""

    def __init__(self, folder: Path, port: int, client: str, *topics: str, at: str = "") -> None:
        holder = at or holder_of(folder, user_of(client))
        self.heard: list[tuple[str, bytes]] = []
        self.ups = 0
        self._changed = asyncio.Event()
        self.link = MqttLink(
            "localhost",
            port,
            client,
            subscriptions=tuple((topic, 1) for topic in topics),
            owner=Owner(self._take, self._rise, self._fall),
            tls=Keys(folder, holder).pair(client).context,
        )

    def _take(self, message: Arrived) -> None:
        self.heard.append((message.topic, message.payload))
        self._changed.set()

    def _rise(self) -> None:
        self.ups += 1
        self._changed.set()

    def _fall(self, _: str) -> None:
        self._changed.set()

    def say(self, topic: str, payload: bytes = b"{}", *, retain: bool = False) -> None:
        """Publish; whether it was denied nobody is told."""
        assert self.link.publish(topic, payload, qos=1, retain=retain)

    async def until(self, holds: Callable[[], object], within_s: float = WITHIN_S) -> None:
        """Wait until something holds, looking again whenever anything happened here."""
        async with asyncio.timeout(within_s):
            while not holds():
                self._changed.clear()
                await self._changed.wait()


@asynccontextmanager
async def joined(*ears: Ear) -> AsyncIterator[None]:
    """Have clients on the broker, all up at the beginning."""
    running = [asyncio.create_task(ear.link.run()) for ear in ears]
    try:
        for ear in ears:
            await ear.until(lambda ear=ear: ear.ups)  # type: ignore[misc]
        yield
    finally:
        for each in running:
            each.cancel()
        await asyncio.gather(*running, return_exceptions=True)
