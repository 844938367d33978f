"""What ANSI E1.31 asks of a source, seen by a receiver that is not ours."""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import AsyncIterator
from itertools import pairwise
from uuid import UUID

import pytest
import sacn
from sacn.messages.data_packet import DataPacket, calculate_multicast_addr

from signals.outputs.e131 import E131
from signals.outputs.line import Line
from signals.outputs.packet import PORT, PRIORITY, SEQUENCE_AT, TERMINATED, data_packet, multicast_group
from tests.outputs.rigs import E131Rig, lamp_points

CID = UUID("5f0d9f1e-6a0c-4c0a-9f39-0d9c2b7a5d11")


@pytest.fixture
async def rig() -> AsyncIterator[E131Rig]:
    made = E131Rig()
    await made.start()
    await made.until(lambda: len(made.receiver.packets) >= 4)
    yield made
    await made.stop()
    await made.unplug()


def test_the_packet_is_the_one_another_library_writes() -> None:
    """ANSI E1.31-2018 tables 4-1 to 7-1, as `sacn` writes them."""
    theirs = DataPacket(tuple(CID.bytes), "kerblight", 7, (1, 255, 0), PRIORITY, 41)
    ours = data_packet(cid=CID, source="kerblight", universe=7, sequence=41, slots=bytes((1, 255, 0)))
    assert ours == bytes(theirs.getBytes())
    theirs.option_StreamTerminated = True
    last = data_packet(
        cid=CID, source="kerblight", universe=7, sequence=41, slots=bytes((1, 255, 0)), terminated=True
    )
    assert last == bytes(theirs.getBytes())
    assert last[112] == TERMINATED


@pytest.mark.parametrize("universe", [1, 7, 255, 256, 63_999])
def test_a_universe_has_the_group_another_library_gives_it(universe: int) -> None:
    assert multicast_group(universe) == calculate_multicast_addr(universe)


async def test_sequence_numbers_rise_by_one_and_wrap(rig: E131Rig) -> None:
    rig.output._packet[SEQUENCE_AT] = 253
    seen = len(rig.receiver.packets) + 1
    await rig.until(lambda: len(rig.receiver.packets) >= seen + 4)
    numbers = [packet.sequence for _, packet in rig.receiver.packets[seen:]]
    assert all((after - before) % 256 == 1 for before, after in pairwise(numbers))
    assert 0 in numbers
    assert rig.receiver.slots


async def test_a_change_is_three_packets_and_then_the_refresh_goes_on(rig: E131Rig) -> None:
    rig.output.show({"RED": 1, "YEL": 0})
    await rig.shows(RED=1, YEL=0)
    first = next(i for i, (_, packet) in enumerate(rig.receiver.packets) if packet.dmxData[10] == 255)
    await rig.until(lambda: len(rig.receiver.packets) >= first + 5)
    times = [at_s for at_s, _ in rig.receiver.packets[first : first + 5]]
    assert times[2] - times[0] < 0.2
    assert times[4] - times[2] > 0.2  # keep-alive, well within the 2.5 s of network data loss
    assert times[4] - times[3] < 0.8


async def test_the_end_is_said_three_times_after_the_fail_image(rig: E131Rig) -> None:
    rig.output.show({"RED": 1, "YEL": 0})
    await rig.shows(RED=1, YEL=0)
    await rig.stop()
    await rig.until(lambda: "timeout" in rig.receiver.said)
    last = [packet for _, packet in rig.receiver.packets[-6:]]
    assert [packet.option_StreamTerminated for packet in last] == [False] * 3 + [True] * 3
    assert {(packet.dmxData[10], packet.dmxData[11]) for packet in last} == {(0, 255)}
    assert rig.receiver.said == ["available", "timeout", "timeout", "timeout"]


async def test_a_higher_priority_elsewhere_wins_and_ours_is_the_default(rig: E131Rig) -> None:
    assert {packet.priority for _, packet in rig.receiver.packets} == {PRIORITY}
    await rig.shows(RED=0, YEL=1)
    port = rig.transport.get_extra_info("sockname")[1]
    other = data_packet(cid=CID, source="x", universe=7, sequence=9, slots=bytes(12), priority=150)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as elsewhere:
        elsewhere.sendto(other, ("127.0.0.1", port))
    await rig.shows(RED=0, YEL=0)
    rig.output.show({"RED": 1, "YEL": 0})
    seen = len(rig.receiver.packets)
    await rig.until(lambda: len(rig.receiver.packets) >= seen + 3)
    assert rig.lamps() == {"RED": 0, "YEL": 0}


async def test_a_restart_is_the_same_source_and_not_a_second_one(rig: E131Rig) -> None:
    again = rig.make(refresh_ms=250, lease_ms=500)
    assert again.cid == rig.output.cid
    other = E131(Line(protocol="e131", host="127.0.0.1", unit=8, outs=lamp_points("slot")))
    assert other.cid != again.cid


async def test_multicast_reaches_the_library_on_its_own_thread() -> None:
    changed, slots = asyncio.Event(), []
    loop = asyncio.get_running_loop()
    receiver = sacn.sACNreceiver(bind_port=PORT)
    listener = receiver._handler.socket._socket
    listener.setsockopt(
        socket.IPPROTO_IP,
        socket.IP_ADD_MEMBERSHIP,
        socket.inet_aton(multicast_group(7)) + socket.inet_aton("127.0.0.1"),
    )

    def take(packet: DataPacket) -> None:
        slots.append(packet.dmxData)
        loop.call_soon_threadsafe(changed.set)

    receiver.register_listener("universe", take, universe=7)
    receiver.start()
    line = Line(protocol="e131", host="multicast/127.0.0.1", unit=7, outs=lamp_points("slot"))
    running = asyncio.create_task(E131(line).run())
    try:
        async with asyncio.timeout(5):
            await changed.wait()
        assert slots[0][:2] == (0, 255)
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        receiver.stop()
        for thread in threading.enumerate():
            if thread is not threading.current_thread() and "sACN" in thread.name:
                thread.join()
        listener.close()
