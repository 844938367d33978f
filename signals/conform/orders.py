"""Cases of orders: which one is obeyed, which one is not, and what a malformed one does."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from signals.conform.bench import Bench, draw
from signals.conform.cases import case
from signals.conform.organ import ContactOrgan
from signals.conform.proxy import IDS
from signals.conform.sentences import ANSWER_MS, EVERY, MOVING, RECONNECT_S
from signals.conform.verdict import Failed
from signals.mqtt.codec import SEQ_MAX
from signals.mqtt.contract import NODE_MESSAGE_MAX

SEQUENCE, BURST, AROUND_THE_WRAP = 200, 50, 12
DRAINED_MS = 1000
"""How long a broker may take to hand over a burst: it keeps few messages under way at once."""
WRAP_AHEAD = 6
"""Packet ids before the wrap when a connection begins."""


async def hold(bench: Bench) -> None:
    """Bring it, by an order, to what any node may show."""
    await bench.go()
    await bench.obeys(bench.organ.hold)


@case(4, "two hundred orders in sequence", MOVING, "C27", "C28")
async def two_hundred(bench: Bench) -> str:
    """Say the next order as soon as the one before was answered."""
    await bench.go()
    longest = 0.0
    for number in range(SEQUENCE):
        fields = bench.organ.go if number % 2 else bench.organ.hold
        longest = max(longest, await bench.obeys(fields))
    return f"longest {longest:.1f} ms"


@case(5, "a burst: the last one counts", MOVING, "C28")
async def burst(bench: Bench) -> None:
    """Say many orders at once, ending with the one and then with the other."""
    await bench.go()
    for last in (bench.organ.hold, bench.organ.go):
        bench.proxy.watched.acknowledged.clear()
        for _ in range(BURST // 2):
            bench.order(bench.organ.go)
            bench.order(bench.organ.hold)
        bench.order(last)
        await _drained(bench, BURST + 1)
        await bench.reports(bench.obeying(last), "it obeys the last order of a burst")
        await bench.unmoved(bench.obeying(last), "it does not stay with the last order of a burst")


async def _drained(bench: Bench, orders: int) -> None:
    """Wait until a node that acknowledges has acknowledged them all; a beat may overtake what queues."""
    await bench.settled()
    taken = bench.proxy.watched.acknowledged
    if taken:
        await bench.until(lambda: len(taken) >= orders, DRAINED_MS, f"it acknowledges {orders} orders")
        await bench.settled()


@case(6, "duplicates", MOVING, "C20")
async def duplicates(bench: Bench) -> None:
    """Say an order again while it stands, and once more after it was superseded."""
    await hold(bench)
    sent = bench.order(bench.organ.go)
    await bench.reports(bench.organ.goes, "it obeys the newer order")
    again = json.dumps(sent).encode()
    bench.say(*bench.organ.order, payload=again)
    await bench.unmoved(bench.organ.goes, "the same order came twice")
    bench.order(bench.organ.hold)
    bench.say(*bench.organ.order, payload=again)
    await bench.reports(bench.organ.holds, "it obeys the newer order")
    await bench.unmoved(bench.organ.holds, "an order came again after a newer one")


@case(7, "an old order", MOVING, "C19")
async def old_seq(bench: Bench) -> None:
    """Say an order with a lower number than the one that stands."""
    await hold(bench)
    number = bench.order(bench.organ.hold)["seq"]
    bench.order(bench.organ.go, seq=number - 2)
    await bench.unmoved(bench.organ.holds, f"order {number - 2} came after {number}")
    bench.order(bench.organ.hold, seq=number + 1)


@case(8, "the numbers of orders begin again", MOVING, "C19")
async def seq_wraps(bench: Bench) -> None:
    """Count up to the greatest number in two halves, and on to 1."""
    await hold(bench)
    number = bench.order(bench.organ.hold)["seq"]
    for seq in (number + SEQ_MAX // 2 - 1, SEQ_MAX):
        bench.order(bench.organ.hold, seq=seq)
    await bench.obeys(bench.organ.go, seq=1)
    await bench.obeys(bench.organ.hold, seq=2)


@case(9, "an order of an old boot", MOVING, "C18")
async def old_boot(bench: Bench) -> None:
    """Let another boot take over, then say an order of the one before."""
    await hold(bench)
    old = bench.mind.boot
    bench.take_over()
    await hold(bench)
    bench.order(bench.organ.go, boot=old, seq=SEQ_MAX // 4)
    await bench.unmoved(bench.organ.holds, "an order of an old boot came")
    bench.order(bench.organ.hold, seq=1_000)


@case(10, "a new boot", MOVING, "C17", "C18")
async def new_boot(bench: Bench) -> None:
    """Begin anew as a controller does: its numbers begin at 1, and are obeyed after a lease alone."""
    await bench.go()
    bench.take_over()
    await bench.reports(bench.organ.fallen, "it falls on a second boot")
    await bench.go()


@case(11, "an order of another epoch", MOVING, "C18")
async def other_epoch(bench: Bench) -> None:
    """Say orders of the epoch before and after; then let the epoch pass under one that stands."""
    await hold(bench)
    bench.order(bench.organ.go, epoch=bench.mind.epoch - 1)
    await bench.unmoved(lambda report: not bench.organ.goes(report), "an order of the epoch before came")
    await bench.go()
    bench.mind.epoch += 1
    bench.beat()
    await bench.reports(bench.organ.fallen, "the epoch of what it obeys has passed")


@case(12, "an order that overtakes its beat", MOVING, "C21", "C18")
async def overtaking(bench: Bench) -> None:
    """Say an order of the next epoch, then the beat of that epoch."""
    await hold(bench)
    bench.order(bench.organ.go, epoch=bench.mind.epoch + 1)
    await bench.unmoved(lambda report: not bench.organ.goes(report), "its beat has not come")
    bench.mind.epoch += 1
    bench.beat()
    await bench.reports(bench.organ.goes, "it obeys the order now that its beat is there")


@case(13, "a wrong id", MOVING, "C18", "C7")
async def wrong_id(bench: Bench) -> None:
    """Say an order to another incarnation, and one on a neighbour's topic."""
    await hold(bench)
    bench.order(bench.organ.go, inc="another0")
    await bench.unmoved(bench.organ.holds, "an order to another incarnation came")
    elsewhere = "998" if bench.organ.order[0] == "kart" else "elsewhere"
    made = json.dumps(bench.made(bench.organ.go)).encode()
    bench.say(bench.organ.order[0], elsewhere, bench.organ.order[2], payload=made)
    await bench.unmoved(bench.organ.holds, "an order to a neighbour came")


