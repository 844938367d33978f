"""The one door to MQTT: what every participant holds (`Link`), and the one over the network (`MqttLink`).

A `Link` is one client's connection. It renews its subscriptions whenever it comes up, tells its
owner of coming up and going down, hands over messages one at a time, and queues nothing while
it is down: what an absent broker did not take is gone, and the owner says it anew on `on_up`.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Any, cast

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
    """One client's connection; `run` keeps it up until cancelled.

    Attributes:
        up: whether it is connected and subscribed.
        why: why the last attempt to connect failed; "" before one did, and while it is up.

    """

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
        self.why = ""

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
"""Messages handed over and not yet acknowledged; more means the same."""
NODELAY = ((socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),)
"""Without it a small message waits for the acknowledgement of the one before: 44 to 88 ms."""

_LOG = logging.getLogger(__name__)
_QUIET = logging.getLogger(f"{__name__}.client")
_QUIET.setLevel(logging.CRITICAL)


class _Door(asyncio.Queue[aiomqtt.Message]):
    """The client's queue of arrived messages that keeps none once it is open: each is handed on a turn later.

    A queue emptied by a task costs more turns of the loop, and has no bound. In the same turn it may not
    be: the client is within its own callback then, and nothing could be written from there.
    """

    def __init__(self) -> None:
        super().__init__()
        self._hand_on: Callable[[aiomqtt.Message], None] | None = None

    def open(self, hand_on: Callable[[aiomqtt.Message], None]) -> None:
        """Hand on what has come, in order, and from now on whatever comes."""
        self._hand_on = hand_on
        while not self.empty():
            self.put_nowait(self.get_nowait())

    def close(self) -> None:
        """Hand on nothing more."""
        self._hand_on = None

    def put_nowait(self, message: aiomqtt.Message) -> None:
        """Take an arrived message."""
        if self._hand_on is None:
            super().put_nowait(message)
        else:
            asyncio.get_running_loop().call_soon(self._hand_on, message)


class _Client(aiomqtt.Client):
    """aiomqtt's client with publishing that waits for nothing, and costs no task for every message.

    QoS 0 is the latest value of something and is written at once; what else is handed over in one
    turn of the loop goes out together.

    Its socket is watched only while it is open: aiomqtt asks for that a turn later, when the socket may
    be closed and its number another connection's, which would then hear nothing any more.
    """

    def __init__(self, *args: Any, **settings: Any) -> None:
        self.door = _Door()
        super().__init__(*args, queue_type=cast("Any", lambda **_: self.door), **settings)
        self._since_s: dict[int, float] = {}
        self._flushing: asyncio.Handle | None = None

    @property
    def unacknowledged(self) -> int:
        """How many messages the broker has not acknowledged yet."""
        return len(self._since_s)

    @property
    def overdue(self) -> bool:
        """Whether the broker owes an acknowledgement for longer than the timeout."""
        oldest_s = next(iter(self._since_s.values()), self._loop.time())
        return self._loop.time() - oldest_s > self.timeout

    def hand_over(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> None:
        """Publish without waiting. Raises MqttError where the client takes nothing more."""
        info = self._client.publish(topic, payload, qos, retain)
        if info.rc:
            raise aiomqtt.MqttError(f"could not publish: {info.rc.name}")
        if not qos:
            self._flush()
            return
        self._since_s[info.mid] = self._loop.time()
        if self._flushing is None:
            self._flushing = self._loop.call_soon(self._flush)

    def _flush(self) -> None:
        """Write all that was handed over, as few segments as it fits in where the system can."""
        if self._flushing is not None:
            self._flushing.cancel()
            self._flushing = None
        carrier = self._client.socket()
        if carrier is None:
            return
        with _corked(carrier):
            self._client.loop_write()

    def _on_socket_open(self, client: Any, userdata: Any, sock: Any) -> None:
        del client, userdata
        self._in_loop(sock, partial(self._begin, sock))

    def _begin(self, sock: Any) -> None:
        self._loop.add_reader(sock, self._read)
        self._misc_task = self._loop.create_task(self._misc_loop())

    def _on_socket_register_write(self, client: Any, userdata: Any, sock: Any) -> None:
        del client, userdata
        self._in_loop(sock, partial(self._loop.add_writer, sock, partial(self._write, sock)))

    def _on_socket_unregister_write(self, client: Any, userdata: Any, sock: Any) -> None:
        del client, userdata
        self._in_loop(sock, partial(self._loop.remove_writer, sock))

    def _in_loop(self, sock: Any, act: Callable[[], object]) -> None:
        """Act on an open socket: at once on the loop's own thread; while it connects it is on another."""
        try:
            own = asyncio.get_running_loop() is self._loop
        except RuntimeError:
            own = False
        if own:
            act()
        else:
            self._loop.call_soon_threadsafe(lambda: act() if sock.fileno() >= 0 else None)

    def _read(self) -> None:
        with self._breaking():
            self._client.loop_read()
            while getattr(self._client.socket(), "pending", int)():  # decoded already: no selector knows
                self._client.loop_read()

    def _write(self, sock: Any) -> None:
        with self._breaking():
            self._client.loop_write()
            if not self._client.want_write() and sock.fileno() >= 0:
                self._loop.remove_writer(sock)

    @contextmanager
    def _breaking(self) -> Iterator[None]:
        """Let what goes wrong end the connection."""
        try:
            yield
        except Exception as error:  # noqa: BLE001 - handed to whoever serves the connection
            if not self._disconnected.done():
                self._disconnected.set_exception(error)

    def _on_publish(self, client: Any, userdata: Any, mid: int, reason_code: Any, properties: Any) -> None:
        self._since_s.pop(mid, None)
        super()._on_publish(client, userdata, mid, reason_code, properties)


