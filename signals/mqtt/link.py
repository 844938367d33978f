"""The one door to MQTT: what every participant holds (`Link`), and the one over the network (`MqttLink`).

A `Link` is one client's connection. It renews its subscriptions whenever it comes up, tells its
owner of coming up and going down, hands over messages one at a time, and queues nothing while
it is down: what an absent broker did not take is gone, and the owner says it anew on `on_up`.
"""

from __future__ import annotations

import asyncio
import logging
import socket
from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

import aiomqtt


@dataclass(frozen=True, slots=True)
class Arrived:
    """A message as it came: `retained` is the broker's mark that it is old."""

    topic: str
    payload: bytes
    qos: int = 0
    retained: bool = False


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker says for a client that vanished; for reporting only."""

    topic: str
    payload: bytes
    qos: int = 1
    retain: bool = True


@dataclass(frozen=True, slots=True)
class Credentials:
    """A user known to the broker's access list; the topic is the identity."""

    user: str
    password: str = field(repr=False)


def user_of(client: str) -> str:
    """Give the user a client id belongs to: `post-p1` of `post-p1` and of `post-p1.window`.

    A dot, for the wheel's broker dies of a client id with a slash.
    """
    return client.partition(".")[0]


def _nothing(_: object = None) -> None:
    return None


@dataclass(slots=True)
class Owner:
    """What a link calls back. All run on the event loop and must not block.

    `on_message` an arrived message; `on_up` connected and subscribed; `on_down` with the reason.
    """

    on_message: Callable[[Arrived], None] = _nothing
    on_up: Callable[[], None] = _nothing
    on_down: Callable[[str], None] = _nothing


RETRY_FIRST_S = 0.1
RETRY_LAST_S = 1.0


def pauses() -> Iterator[float]:
    """Seconds to wait before each next attempt to connect: 0.1, doubling, at most 1."""
    pause = RETRY_FIRST_S
    while True:
        yield pause
        pause = min(2 * pause, RETRY_LAST_S)


