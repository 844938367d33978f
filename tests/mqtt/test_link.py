"""What only a link over the network can get wrong: a broker that hangs, dies, or never answers."""

from __future__ import annotations

import asyncio
import logging
import os
import shutil
import signal
import socket
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from signals.mqtt import link as door
from signals.mqtt.broker import Running, embedded_broker
from signals.mqtt.link import Arrived, MqttLink, Owner, pauses, user_of
from signals.mqtt.topics import Topics
from tests.mqtt.small import small_venue

VENUE = small_venue()
ASPECT = Topics.of(VENUE.id, simulated=True).name("head", "h1", "aspect")
WITHIN_S = 10.0
needs_mosquitto = pytest.mark.skipif(not shutil.which("mosquitto"), reason="mosquitto is not installed")


class Log:
    """What happened to a link, in order, to wait for."""

    def __init__(self) -> None:
        self.events: list[str] = []
        self._changed = asyncio.Event()
        self.owner = Owner(
            on_message=lambda message: self._note(message.payload.decode()),
            on_up=lambda: self._note("up"),
            on_down=lambda _: self._note("down"),
        )

    def _note(self, event: str) -> None:
        self.events.append(event)
        self._changed.set()

    async def until(self, holds: Callable[[list[str]], bool]) -> None:
        async with asyncio.timeout(WITHIN_S):
            while not holds(self.events):
                self._changed.clear()
                await self._changed.wait()


@asynccontextmanager
async def running(link: MqttLink) -> AsyncIterator[MqttLink]:
    task = asyncio.create_task(link.run())
    try:
        yield link
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def hang(broker: Running) -> None:
    """Stop the broker's process, and see it stopped: it takes nothing any more."""
    broker.process.send_signal(signal.SIGSTOP)
    os.waitid(os.P_PID, broker.process.pid, os.WSTOPPED | os.WNOWAIT)


@asynccontextmanager
async def stopped(broker: Running) -> AsyncIterator[None]:
    """The broker hangs: its connections stay open, and nothing comes back."""
    hang(broker)
    try:
        yield
    finally:
        broker.process.send_signal(signal.SIGCONT)


def test_pauses_double_from_a_tenth_to_a_second() -> None:
    pause = pauses()
    assert [round(next(pause), 3) for _ in range(6)] == [0.1, 0.2, 0.4, 0.8, 1.0, 1.0]


def test_the_user_stands_before_the_slash() -> None:
    assert [user_of(client) for client in ("node-n1", "post-p1.window")] == ["node-n1", "post-p1"]


@pytest.mark.broker
@needs_mosquitto
async def test_a_broker_that_does_not_acknowledge_counts_as_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "TIMEOUT_S", 0.3)
    log = Log()
    async with (
        embedded_broker(VENUE, tmp_path, "mosquitto") as broker,
        running(broker.link("controller", owner=log.owner)) as link,
    ):
        await log.until(lambda events: events == ["up"])
        async with stopped(broker):
            assert link.publish(ASPECT, b"x", qos=1) is True
            await log.until(lambda events: events == ["up", "down"])
            assert link.publish(ASPECT, b"y", qos=1) is False
        await log.until(lambda events: events == ["up", "down", "up"])


@pytest.mark.broker
@needs_mosquitto
async def test_more_than_the_broker_takes_counts_as_lost_and_memory_stays_bounded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "OUT_MAX", 50)
    log = Log()
    async with (
        embedded_broker(VENUE, tmp_path, "mosquitto") as broker,
        running(broker.link("controller", owner=log.owner)) as link,
    ):
        await log.until(lambda events: events == ["up"])
        async with stopped(broker):
            taken = [link.publish(ASPECT, b"x", qos=1) for _ in range(60)]
            assert taken == [True] * 50 + [False] * 10
            await log.until(lambda events: "down" in events)


