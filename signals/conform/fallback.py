"""Cases of losing: beats, the broker, the network, the power; and of coming back."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from contextlib import suppress
from functools import partial

from signals.conform import witness
from signals.conform.bench import BEAT_S, Bench, draw
from signals.conform.cases import case
from signals.conform.organ import HeadOrgan
from signals.conform.sentences import ANSWER_MS, EVERY, KEEPALIVE_S, MOVING, RECONNECT_S
from signals.conform.verdict import Failed, NotDeclared
from signals.mqtt.codec import encode
from signals.mqtt.contract import Beat, Shown

EARLY_MS = 20
"""How much before the lease's end a fall may be heard: clocks of two machines, rounded."""
HOUR_MS = 3_600_000
POWER_MS = 20_000
RAMP_MS = 600
"""What a kart's cap takes from 30 to 15 km/h by the kit's own constants, and half as much again."""
GONE_MS = 1500 * KEEPALIVE_S + 1000


def fallen(bench: Bench) -> bool:
    """Tell whether the node has fallen and does not go any more."""
    return bench.now_says(bench.organ.fallen)


async def lapse(bench: Bench) -> float:
    """Stop the beats and wait for the fall and the new incarnation; gives ms from the last beat."""
    inc = bench.inc
    bench.beat()
    bench.mind.beating = False
    if not bench.now_says(bench.organ.goes):
        return await new_incarnation(bench, inc)
    took = await bench.until(lambda: fallen(bench), bench.lease_ms + ANSWER_MS, "it falls at its lease's end")
    await new_incarnation(bench, inc)
    return took


async def new_incarnation(bench: Bench, inc: str) -> float:
    """Wait until the status names another incarnation; gives the ms it took."""
    return await bench.until(
        lambda: bench.inc != inc, bench.lease_ms + ANSWER_MS, "its status names a new incarnation"
    )


async def not_going(bench: Bench, what: str) -> None:
    """See that, with everything heard, it does not go."""
    await bench.unmoved(lambda report: not bench.organ.goes(report), what)


@case(26, "beats lost", EVERY, "C15", "C5")
async def beats_lost(bench: Bench) -> str:
    """Fall silent, and take the time to the fall."""
    await bench.go()
    took = await lapse(bench)
    if took < bench.lease_ms - EARLY_MS:
        raise Failed(f"it fell {took:.0f} ms after the last beat, before its lease of {bench.lease_ms} ms")
    return f"{took:.0f} ms after the last beat"


@case(27, "beats back", MOVING, "C23", "C18")
async def beats_back(bench: Bench) -> None:
    """Speak again after a lapse; say an order to the old incarnation, then one to the new."""
    await bench.go()
    old = bench.inc
    await lapse(bench)
    bench.mind.beating = True
    await not_going(bench, "only the beats came back")
    bench.order(bench.organ.go, inc=old)
    await not_going(bench, "an order to the incarnation before the lapse came")
    await bench.go()


@case(28, "beats that come twice or late", EVERY, "C13")
async def doubled(bench: Bench) -> None:
    """Say the same beat again and again: it renews nothing; an older one is not echoed."""
    await bench.go()
    inc, number = bench.inc, bench.beat()
    bench.mind.beating = False
    for _ in range(round((bench.lease_ms + ANSWER_MS) / 1000 / BEAT_S)):
        with suppress(Failed):
            await bench.until(lambda: bench.inc != inc, BEAT_S * 1000, "a lapse")
        bench.beat(seq=number)
    if bench.inc == inc:
        raise Failed("a beat that came again and again kept its lease alive")
    bench.beat(seq=number - 1)
    seen = len(bench.heard)
    await bench.until(lambda: len(bench.heard) > seen + 1, bench.lease_ms + ANSWER_MS, "two reports")
    if bench.now_says(lambda report: report.beat_seq != number):
        raise Failed(f"it echoes the older beat {number - 1} after {number}")


@case(29, "a retained beat", EVERY, "C13")
async def retained_beat(bench: Bench) -> None:
    """Leave a beat behind while the node is away: what it finds is old."""
    await bench.go()
    number = bench.beat() + 1_000
    bench.mind.beating = False
    bench.proxy.cut(refuse=True)
    bench.say("beat", payload=_beat(bench, number), retain=True, qos=0)
    await connected_anew(bench)
    seen = len(bench.heard)
    await bench.until(lambda: len(bench.heard) > seen + 1, bench.lease_ms + ANSWER_MS, "two reports")
    bench.say("beat", payload=b"", retain=True, qos=0)
    if any(each.report.beat_seq == number for each in bench.heard[seen:]):
        raise Failed("it echoes a retained beat")


