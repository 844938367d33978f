"""The data packet of streaming ACN, as ANSI E1.31 lays it out: 512 slots of one universe.

Three layers, each with its flags and length (E1.31 clauses 5, 6, 7): root (preamble, identifier, CID),
framing (source name, priority, sequence number, options, universe), DMP (start code and slots).
"""

from __future__ import annotations

import struct
from uuid import UUID

PORT = 5568
"""ACN_SDT_MULTICAST_PORT."""
SLOTS = 512
PRIORITY = 100
"""The default of a source."""
UNIVERSES = (1, 63_999)
TERMINATED = 0x40
"""Options, bit 6: Stream_Terminated."""

SEQUENCE_AT, OPTIONS_AT, SLOTS_AT = 111, 112, 126
"""Where a packet has what changes in a stream: one byte, one byte, 512 bytes (E1.31 tables 4-1 to 7-1)."""

_ROOT = struct.Struct("!HH12sHL16s")
_FRAMING = struct.Struct("!HL64sBHBBH")
_DMP = struct.Struct("!HBBHHHB")
_LENGTH = _ROOT.size + _FRAMING.size + _DMP.size + SLOTS


def data_packet(
    *,
    cid: UUID,
    source: str,
    universe: int,
    sequence: int,
    slots: bytes,
    priority: int = PRIORITY,
    terminated: bool = False,
) -> bytes:
    """Write one packet; `slots` are filled up with zeros to 512, `sequence` counts modulo 256."""
    root = _ROOT.pack(0x0010, 0, b"ASC-E1.17\0\0\0", _length_from(16), 0x0000_0004, cid.bytes)
    name = source.encode()[:63]
    options = TERMINATED if terminated else 0
    framing = _FRAMING.pack(
        _length_from(_ROOT.size), 0x0000_0002, name, priority, 0, sequence % 256, options, universe
    )
    dmp = _DMP.pack(_length_from(_ROOT.size + _FRAMING.size), 0x02, 0xA1, 0, 1, SLOTS + 1, 0)
    return root + framing + dmp + slots.ljust(SLOTS, b"\0")


def multicast_group(universe: int) -> str:
    """Give the group of a universe: 239.255 and its two bytes."""
    return f"239.255.{universe >> 8}.{universe & 255}"


def _length_from(offset: int) -> int:
    """Give flags and length of a layer that begins there: 0x7 above twelve bits."""
    return 0x7000 | (_LENGTH - offset)