@case(14, "fields it does not know", EVERY, "C25")
async def unknown_fields(bench: Bench) -> None:
    """Add a field to an order and to a beat."""
    await bench.go()
    later = {"later": {"a": [1, None, "x"]}}
    number = bench.beat() + 1
    beat = json.loads(_beat(bench, number)) | later
    bench.say("beat", payload=json.dumps(beat).encode(), qos=0)
    await bench.until(
        lambda: bench.now_says(lambda report: report.beat_seq >= number), bench.lease_ms, "it takes the beat"
    )
    if not isinstance(bench.organ, ContactOrgan):
        await bench.obeys(bench.organ.hold, **later)


@case(15, "an order of 240 bytes", MOVING, "C26")
async def longest(bench: Bench) -> None:
    """Fill an order up to what a node must take, with a field it does not know."""
    await bench.go()
    topic = len(bench.topics.name(*bench.organ.order).encode())
    bare = len(json.dumps(bench.made(bench.organ.hold) | {"pad": ""}, separators=(",", ":")))
    await bench.obeys(bench.organ.hold, pad="x" * (NODE_MESSAGE_MAX - topic - bare - 1))


Spoil = Callable[[dict[str, Any]], bytes]
MALFORMED: tuple[tuple[str, Spoil], ...] = (
    ("no JSON", lambda _: b"green please"),
    ("cut off", lambda good: json.dumps(good).encode()[:-4]),
    ("no UTF-8", lambda good: json.dumps(good).encode().replace(b'"epoch"', b'"\xff\xfe": 0, "epoch"')),
    ("a number as a text", lambda good: json.dumps(good | {"seq": str(good["seq"])}).encode()),
    ("out of range", lambda good: json.dumps(good | {"seq": 0}).encode()),
    ("a field missing", lambda good: json.dumps({k: v for k, v in good.items() if k != "epoch"}).encode()),
    ("a list", lambda good: json.dumps([good]).encode()),
)