def _beat(bench: Bench, number: int) -> bytes:
    return encode(
        Beat(boot=bench.mind.boot, seq=number, epoch=bench.mind.epoch, stop=False, test=False, at=0)
    )


async def connected_anew(bench: Bench) -> None:
    """Let the node find its broker again, and wait for its status."""
    connects, said = len(bench.proxy.watched.connects), len(bench.statuses)
    bench.proxy.restore()
    if bench.broker and bench.broker.process.returncode is not None:
        await bench.broker.start_again()
    await bench.linked(RECONNECT_S)
    await bench.until(
        lambda: len(bench.proxy.watched.connects) > connects, RECONNECT_S * 1000, "it connects anew by itself"
    )
    await bench.until(
        lambda: any(status.status == "ready" for status in bench.statuses[said:]),
        1000,
        "it says its status anew",
    )


@case(30, "beats lost with half a packet pending", EVERY, "C16", "C15")
async def half_packet(bench: Bench) -> str:
    """Let half a message through and then nothing, for more than a lease; then the rest, and beats."""
    await bench.go()
    inc, connects = bench.inc, len(bench.proxy.watched.connects)
    bench.proxy.halve()
    bench.beat()
    patience_ms = bench.lease_ms + ANSWER_MS
    if witness.there(bench):
        await bench.until(lambda: witness.fallen(bench), patience_ms + RAMP_MS, "what it drives falls")
    with suppress(Failed):
        await bench.until(lambda: bench.inc != inc, 2 * patience_ms, "it says so at once")
    how = _how(bench, inc, connects)
    bench.proxy.restore()
    await new_incarnation(bench, inc)
    await not_going(bench, "it goes on after half a packet as if nothing had been")
    if isinstance(bench.organ, HeadOrgan):
        _fell_in_time(bench)
    return how


def _how(bench: Bench, inc: str, connects: int) -> str:
    if len(bench.proxy.watched.connects) > connects:
        return "it gave the connection up and connected anew"
    return "it said so while the packet was pending" if bench.inc != inc else "it said so after the packet"


def _fell_in_time(bench: Bench) -> None:
    """See that the head itself says its lamps followed the lapse in time."""
    report = bench.report
    if isinstance(report, Shown) and report.after_ms > ANSWER_MS:
        raise Failed(f"its lamps fell {report.after_ms} ms after the lease's end")


@case(31, "two controllers", MOVING, "C17", "C5")
async def two_controllers(bench: Bench) -> None:
    """Let two boots beat side by side, then one alone."""
    await bench.go()
    inc, other = bench.inc, draw()
    bench.beat(boot=other)
    await bench.reports(bench.organ.fallen, "it falls on the beat of a second boot")
    await new_incarnation(bench, inc)
    bench.caps()
    bench.order(bench.organ.go)
    for _ in range(3):
        bench.beat(boot=other)
        await bench.unmoved(lambda report: not bench.organ.goes(report), "two boots beat, and it obeys one")
    await bench.go()


@case(32, "a stale order, retained", MOVING, "C22", "C23")
async def stale_retained(bench: Bench) -> None:
    """Leave an order behind that was right once; the node lapses, connects anew and finds it."""
    await bench.go()
    bench.say(*bench.organ.order, payload=_bytes(bench.made(bench.organ.go)), retain=True)
    await lapse(bench)
    bench.proxy.cut(refuse=True)
    bench.mind.beating = True
    await connected_anew(bench)
    try:
        await not_going(bench, "it obeys a retained order to the incarnation before")
    finally:
        _forget(bench)


def _bytes(fields: dict[str, object]) -> bytes:
    return json.dumps(fields).encode()


def _forget(bench: Bench) -> None:
    bench.say(*bench.organ.order, payload=b"", retain=True)


@case(33, "the broker restarts", EVERY, "C9", "C23")
async def broker_restarts(bench: Bench) -> str:
    """Kill the broker for longer than a lease; one that is not the kit's is only hidden from the node."""
    await bench.go()
    inc = bench.inc
    if bench.broker:
        bench.stands_still()
        await bench.broker.kill()
    bench.proxy.cut(refuse=True)
    await asyncio.sleep((bench.lease_ms + ANSWER_MS) / 1000)
    await connected_anew(bench)
    await new_incarnation(bench, inc)
    await not_going(bench, "nothing but its broker came back")
    await bench.go()
    return f"{bench.broker.kind} was killed" if bench.broker else "the broker is not the kit's: it was hidden"


