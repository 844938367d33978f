"""The kit's place between a node and its broker: it looks on, holds, cuts, and lets half a packet through.

It reads MQTT 3.1.1 packets as far as the kit needs them, with no client library: what a node
sends is judged as it is on the wire.
"""

from __future__ import annotations

import asyncio
import struct
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

CONNECT, PUBLISH, PUBACK, SUBSCRIBE, DISCONNECT = 1, 3, 4, 8, 14
IDS = 65_535
SIZE_BYTES_MAX = 4


class Broken(ValueError):
    """Bytes that are no MQTT packet."""


@dataclass(frozen=True, slots=True)
class Connect:
    """How a node introduces itself to the broker."""

    level: int
    clean: bool
    client: str
    keepalive_s: int
    will_topic: str | None
    will_payload: bytes
    will_qos: int
    will_retain: bool


@dataclass(frozen=True, slots=True)
class Sent:
    """One message a node publishes, as it is on the wire."""

    topic: str
    payload: bytes
    qos: int
    retain: bool


@dataclass(slots=True)
class Watched:
    """What a node was seen to do, over all its connections."""

    connects: list[Connect] = field(default_factory=list)
    sent: list[Sent] = field(default_factory=list)
    filters: set[str] = field(default_factory=set)
    acknowledged: list[int] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)


def packets(buffer: bytearray) -> Iterator[bytes]:
    """Take every whole packet off the front of `buffer`. Raises Broken for a length no packet has."""
    while (size := _size(buffer)) is not None and len(buffer) >= size:
        yield bytes(buffer[:size])
        del buffer[:size]


def _size(buffer: bytearray) -> int | None:
    """Give the first packet's whole length, None while its header is not there."""
    length, shift = 0, 0
    for at, byte in enumerate(buffer[1 : 2 + SIZE_BYTES_MAX]):
        length |= (byte & 0x7F) << shift
        if not byte & 0x80:
            return at + 2 + length
        shift += 7
        if at + 1 == SIZE_BYTES_MAX:
            raise Broken("a packet's length of more than four bytes")
    return None


def body(packet: bytes) -> bytes:
    """Give what follows a packet's fixed header."""
    at = 1
    while packet[at] & 0x80:
        at += 1
    return packet[at + 1 :]


def _field(data: bytes, at: int) -> tuple[bytes, int]:
    (length,) = struct.unpack_from("!H", data, at)
    return data[at + 2 : at + 2 + length], at + 2 + length


def read_connect(packet: bytes) -> Connect:
    """Read a CONNECT packet."""
    data = body(packet)
    _, at = _field(data, 0)
    level, flags, keepalive_s = struct.unpack_from("!BBH", data, at)
    client, at = _field(data, at + 4)
    topic, will = b"", b""
    if flags & 0x04:
        topic, at = _field(data, at)
        will, at = _field(data, at)
    return Connect(
        level=level,
        clean=bool(flags & 0x02),
        client=client.decode(errors="replace"),
        keepalive_s=keepalive_s,
        will_topic=topic.decode(errors="replace") if flags & 0x04 else None,
        will_payload=will,
        will_qos=flags >> 3 & 0x03,
        will_retain=bool(flags & 0x20),
    )


def read_publish(packet: bytes) -> Sent:
    """Read a PUBLISH packet."""
    qos, data = packet[0] >> 1 & 0x03, body(packet)
    topic, at = _field(data, 0)
    return Sent(topic.decode(errors="replace"), data[at + 2 * bool(qos) :], qos, bool(packet[0] & 0x01))


def read_filters(packet: bytes) -> Iterator[str]:
    """Read the filters of a SUBSCRIBE packet."""
    data, at = body(packet), 2
    while at < len(data):
        topic, at = _field(data, at)
        at += 1
        yield topic.decode(errors="replace")


def _with_id(packet: bytes, moved: Callable[[int], int]) -> bytes:
    """Give a PUBLISH of quality of service 1, or a PUBACK, another packet id."""
    data = body(packet)
    at = len(packet) - len(data)
    if packet[0] >> 4 == PUBLISH:
        at += 2 + int(struct.unpack_from("!H", data)[0])
    (old,) = struct.unpack_from("!H", packet, at)
    return packet[:at] + struct.pack("!H", moved(old)) + packet[at + 2 :]


class _Way:
    """One direction of a connection: whole packets, passed on, held, or let through by half."""

    def __init__(self, pass_on: Callable[[bytes], None]) -> None:
        self._pass_on = pass_on
        self._waiting: list[bytes] = []
        self.held = False
        self.halve = False

    def take(self, packet: bytes) -> None:
        if self.held:
            self._waiting.append(packet)
        elif self.halve and packet[0] >> 4 == PUBLISH:
            half = len(packet) // 2
            self._pass_on(packet[:half])
            self._waiting.append(packet[half:])
            self.held, self.halve = True, False
        else:
            self._pass_on(packet)

    def release(self) -> None:
        """Pass on, in order and at once, what was held back."""
        self.held = self.halve = False
        self._pass_on(b"".join(self._waiting))
        self._waiting.clear()


