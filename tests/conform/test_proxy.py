"""The proxy between a node and its broker: it passes on what came, and reads what it must."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

import pytest
from hypothesis import given
from hypothesis import strategies as st

from signals.conform.proxy import (
    Broken,
    Connect,
    Proxy,
    Sent,
    packets,
    read_connect,
    read_filters,
    read_publish,
)

WITHIN_S = 5.0
PING = b"\xc0\x00"


def packet(first: int, content: bytes) -> bytes:
    size, length = bytearray(), len(content)
    while True:
        size.append(length % 128 | (0x80 if length > 127 else 0))
        length //= 128
        if not length:
            return bytes([first]) + bytes(size) + content


def text(value: str) -> bytes:
    return struct.pack("!H", len(value)) + value.encode()


def publish(topic: str, payload: bytes, packet_id: int = 0) -> bytes:
    number = struct.pack("!H", packet_id) if packet_id else b""
    return packet(0x32 if packet_id else 0x30, text(topic) + number + payload)


WILL = 0b0010_1110
"""Flags of a CONNECT: clean, with a will of quality of service 1, retained."""
CONNECT = packet(0x10, text("MQTT") + bytes([4, WILL, 0, 3]) + text("node-n1") + text("t") + text("gone"))


@given(st.lists(st.binary(max_size=300), max_size=5), st.integers(1, 50))
def test_packets_are_the_same_however_they_are_cut(contents: list[bytes], step: int) -> None:
    whole = [packet(0x30, content) for content in contents]
    stream, buffer, found = b"".join(whole), bytearray(), []
    for at in range(0, len(stream), step):
        buffer += stream[at : at + step]
        found += [*packets(buffer)]
    assert found == whole
    assert not buffer


def test_a_length_no_packet_has_is_broken() -> None:
    with pytest.raises(Broken):
        [*packets(bytearray(b"\x30\xff\xff\xff\xff\xff"))]


def test_it_reads_what_a_node_says_of_itself() -> None:
    assert read_connect(CONNECT) == Connect(
        level=4,
        clean=True,
        client="node-n1",
        keepalive_s=3,
        will_topic="t",
        will_payload=b"gone",
        will_qos=1,
        will_retain=True,
    )
    assert read_publish(publish("a/b", b"x", 7)) == Sent("a/b", b"x", 1, retain=False)
    subscribe = packet(0x82, b"\0\1" + text("a/+") + b"\1" + text("beat") + b"\0")
    assert [*read_filters(subscribe)] == ["a/+", "beat"]


class Ends:
    """The node's and the broker's end of a connection through a proxy."""

    def __init__(self, proxy: Proxy, node: asyncio.StreamWriter, broker: asyncio.StreamWriter) -> None:
        self.proxy = proxy
        self.node = node
        self.broker = broker
        self.node_reads: asyncio.StreamReader
        self.broker_reads: asyncio.StreamReader


@asynccontextmanager
async def through(changed: Callable[[], None] = lambda: None, offset: int = 0) -> AsyncIterator[Ends]:
    arrived: asyncio.Queue[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = asyncio.Queue()
    broker = await asyncio.start_server(lambda *pair: arrived.put_nowait(pair), "127.0.0.1", 0)
    proxy = Proxy(broker.sockets[0].getsockname()[:2], changed)
    proxy.offset = offset
    async with broker, proxy.listening("127.0.0.1", 0), asyncio.timeout(WITHIN_S):
        node_reads, node = await asyncio.open_connection(proxy.host, proxy.port)
        broker_reads, upstream = await arrived.get()
        ends = Ends(proxy, node, upstream)
        ends.node_reads, ends.broker_reads = node_reads, broker_reads
        node.write(PING)
        assert await broker_reads.readexactly(len(PING)) == PING
        try:
            yield ends
        finally:
            for writer in (node, upstream):
                writer.close()


async def test_it_passes_on_byte_for_byte_and_remembers() -> None:
    async with through() as ends:
        said = CONNECT + publish("a", b"x", 5)
        ends.node.write(said)
        assert await ends.broker_reads.readexactly(len(said)) == said
        assert [connect.client for connect in ends.proxy.watched.connects] == ["node-n1"]
        assert ends.proxy.watched.sent == [Sent("a", b"x", 1, retain=False)]


async def test_half_a_packet_then_nothing_then_the_rest_in_order() -> None:
    async with through() as ends:
        first, second = publish("a", b"0123456789"), publish("b", b"x")
        ends.proxy.halve()
        ends.broker.write(first + second)
        half = await ends.node_reads.readexactly(len(first) // 2)
        ends.node.write(PING)
        await ends.broker_reads.readexactly(len(PING))  # the way up is open meanwhile
        assert ends.proxy.halved
        ends.proxy.restore()
        rest = await ends.node_reads.readexactly(len(first) + len(second) - len(half))
        assert half + rest == first + second


async def test_packet_ids_are_moved_there_and_back() -> None:
    async with through(offset=65_530) as ends:
        for number in (1, 5, 6):
            ends.broker.write(publish("a", b"x", number))
            moved = await ends.node_reads.readexactly(len(publish("a", b"x", number)))
            (packet_id,) = struct.unpack("!H", moved[-3:-1])
            assert packet_id == (number + 65_530 if number + 65_530 <= 65_535 else number + 65_530 - 65_535)
            ends.node.write(b"\x40\x02" + struct.pack("!H", packet_id))
            assert await ends.broker_reads.readexactly(4) == b"\x40\x02" + struct.pack("!H", number)
        assert ends.proxy.watched.acknowledged == [65_531, 65_535, 1]


async def test_a_held_connection_is_let_go_in_both_directions() -> None:
    async with through() as ends:
        ends.proxy.hold()
        ends.broker.write(publish("a", b"x"))
        ends.node.write(publish("b", b"y"))
        ends.proxy.restore()
        ends.broker.write(publish("c", b"z"))
        due = publish("a", b"x") + publish("c", b"z")
        assert await ends.node_reads.readexactly(len(due)) == due
        assert await ends.broker_reads.readexactly(len(publish("b", b"y"))) == publish("b", b"y")


async def test_a_cut_ends_both_ends_and_new_ones_are_refused() -> None:
    async with through() as ends:
        ends.proxy.cut(refuse=True)
        with pytest.raises((ConnectionResetError, asyncio.IncompleteReadError)):
            await ends.node_reads.readexactly(1)
        reader, writer = await asyncio.open_connection(ends.proxy.host, ends.proxy.port)
        with pytest.raises((ConnectionResetError, asyncio.IncompleteReadError)):
            await reader.readexactly(1)
        writer.close()


async def test_what_is_no_mqtt_is_noted_and_ends_the_connection() -> None:
    async with through() as ends:
        ends.node.write(b"\x10\xff\xff\xff\xff\xff")
        assert await ends.node_reads.read() == b""
        assert len(ends.proxy.watched.broken) == 1