@case(34, "the network splits and heals", EVERY, "C16", "C23")
async def partition(bench: Bench) -> str:
    """Hold everything back for longer than a lease, beats and orders too; then let it all out at once.

    First between node and broker; then, where the broker is the kit's, by freezing it with every connection.
    """
    await _stilled(bench, bench.proxy.hold, bench.proxy.restore)
    if bench.broker is None:
        return "its connection was held"
    await _stilled(
        bench, partial(bench.broker.freeze, frozen=True), partial(bench.broker.freeze, frozen=False)
    )
    return f"its connection was held, and {bench.broker.kind} was frozen"


async def _stilled(bench: Bench, still: Callable[[], None], go_on: Callable[[], None]) -> None:
    await bench.go()
    inc = bench.inc
    bench.stands_still()
    still()
    try:
        if bench.organ.order:
            bench.order(bench.organ.go)
        await asyncio.sleep((bench.lease_ms + ANSWER_MS) / 1000)
        if bench.organ.order:
            bench.order(bench.organ.go)
    finally:
        go_on()
        bench.goes_on()
    await new_incarnation(bench, inc)
    await not_going(bench, "an order came late, from before the lapse")
    await bench.go()


@case(35, "a clock an hour wrong", EVERY, "C14")
async def clock_wrong(bench: Bench) -> None:
    """Let the time of day in beats jump an hour on and two back."""
    for at in (HOUR_MS * 24 * 365 * 56, HOUR_MS * (24 * 365 * 56 + 1), HOUR_MS * (24 * 365 * 56 - 1)):
        bench.mind.at = at
        await _leads(bench)


@case(36, "no clock", EVERY, "C14")
async def no_clock(bench: Bench) -> None:
    """Say beats whose time of day is 0."""
    bench.mind.at = 0
    await _leads(bench)


async def _leads(bench: Bench) -> None:
    """See that it obeys, and that its lease goes on."""
    await bench.go()
    inc = bench.inc
    await bench.settled()
    if bench.inc != inc:
        raise Failed("its lease lapsed over a time of day")


@case(37, "a restart of the node", EVERY, "C4", "C5", "C32", "C36", "C37")
async def reboot(bench: Bench) -> str:
    """Take its power away and give it back, first in silence, then with beats."""
    await bench.go()
    bench.mind.beating = False
    took = await power_cycled(bench)
    boot, seen = bench.status.boot if bench.status else "", len(bench.heard)
    await bench.until(lambda: len(bench.heard) > seen, bench.lease_ms, "a report with no beat heard")
    first = next(each.report for each in bench.heard if each.report.boot == boot)
    if first.beat_seq or not bench.organ.asleep(first):
        raise Failed(f"before any beat it echoes {first.beat_seq}; {bench.organ.said(first)}")
    bench.mind.beating = True
    await _asleep(bench, "it was not ordered anything since its start")
    await bench.go()
    return f"back after {took:.0f} ms"


async def power_cycled(bench: Bench) -> float:
    """Take its power away and give it back; gives the ms until it said another boot."""
    boot, inc = bench.status.boot if bench.status else "", bench.inc
    await bench.subject.power_cycle()
    took = await bench.until(
        lambda: bench.status is not None and bench.status.boot != boot and bench.status.status == "ready",
        POWER_MS,
        "it is back with another boot",
    )
    if bench.inc == inc:
        raise Failed("it has the incarnation it had before its restart")
    return took


async def _asleep(bench: Bench, what: str) -> None:
    await bench.unmoved(bench.organ.asleep, what)


@case(38, "an old order, retained over a restart", MOVING, "C22", "C23", "C36", "C37")
async def retained_over_reboot(bench: Bench) -> None:
    """Leave an order behind, take the power away and give it back, with beats all the time."""
    await bench.go()
    bench.say(*bench.organ.order, payload=_bytes(bench.made(bench.organ.go)), retain=True)
    try:
        await power_cycled(bench)
        await _asleep(bench, "it obeys a retained order from before its restart")
    finally:
        _forget(bench)


@case(39, "an orderly goodbye", EVERY, "C10")
async def goodbye(bench: Bench) -> str:
    """Tell it to leave in good order, see what it leaves behind, and start it again."""
    if not bench.subject.can_leave:
        raise NotDeclared("the kit did not start it: give --start-with")
    said = len(bench.statuses)
    await bench.subject.leave()
    try:
        took = await bench.until(
            lambda: any(status.status == "gone" for status in bench.statuses[said:]),
            GONE_MS,
            'it leaves "gone" behind',
        )
    finally:
        said = len(bench.statuses)
        await bench.subject.start()
    await bench.until(
        lambda: any(status.status == "ready" for status in bench.statuses[said:]), POWER_MS, "it is back"
    )
    return f"{took:.0f} ms after it ended"
