"""Lamps on a lighting network by ANSI E1.31, unicast and multicast: a small sender of our own.

It sends the whole universe at its refresh whether or not anything changed, three packets at once on
a change, and at the end three with Stream_Terminated (E1.31 clause 6.2.6). A packet is not acknowledged:
*driven* is what was last sent, and only a sensor can prove a lamp.

A receiver takes 2.5 s without packets as data loss (E1.31, network data loss; from memory); what it shows
then is its own setting, so it is the watchdog the table must state.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Mapping
from uuid import NAMESPACE_URL, uuid5

from signals.outputs.base import Output
from signals.outputs.line import Line, Point
from signals.outputs.packet import (
    OPTIONS_AT,
    PORT,
    PRIORITY,
    SEQUENCE_AT,
    SLOTS,
    SLOTS_AT,
    TERMINATED,
    data_packet,
    multicast_group,
)

MULTICAST = "multicast"
"""As `host`: to the universe's group; `multicast/ADDRESS` by the interface that has this address."""
FULL = 255
HOPS = 8
"""How many routers a multicast packet may pass."""
REPEAT_S = 0.02
"""Between the packets of one change."""


class E131(Output):
    """One universe at one destination.

    The source's CID follows from this machine and the line, so that a restart is the same source and
    not a second one beside it. A lamp is a slot at 0 or 255; a number takes two slots, high byte first.
    """

    repeats = 3
    repeat_s = REPEAT_S
    waits = False

    def __init__(
        self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500, priority: int = PRIORITY
    ) -> None:
        super().__init__(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        universe = line.unit or 1
        self.cid = uuid5(NAMESPACE_URL, f"kerblight:{socket.gethostname()}:{line}")
        self._packet = bytearray(
            data_packet(
                cid=self.cid,
                source="kerblight",
                universe=universe,
                sequence=0,
                slots=bytes(SLOTS),
                priority=priority,
            )
        )
        group = line.host.partition("/")[0] == MULTICAST
        self._to = (multicast_group(universe) if group else line.host, line.port or PORT)
        self._socket: socket.socket | None = None

    async def _open(self) -> None:
        if self._socket is None:
            self._socket = self._make_socket()

    def _make_socket(self) -> socket.socket:
        made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        made.setblocking(False)
        made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, HOPS)
        _, by, interface = self.line.host.partition("/")
        if by:
            made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(interface))
        return made

    async def _write(self, raw: Mapping[Point, int]) -> None:
        packet = self._packet
        for point, value in raw.items():
            at = SLOTS_AT + point.address
            if point.number:
                packet[at : at + 2] = value.to_bytes(2, "big")
            else:
                packet[at] = value and FULL
        self._send()

    def _send(self, options: int = 0) -> None:
        """Send the universe as it is; raises OSError where the network takes nothing."""
        if self._socket is None:
            raise ConnectionError("the socket is closed")
        self._packet[OPTIONS_AT] = options
        self._socket.sendto(self._packet, self._to)
        self._packet[SEQUENCE_AT] = (self._packet[SEQUENCE_AT] + 1) % 256

    async def _close(self, *, final: bool) -> None:
        if self._socket is None:
            return
        try:
            for _ in range(self.repeats if final else 0):
                self._send(TERMINATED)
                await asyncio.sleep(REPEAT_S)
        finally:
            self._socket.close()
            self._socket = None