@contextmanager
def _corked(carrier: Any) -> Iterator[None]:
    """Let the system gather what is written meanwhile, and send it at the end (Linux: TCP_CORK)."""
    cork = getattr(socket, "TCP_CORK", None)
    if cork is None:
        yield
        return
    with suppress(OSError):
        carrier.setsockopt(socket.IPPROTO_TCP, cork, 1)
    try:
        yield
    finally:
        with suppress(OSError):
            carrier.setsockopt(socket.IPPROTO_TCP, cork, 0)


class MqttLink(Link):
    """A link over the network: MQTT 3.1.1, clean session, one client object for each connection.

    A client that is used again would send anew what it still holds of the last connection: an
    aspect long out of date. So each attempt to connect begins with a fresh one, and with fresh `tls`: a
    certificate renewed on the disk counts from the next connection on.

    Attributes:
        keepalive_s: how long it may be silent, as the broker is told; for connections made from then on.

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
        tls: Callable[[], ssl.SSLContext] | None = None,
    ) -> None:
        super().__init__(client, subscriptions=subscriptions, will=will, credentials=credentials, owner=owner)
        self.host = host
        self.port = port
        self.keepalive_s = KEEPALIVE_S
        self._tls = tls
        self._mqtt: _Client | None = None
        self._stalled: asyncio.Future[str] | None = None

    async def run(self) -> None:
        """Keep connected until cancelled; an exception of the owner's callbacks ends it."""
        pause = pauses()
        while True:
            was_up, reason = await self._attempt()
            if was_up:
                pause = pauses()
                self.owner.on_down(reason)
            elif reason != self.why:
                self.why = reason
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
            return was_up, _said(lost)

    @asynccontextmanager
    async def _connection(self) -> AsyncIterator[_Client]:
        """Enter the client and leave it whatever happens: also when cancelled while it connects."""
        try:
            mqtt = self._fresh()
        except OSError as unread:
            raise aiomqtt.MqttError(f"the keys cannot be used: {unread}") from unread
        entering = asyncio.ensure_future(mqtt.__aenter__())
        try:
            yield await asyncio.shield(entering)
        finally:
            with suppress(aiomqtt.MqttError):
                await entering
            with suppress(aiomqtt.MqttError):
                await mqtt.__aexit__(None, None, None)

    def _fresh(self) -> _Client:
        will, known = self.will, self.credentials
        return _Client(
            self.host,
            self.port,
            identifier=self.client,
            username=known.user if known else None,
            password=known.password if known else None,
            will=aiomqtt.Will(will.topic, will.payload, will.qos, will.retain) if will else None,
            clean_session=True,
            keepalive=self.keepalive_s,
            timeout=TIMEOUT_S,
            max_inflight_messages=OUT_MAX,
            socket_options=NODELAY,
            tls_context=self._tls() if self._tls else None,
            logger=_QUIET,
        )

    async def _subscribe(self, mqtt: _Client) -> None:
        if not self.subscriptions:
            return
        granted = await mqtt.subscribe(list(self.subscriptions))
        for (topic_filter, _), code in zip(self.subscriptions, granted, strict=True):
            if getattr(code, "is_failure", False):
                raise aiomqtt.MqttError(f"the broker refuses to subscribe {topic_filter}")

    async def _serve(self, mqtt: _Client) -> str:
        """Be up: hand over messages until the connection is lost or stalls."""
        self._mqtt = mqtt
        self._stalled = asyncio.get_running_loop().create_future()
        watching = {asyncio.create_task(_lost(mqtt)), asyncio.create_task(self._acknowledged(mqtt))}
        self.up, self.why = True, ""
        try:
            self.owner.on_up()
            mqtt.door.open(self._take)
            ends: set[asyncio.Future[Any]] = {*watching, self._stalled}
            await asyncio.wait(ends, return_when=asyncio.FIRST_COMPLETED)
            for ended in (task for task in watching if task.done()):
                ended.result()
            return self._stalled.result()
        finally:
            self.up = False
            self._mqtt = None
            mqtt.door.close()
            await _end(watching)

    def _take(self, message: aiomqtt.Message) -> None:
        """Hand a message to the owner, while up; an exception of the owner's ends the link."""
        if not self.up:
            return
        payload = message.payload if isinstance(message.payload, bytes) else b""
        try:
            self.owner.on_message(
                Arrived(str(message.topic), payload, qos=message.qos, retained=bool(message.retain))
            )
        except Exception as error:  # noqa: BLE001 - it is handed to whoever runs the link
            if self._stalled and not self._stalled.done():
                self._stalled.set_exception(error)

    async def _acknowledged(self, mqtt: _Client) -> None:
        """Watch until the broker owes an acknowledgement for too long."""
        while True:
            await asyncio.sleep(TIMEOUT_S / 4)
            if mqtt.overdue:
                raise aiomqtt.MqttError("the broker does not acknowledge")

    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        if self._mqtt is None or self._mqtt.unacknowledged >= OUT_MAX:
            self._stall("the broker takes no more messages")
            return False
        try:
            self._mqtt.hand_over(topic, payload, qos=qos, retain=retain)
        except aiomqtt.MqttError as lost:
            self._stall(str(lost))
            return False
        return True

    def _stall(self, reason: str) -> None:
        self.up = False
        if self._stalled and not self._stalled.done():
            self._stalled.set_result(reason)


def _said(lost: aiomqtt.MqttError) -> str:
    """Say why in words: the system's own, without its number, where the client only repeats them."""
    system = lost.__context__ if lost.__cause__ is None else None
    return (system.strerror if isinstance(system, OSError) else None) or str(lost)


async def _lost(mqtt: _Client) -> None:
    """Wait until the connection is lost; raises MqttError then. The door keeps messages from coming here."""
    async for _ in mqtt.messages:
        pass


async def _end(tasks: set[asyncio.Task[None]]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
