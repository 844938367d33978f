"""A few MQTT 3.1.1 packets on a socket of one's own: a client library would hide what is measured here.

The topic that is written to is none of the contract: whoever is subscribed there, no part of kerblight is.
"""

from __future__ import annotations

import socket
import ssl
import struct
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

WAIT_S = 3.0
QUIET_S = 0.3
"""So long an answer that is not to come is waited for."""
HEARD_MAX = 1000
QOS_1 = 1
_CONNACK, _PUBLISH, _PUBACK, _SUBACK = 2, 3, 4, 9
_QUICKACK = getattr(socket, "TCP_QUICKACK", None)


class Refused(OSError):
    """The broker does not let this client in."""


@dataclass(slots=True)
class Probe:
    """One connection, connected."""

    carrier: socket.socket
    _rest: bytes = b""
    _heard: deque[bytes] = field(default_factory=lambda: deque(maxlen=HEARD_MAX))

    def subscribe(self, topic: str) -> bool:
        """Subscribe; False where the broker says no."""
        self._send(0x82, struct.pack(">H", 1) + _text(topic) + bytes((QOS_1,)))
        return self._until(_SUBACK)[-1] <= QOS_1

    def publish(self, topic: str, payload: bytes, *, times: int = 1) -> float:
        """Publish with QoS 1, all at once; gives how long until the last was acknowledged, in s."""
        packets = b"".join(
            _packet(0x32, _text(topic) + struct.pack(">H", number + 1) + payload) for number in range(times)
        )
        self._slow_acknowledgement()
        begun_s = time.perf_counter()
        self.carrier.sendall(packets)
        for _ in range(times):
            self._until(_PUBACK)
        return time.perf_counter() - begun_s

    def hears(self, payload: bytes) -> bool:
        """Whether a message has come, or comes within `QUIET_S`."""
        deadline_s = time.monotonic() + QUIET_S
        try:
            while not any(payload in body for body in self._heard):
                left_s = deadline_s - time.monotonic()
                if left_s <= 0:
                    return False
                self.carrier.settimeout(left_s)
                self._read()
        except TimeoutError:
            return False
        finally:
            self.carrier.settimeout(WAIT_S)
        return True

    def _slow_acknowledgement(self) -> None:
        """Let the system acknowledge as late as it does in a long connection, where that can be asked for."""
        if _QUICKACK is not None:
            self.carrier.setsockopt(socket.IPPROTO_TCP, _QUICKACK, 0)

    def _send(self, first: int, body: bytes) -> None:
        self.carrier.sendall(_packet(first, body))

    def _until(self, wanted: int) -> bytes:
        """Read to a packet of a kind, over others."""
        while True:
            kind, body = self._read()
            if kind == wanted:
                return body

    def _read(self) -> tuple[int, bytes]:
        """Read one packet; what others publish is kept aside as well."""
        while True:
            if packet := self._whole():
                if packet[0] == _PUBLISH:
                    self._heard.append(packet[1])
                return packet
            self._slow_acknowledgement()
            more = self.carrier.recv(4096)
            if not more:
                raise Refused("the broker hung up")
            self._rest += more

    def _whole(self) -> tuple[int, bytes] | None:
        """Take a packet that has come whole."""
        length, at = 0, 1
        while True:
            if len(self._rest) <= at:
                return None
            byte = self._rest[at]
            length |= (byte & 0x7F) << 7 * (at - 1)
            at += 1
            if not byte & 0x80:
                break
        if len(self._rest) < at + length:
            return None
        kind, body = self._rest[0] >> 4, self._rest[at : at + length]
        self._rest = self._rest[at + length :]
        return kind, body


@contextmanager
def connected(
    host: str,
    port: int,
    client: str,
    *,
    tls: ssl.SSLContext | None = None,
    user: str | None = None,
    password: str = "",
) -> Iterator[Probe]:
    """Connect, and disconnect in good order. Raises OSError (Refused is one) where nobody is let in."""
    with socket.create_connection((host, port), timeout=WAIT_S) as plain:
        plain.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        carrier = tls.wrap_socket(plain, server_hostname=host) if tls else plain
        with carrier:
            probe = Probe(carrier)
            flags = 0x02 | (0xC0 if user is not None else 0)
            names = (client, user, password) if user is not None else (client,)
            head = b"\x00\x04MQTT\x04" + bytes((flags,)) + struct.pack(">H", 30)
            probe._send(0x10, head + b"".join(map(_text, names)))  # noqa: SLF001 - made here
            if code := probe._until(_CONNACK)[1]:  # noqa: SLF001 - likewise
                raise Refused(f"the broker says no (code {code})")
            yield probe
            carrier.sendall(b"\xe0\x00")


def _text(text: str) -> bytes:
    encoded = text.encode()
    return struct.pack(">H", len(encoded)) + encoded


def _packet(first: int, body: bytes) -> bytes:
    """Frame a packet; its length in groups of seven bits."""
    length, written = len(body), b""
    while True:
        group, length = length & 0x7F, length >> 7
        written += bytes((group | (0x80 if length else 0),))
        if not length:
            return bytes((first,)) + written + body
