"""MQTT 3.1.1 by hand on a bare socket: the least that a client could do, for floors and for watching.

Clauses are of OASIS MQTT 3.1.1. Blocking, one thread, QoS 0 and 1; no reconnecting, no will.
"""

from __future__ import annotations

import socket
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from signals.mqtt.link import NODELAY, Credentials

KEEPALIVE_S = 0
"""Turned off (3.1.2.10): nothing here pings."""


@dataclass(frozen=True, slots=True)
class Publish:
    """One message, as it is written and as it comes."""

    topic: str
    payload: bytes
    qos: int = 0
    retain: bool = False


class Bare:
    """One connection, connected and subscribed when made."""

    def __init__(
        self,
        host: str,
        port: int,
        client: str,
        subscriptions: Iterable[tuple[str, int]] = (),
        credentials: Credentials | None = None,
    ) -> None:
        self.socket = socket.create_connection((host, port))
        for level, option, value in NODELAY:
            self.socket.setsockopt(level, option, value)
        self.retained: list[Publish] = []
        """What came before all subscriptions were granted."""
        self._left = b""
        self._packet_id = 0
        self.socket.sendall(_connect(client, credentials))
        assert self._answered() == b"\x20\x02\x00\x00", "the broker refuses the connection"
        for topic, qos in subscriptions:
            self.socket.sendall(_subscribe(self._next_id(), topic, qos))
            assert self._answered()[-1] < 0x80, f"the broker refuses to subscribe {topic}"

    def packets(self, publishes: Iterable[Publish]) -> bytes:
        """Write messages into one string of bytes, each with a packet id of its own where it needs one."""
        return b"".join(_publish(each, self._next_id() if each.qos else 0) for each in publishes)

    def send(self, publishes: Iterable[Publish]) -> None:
        """Write messages in one go."""
        self.socket.sendall(self.packets(publishes))

    def receive(self) -> Iterator[Publish]:
        """Take what is there, wait if nothing is; acknowledge, and give the messages in it."""
        self._read()
        while packet := self._packet():
            if packet[0] >> 4 == 3:
                yield self._taken(packet)

    def close(self) -> None:
        """End the connection in good order (3.14)."""
        self.socket.sendall(b"\xe0\x00")
        self.socket.close()

    def _taken(self, packet: bytes) -> Publish:
        qos = packet[0] >> 1 & 3
        body = packet[1 + _length_bytes(packet) :]
        size = int.from_bytes(body[:2], "big")
        topic, rest = body[2 : 2 + size].decode(), body[2 + size :]
        if qos:
            self.socket.sendall(b"\x40\x02" + rest[:2])
            rest = rest[2:]
        return Publish(topic, rest, qos, bool(packet[0] & 1))

    def _answered(self) -> bytes:
        """Wait for one packet that is no message; what is retained may come in between."""
        while True:
            while packet := self._packet():
                if packet[0] >> 4 != 3:
                    return packet
                self.retained.append(self._taken(packet))
            self._read()

    def _read(self) -> None:
        came = self.socket.recv(65_536)
        if not came:
            raise ConnectionError("the broker ended the connection")
        self._left += came

    def _packet(self) -> bytes:
        """Cut the first whole packet off what has come; empty where there is none yet."""
        header = 1 + _length_bytes(self._left)
        size = header + _length(self._left)
        if header == 1 or len(self._left) < size:
            return b""
        packet, self._left = self._left[:size], self._left[size:]
        return packet

    def _next_id(self) -> int:
        self._packet_id = self._packet_id % 65_535 + 1
        return self._packet_id


def _length_bytes(packet: bytes) -> int:
    """Count the bytes of the remaining length (2.2.3); 0 while it is not all there."""
    for count, byte in enumerate(packet[1:5], 1):
        if byte < 0x80:
            return count
    return 0


def _length(packet: bytes) -> int:
    return sum((packet[n + 1] & 0x7F) << 7 * n for n in range(_length_bytes(packet)))


def _text(text: str) -> bytes:
    raw = text.encode()
    return len(raw).to_bytes(2, "big") + raw


def _framed(kind: int, body: bytes) -> bytes:
    length, size = bytearray(), len(body)
    while True:
        size, digit = divmod(size, 128)
        length.append(digit | (0x80 if size else 0))
        if not size:
            return bytes((kind, *length)) + body


def _connect(client: str, known: Credentials | None) -> bytes:
    flags = 0x02 | (0xC0 if known else 0)
    body = _text("MQTT") + bytes((4, flags)) + KEEPALIVE_S.to_bytes(2, "big") + _text(client)
    return _framed(0x10, body + (_text(known.user) + _text(known.password) if known else b""))


def _subscribe(packet_id: int, topic: str, qos: int) -> bytes:
    return _framed(0x82, packet_id.to_bytes(2, "big") + _text(topic) + bytes((qos,)))


def _publish(message: Publish, packet_id: int) -> bytes:
    kind = 0x30 | message.qos << 1 | message.retain
    middle = packet_id.to_bytes(2, "big") if message.qos else b""
    return _framed(kind, _text(message.topic) + middle + message.payload)