class Link(ABC):
    """One client's connection; `run` keeps it up until cancelled."""

    def __init__(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> None:
        self.client = client
        self.subscriptions = subscriptions
        self.will = will
        self.credentials = credentials
        self.owner = owner or Owner()
        self.up = False

    @abstractmethod
    async def run(self) -> None:
        """Connect, subscribe, hand over messages; on loss reconnect (`pauses`). Ends by cancellation."""

    def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> bool:
        """Send without waiting, in order; False (and nothing queued) while the link is down.

        True means handed over, not taken: a publish that the access list denies looks the same.
        Raises ValueError for a topic no broker would take and for a `qos` other than 0 or 1.
        """
        if not topic or set(topic) & set("+#\0") or qos not in (0, 1):
            raise ValueError(f"cannot publish on {topic!r} with qos {qos}")
        return self.up and self._send(topic, payload, qos=qos, retain=retain)

    @abstractmethod
    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        """Hand one checked message to the carrier, which is up; False if it takes no more."""


KEEPALIVE_S = 3
"""A client silent for 1.5 times as long is given up by its broker, and its will is said."""
TIMEOUT_S = 2.0
"""A broker that does not acknowledge within so long is not serving: connect anew."""
OUT_MAX = 2_000
"""Messages handed over and not yet taken; more means the same."""
IN_MAX = 10_000
"""Messages received and not yet handed to the owner; the client drops what comes on top."""

NODELAY = ((socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),)
"""Without it a small message waits for the acknowledgement of the one before: 44 to 88 ms."""

_LOG = logging.getLogger(__name__)
_QUIET = logging.getLogger(f"{__name__}.client")
_QUIET.setLevel(logging.CRITICAL)


class MqttLink(Link):
    """A link over the network: MQTT 3.1.1, clean session, one client object for each connection.

    A client that is used again would send anew what it still holds of the last connection: an
    aspect long out of date. So each attempt to connect begins with a fresh one.
    """

    def __init__(
        self,
        host: str,
        port: int,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> None:
        super().__init__(client, subscriptions=subscriptions, will=will, credentials=credentials, owner=owner)
        self.host = host
        self.port = port
        self._mqtt: aiomqtt.Client | None = None
        self._sending: set[asyncio.Task[None]] = set()
        self._stalled: asyncio.Future[str] | None = None

    async def run(self) -> None:
        """Keep connected until cancelled; an exception of the owner's callbacks ends it."""
        pause, said = pauses(), ""
        while True:
            was_up, reason = await self._attempt()
            if was_up:
                pause, said = pauses(), ""
                self.owner.on_down(reason)
            elif reason != said:
                said = reason
                _LOG.warning("%s: %s:%d: %s", self.client, self.host, self.port, reason)
            await asyncio.sleep(next(pause))

    async def _attempt(self) -> tuple[bool, str]:
        """Connect and serve until the connection ends; tells whether it was ever up, and why it ended."""
        was_up = False
        try:
            async with self._connection() as mqtt:
                await self._subscribe(mqtt)
                was_up = True
                return was_up, await self._serve(mqtt)
        except aiomqtt.MqttError as lost:
            return was_up, str(lost)

    @asynccontextmanager
    async def _connection(self) -> AsyncIterator[aiomqtt.Client]:
        """Enter the client and leave it whatever happens: also when cancelled while it connects."""
        mqtt = self._fresh()
        entering = asyncio.ensure_future(mqtt.__aenter__())
        try:
            yield await asyncio.shield(entering)
        finally:
            with suppress(aiomqtt.MqttError):
                await entering
            with suppress(aiomqtt.MqttError):
                await mqtt.__aexit__(None, None, None)

    def _fresh(self) -> aiomqtt.Client:
        will, known = self.will, self.credentials
        return aiomqtt.Client(
            self.host,
            self.port,
            identifier=self.client,
            username=known.user if known else None,
            password=known.password if known else None,
            will=aiomqtt.Will(will.topic, will.payload, will.qos, will.retain) if will else None,
            clean_session=True,
            keepalive=KEEPALIVE_S,
            timeout=TIMEOUT_S,
            max_queued_incoming_messages=IN_MAX,
            max_inflight_messages=OUT_MAX,
            socket_options=NODELAY,
            logger=_QUIET,
        )

    async def _subscribe(self, mqtt: aiomqtt.Client) -> None:
        if not self.subscriptions:
            return
        granted = await mqtt.subscribe(list(self.subscriptions))
        for (topic_filter, _), code in zip(self.subscriptions, granted, strict=True):
            if getattr(code, "is_failure", False):
                raise aiomqtt.MqttError(f"the broker refuses to subscribe {topic_filter}")

    async def _serve(self, mqtt: aiomqtt.Client) -> str:
        """Be up: hand over messages until the connection is lost or stalls."""
        self._mqtt = mqtt
        self._stalled = asyncio.get_running_loop().create_future()
        receiving = asyncio.create_task(self._receive(mqtt))
        self.up = True
        try:
            self.owner.on_up()
            await asyncio.wait((receiving, self._stalled), return_when=asyncio.FIRST_COMPLETED)
            if receiving.done():
                receiving.result()
            return self._stalled.result()
        finally:
            self.up = False
            self._mqtt = None
            await _end({receiving, *self._sending})

    async def _receive(self, mqtt: aiomqtt.Client) -> None:
        async for message in mqtt.messages:
            payload = message.payload if isinstance(message.payload, bytes) else b""
            self.owner.on_message(
                Arrived(str(message.topic), payload, qos=message.qos, retained=bool(message.retain))
            )

    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        if self._mqtt is None or len(self._sending) >= OUT_MAX:
            self._stall("the broker takes no more messages")
            return False
        sending = asyncio.create_task(self._mqtt.publish(topic, payload, qos=qos, retain=retain))
        self._sending.add(sending)
        sending.add_done_callback(self._sent)
        return True

    def _sent(self, sending: asyncio.Task[None]) -> None:
        """Count it as gone; a message the broker did not acknowledge ends the connection."""
        self._sending.discard(sending)
        if not sending.cancelled() and (lost := sending.exception()):
            self._stall(str(lost))

    def _stall(self, reason: str) -> None:
        self.up = False
        if self._stalled and not self._stalled.done():
            self._stalled.set_result(reason)


async def _end(tasks: set[asyncio.Task[None]]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