@pytest.mark.broker
@needs_mosquitto
async def test_what_a_dead_broker_did_not_take_is_not_sent_to_the_next(tmp_path: Path) -> None:
    said, heard = Log(), Log()
    async with embedded_broker(VENUE, tmp_path, "mosquitto") as first:
        says = first.link("controller", owner=said.owner)
        reads = first.link("node-n1", subscriptions=((ASPECT, 1),), owner=heard.owner)
        async with running(says), running(reads):
            await said.until(lambda events: events == ["up"])
            await heard.until(lambda events: events == ["up"])
            hang(first)
            assert says.publish(ASPECT, b"green of before", qos=1, retain=True) is True
            await asyncio.sleep(0)
            first.process.kill()
            await first.process.wait()
            async with embedded_broker(VENUE, tmp_path, "mosquitto", port=first.port):
                await said.until(lambda events: events == ["up", "down", "up"])
                await heard.until(lambda events: events == ["up", "down", "up"])
                says.publish(ASPECT, b"red", qos=1, retain=True)
                await heard.until(lambda events: len(events) > 3)
                assert heard.events == ["up", "down", "up", "red"]


@pytest.mark.broker
@needs_mosquitto
async def test_nothing_is_asked_of_a_socket_that_is_closed(tmp_path: Path) -> None:
    """A turn later its number may be another connection's, which would hear nothing any more."""
    wrong: list[object] = []
    asyncio.get_running_loop().set_exception_handler(lambda _, about: wrong.append(about["exception"]))
    log = Log()
    async with embedded_broker(VENUE, tmp_path, "mosquitto") as broker:
        link = broker.link("controller", owner=log.owner)
        async with running(link):
            await log.until(lambda events: events == ["up"])
            hang(broker)
            while link.up and link._mqtt is not None and not link._mqtt._client.want_write():
                link.publish(ASPECT, b"x" * 16_384, qos=1)  # until it must wait for room
            broker.process.kill()
            while link.publish(ASPECT, b"x", qos=0):
                pass
            await broker.kill()
            await broker.start_again()
            await log.until(lambda events: events == ["up", "down", "up"])
    assert wrong == []


async def test_it_can_be_cancelled_while_a_server_keeps_it_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "TIMEOUT_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        silent.setblocking(False)
        link = MqttLink("127.0.0.1", silent.getsockname()[1], "node-n1")
        before = asyncio.all_tasks()
        async with running(link):
            connection, _ = await asyncio.get_running_loop().sock_accept(silent)
        connection.close()
        assert not link.up
        left = asyncio.all_tasks() - before
        for task in left:
            await asyncio.wait_for(asyncio.gather(task, return_exceptions=True), WITHIN_S)


class Refusals(logging.Handler):
    """Collects what is logged."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(record.getMessage())


async def test_why_it_cannot_connect_is_said_once(monkeypatch: pytest.MonkeyPatch) -> None:
    attempts, thrice = iter(range(3)), asyncio.Event()

    async def refused(_: MqttLink) -> tuple[bool, str]:
        if next(attempts, None) is None:
            thrice.set()
        return False, "not authorised"

    monkeypatch.setattr(MqttLink, "_attempt", refused)
    refusals = Refusals()
    logging.getLogger(door.__name__).addHandler(refusals)
    link = MqttLink("127.0.0.1", 1, "node-n1")
    async with running(link), asyncio.timeout(WITHIN_S):
        await thrice.wait()
    logging.getLogger(door.__name__).removeHandler(refusals)
    assert refusals.said == ["node-n1: 127.0.0.1:1: not authorised"]
    assert link.why == "not authorised"


async def test_nobody_listening_is_a_reason_not_a_crash() -> None:
    with socket.socket() as unheard:
        unheard.bind(("127.0.0.1", 0))
        link = MqttLink("127.0.0.1", unheard.getsockname()[1], "node-n1")
        assert await link._attempt() == (False, "Connection refused")


@pytest.mark.broker
@needs_mosquitto
async def test_small_messages_are_sent_at_once(tmp_path: Path) -> None:
    log = Log()
    async with (
        embedded_broker(VENUE, tmp_path, "mosquitto") as broker,
        running(broker.link("controller", owner=log.owner)) as link,
    ):
        await log.until(lambda events: events == ["up"])
        sock = link._mqtt._client.socket()  # type: ignore[union-attr]
        assert isinstance(sock, socket.socket)
        assert sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0


def test_arrived_says_what_is_old() -> None:
    assert not Arrived("t", b"").retained