def _malformed(number: int, title: str, spoil: Spoil) -> None:
    @case(number, f"malformed: {title}", EVERY, "C24")
    async def malformed(bench: Bench) -> str:
        """Spoil an order, or what the node reads where it takes none."""
        if not isinstance(bench.organ, ContactOrgan):
            await hold(bench)
        before = bench.status.rejects if bench.status else 0
        _say_spoilt(bench, spoil)
        await bench.until(
            lambda: bench.status is not None and bench.status.rejects > before,
            2 * bench.lease_ms,
            "the malformed message is counted in its status",
        )
        if not (bench.status and bench.status.last_reject):
            raise Failed("its status gives no reason in last_reject")
        await bench.unmoved(lambda report: not bench.organ.goes(report), "a malformed order was obeyed")
        return bench.status.last_reject


def _say_spoilt(bench: Bench, spoil: Spoil) -> None:
    if isinstance(bench.organ, ContactOrgan):
        bench.say("beat", payload=spoil(json.loads(_beat(bench, bench.beat() + 1))), qos=0)
    else:
        bench.say(*bench.organ.order, payload=spoil(bench.made(bench.organ.go)))


def _beat(bench: Bench, seq: int) -> bytes:
    mind = bench.mind
    fields = {"boot": mind.boot, "seq": seq, "epoch": mind.epoch, "stop": False, "test": False, "at": 0}
    return json.dumps(fields).encode()


for _number, (_title, _spoil) in enumerate(MALFORMED, start=16):
    _malformed(_number, _title, _spoil)


@case(23, "packet ids begin again", MOVING, "C29")
async def packet_ids(bench: Bench) -> str:
    """Let a connection's packet ids begin shortly before 65535, and say orders over it."""
    await bench.go()
    taken = bench.proxy.watched.acknowledged
    taken.clear()
    await _connect_anew(bench, offset=IDS - WRAP_AHEAD)
    try:
        await bench.go()
        for number in range(AROUND_THE_WRAP):
            fields = bench.organ.go if number % 2 else bench.organ.hold
            await bench.obeys(fields)
        if not taken:
            return "takes orders with quality of service 0: no packet ids"
        await bench.until(
            lambda: {IDS, 1} <= set(taken),
            ANSWER_MS,
            f"it acknowledges packets {IDS} and 1, not only {taken}",
        )
    finally:
        await _connect_anew(bench, offset=0)
    return f"acknowledged {taken[0]} to {IDS}, then 1 to {taken[-1]}"


async def _connect_anew(bench: Bench, *, offset: int) -> None:
    connects = len(bench.proxy.watched.connects)
    bench.proxy.offset = offset
    bench.proxy.cut()
    await bench.until(
        lambda: len(bench.proxy.watched.connects) > connects, RECONNECT_S * 1000, "it connects anew"
    )
    await bench.settled()


@case(24, "the stop flag", MOVING, "C30")
async def stop_flag(bench: Bench) -> str:
    """Say stop, fall silent for more than a lease, and end it with another epoch."""
    await bench.go()
    bench.mind.stop = True
    bench.beat()
    took = await bench.reports(bench.organ.stopped, "it obeys the stop flag")
    bench.mind.beating = False
    await bench.never(
        lambda: not bench.now_says(bench.organ.stopped),
        bench.lease_ms + ANSWER_MS,
        "silence ended a stop",
    )
    bench.mind.stop, bench.mind.beating, bench.mind.epoch = False, True, bench.mind.epoch + 1
    await bench.unmoved(lambda report: not bench.organ.goes(report), "the end of a stop is no order")
    return f"{took:.1f} ms"


@case(25, "the stop flag of another boot", MOVING, "C30")
async def foreign_stop(bench: Bench) -> None:
    """Say one beat of another boot with the stop flag."""
    await bench.go()
    bench.beat(boot=draw(), seq=1, stop=True)
    await bench.reports(bench.organ.stopped, "it obeys the stop flag of another boot")