class _Connection:
    """One client's connection through the proxy."""

    def __init__(self, node: asyncio.StreamWriter, broker: asyncio.StreamWriter, offset: int) -> None:
        self._node = node
        self._broker = broker
        self._offset = offset
        self.down = _Way(node.write)
        self.up = _Way(broker.write)

    def from_broker(self, packet: bytes) -> None:
        if packet[0] >> 4 == PUBLISH and packet[0] & 0x06 and self._offset:
            packet = _with_id(packet, lambda old: (old - 1 + self._offset) % IDS + 1)
        self.down.take(packet)

    def from_node(self, packet: bytes) -> None:
        if packet[0] >> 4 == PUBACK and self._offset:
            packet = _with_id(packet, lambda new: (new - 1 - self._offset) % IDS + 1)
        self.up.take(packet)

    def abort(self) -> None:
        self._node.transport.abort()
        self._broker.transport.abort()


class Proxy:
    """Listens where the node believes its broker to be. `changed` is called on everything seen."""

    def __init__(self, broker: tuple[str, int], changed: Callable[[], None]) -> None:
        self.broker = broker
        self._changed = changed
        self._open: set[_Connection] = set()
        self._serving: set[asyncio.Task[None]] = set()
        self._refusing = False
        self.offset = 0
        """Added to the packet ids of connections made from now on."""
        self.watched = Watched()
        self.host, self.port = "", 0

    @asynccontextmanager
    async def listening(self, host: str, port: int) -> AsyncIterator[None]:
        """Serve while the context lasts; port 0 takes a free one."""
        server = await asyncio.start_server(self._accept, host, port)
        self.host, self.port = server.sockets[0].getsockname()[:2]
        try:
            async with server:
                yield
        finally:
            self.cut(refuse=True)
            await asyncio.gather(*self._serving)

    def cut(self, *, refuse: bool = False) -> None:
        """End every connection as a network that breaks does; `refuse` new ones too."""
        self._refusing = refuse
        for connection in list(self._open):
            connection.abort()

    def hold(self) -> None:
        """Let nothing through in either direction; the connections stay open."""
        for connection in self._open:
            connection.down.held = connection.up.held = True

    def halve(self) -> None:
        """Let the next message to the node through by half, and nothing to it after that."""
        for connection in self._open:
            connection.down.halve = True

    @property
    def halved(self) -> bool:
        """Whether half a packet is pending at a node that keeps its connection."""
        return any(connection.down.held for connection in self._open)

    def restore(self) -> None:
        """Be transparent again: what was held back goes out at once, connections are taken."""
        self._refusing = False
        for connection in self._open:
            connection.down.release()
            connection.up.release()

    def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        serving = asyncio.ensure_future(self._serve(reader, writer))
        self._serving.add(serving)
        serving.add_done_callback(self._serving.discard)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._refusing:
            writer.transport.abort()
            return
        try:
            upstream_reader, upstream = await asyncio.open_connection(*self.broker)
        except OSError:
            writer.transport.abort()
            return
        connection = _Connection(writer, upstream, self.offset)
        self._open.add(connection)
        both = (
            asyncio.ensure_future(self._carry(reader, self._seen(connection))),
            asyncio.ensure_future(self._carry(upstream_reader, connection.from_broker)),
        )
        try:
            await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._open.discard(connection)
            for way in both:
                way.cancel()
            await asyncio.gather(*both, return_exceptions=True)
            writer.close()
            upstream.close()
            self._changed()

    async def _carry(self, reader: asyncio.StreamReader, take: Callable[[bytes], None]) -> None:
        buffer = bytearray()
        with suppress(OSError):
            while data := await reader.read(65_536):
                buffer += data
                try:
                    for packet in packets(buffer):
                        take(packet)
                except (Broken, struct.error, IndexError) as wrong:
                    self.watched.broken.append(str(wrong))
                    return

    def _seen(self, connection: _Connection) -> Callable[[bytes], None]:
        def take(packet: bytes) -> None:
            self._look(packet)
            connection.from_node(packet)
            self._changed()

        return take

    def _look(self, packet: bytes) -> None:
        kind = packet[0] >> 4
        if kind == CONNECT:
            self.watched.connects.append(read_connect(packet))
        elif kind == PUBLISH:
            self.watched.sent.append(read_publish(packet))
        elif kind == SUBSCRIBE:
            self.watched.filters.update(read_filters(packet))
        elif kind == PUBACK:
            self.watched.acknowledged.append(struct.unpack("!H", body(packet))[0])
