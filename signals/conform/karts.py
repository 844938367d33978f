"""Cases of karts only: how far a limit falls, that nothing raises it, and its ramps."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Iterator
from typing import Any

from signals.conform import witness
from signals.conform.bench import Bench
from signals.conform.cases import case
from signals.conform.fallback import EARLY_MS, lapse, not_going, power_cycled
from signals.conform.organ import GO_KMH, HOLD_KMH, KartOrgan, Report
from signals.conform.sentences import ANSWER_MS, KART
from signals.conform.verdict import Failed, NotDeclared
from signals.mqtt.contract import Taken

CREEP_AFTER_MS = 3_000
KMH_PER_MPS = 3.6
ROUGH = 1.3
"""How much steeper than its ramp a step may look: the witness's lines come when they come."""
STEP_KMH = 0.6
"""What a single line may differ beyond the ramp: one step of a limiter that works at 30 a second."""


def at_most(kmh: float) -> Callable[[Report], bool]:
    """Judge a limit."""

    def judge(report: Report) -> bool:
        return isinstance(report, Taken) and report.limit_kmh <= kmh

    return judge


@case(43, "caution, then creep", KART, "C38", "C15")
async def caution_then_creep(bench: Bench) -> str:
    """Fall silent and stay so."""
    await bench.go()
    await lapse(bench)
    if not bench.now_says(lambda report: isinstance(report, Taken) and report.limit_kmh > _caps("creep_kmh")):
        raise Failed("it creeps at once, or stands: a kart behind it does not expect that")
    took = await bench.reports(at_most(_caps("creep_kmh")), "it creeps", CREEP_AFTER_MS + ANSWER_MS)
    if took < CREEP_AFTER_MS - ANSWER_MS - EARLY_MS:
        raise Failed(f"it creeps {took:.0f} ms after its fall, not {CREEP_AFTER_MS}")
    return f"creeps {took:.0f} ms after its fall"


def _caps(name: str) -> float:
    return KartOrgan.caps[name]


@case(44, "a loss never raises", KART, "C39", "C23")
async def loss_never_raises(bench: Bench) -> None:
    """Let it lapse at less than caution, and come back."""
    await bench.go()
    await bench.obeys(bench.organ.hold)
    await lapse(bench)
    await bench.unmoved(at_most(HOLD_KMH), "a lapse raised its limit")
    bench.mind.beating = True
    await bench.unmoved(at_most(HOLD_KMH), "beats that came back raised its limit")


@case(45, "a doubled order never raises", KART, "C39", "C20")
async def double_never_raises(bench: Bench) -> None:
    """Lower the limit by a stop, end the stop, and say the order from before again."""
    await bench.go()
    sent = bench.order(bench.organ.go)
    await bench.settled()
    bench.mind.stop = True
    bench.beat()
    await bench.reports(bench.organ.stopped, "it obeys the stop flag")
    bench.mind.stop = False
    bench.beat()
    await bench.unmoved(bench.organ.stopped, "the end of a stop raised its limit")
    bench.say(*bench.organ.order, payload=json.dumps(sent).encode())
    await bench.unmoved(bench.organ.stopped, "an order from before the stop, come again, raised its limit")


@case(46, "a reordered order never raises", KART, "C39", "C19")
async def reorder_never_raises(bench: Bench) -> None:
    """Say a lower limit before the higher one that was meant to come first."""
    await bench.go()
    first, second = bench.made(bench.organ.go), bench.made(bench.organ.hold)
    for made in (second, first):
        bench.say(*bench.organ.order, payload=json.dumps(made).encode())
    await bench.reports(bench.organ.holds, "it obeys the newer order")
    await bench.unmoved(bench.organ.holds, "the order that came late raised its limit")


@case(47, "its constants are kept", KART, "C40")
async def caps_kept(bench: Bench) -> None:
    """Let it lapse twice, with its constants said only before the first; and start without any."""
    await bench.go()
    await lapse(bench)
    bench.mind.beating = True
    await not_going(bench, "only the beats came back")
    await bench.obeys(bench.organ.go)
    await lapse(bench)
    if not bench.now_says(lambda report: isinstance(report, Taken) and report.limit_kmh == _caps("fail_kmh")):
        raise Failed("it forgot its caution limit over a lapse")
    if bench.subject.has_power:
        await _no_caps_yet(bench)


async def _no_caps_yet(bench: Bench) -> None:
    """Start it, order 30 km/h without any constants, and let it lapse: it must stand."""
    bench.mind.beating = True
    await power_cycled(bench)
    await bench.settled()
    await bench.obeys(bench.organ.go)
    await lapse(bench)
    if not bench.now_says(at_most(0)):
        raise Failed(f"it falls to a limit nobody gave it; {bench.said()}")


@case(48, "the ramps", KART, "C41")
async def ramps(bench: Bench) -> str:
    """Order up from 8 to 30 km/h and down again, and measure what is driven."""
    if not (bench.subject.declared.ramp and witness.there(bench)):
        raise NotDeclared("it does not say that the bench measures what it drives (ramp, witness)")
    await bench.go()
    fall = await _steepest(bench, "fall_mps2", bench.organ.hold, HOLD_KMH)
    rise = await _steepest(bench, "rise_mps2", bench.organ.go, GO_KMH)
    return f"falls at {fall:.1f}, rises at {rise:.1f} m/s²"


async def _steepest(bench: Bench, ramp: str, fields: dict[str, Any], to_kmh: float) -> float:
    """Order a limit, and give the steepest change, m/s², over any quarter of the time its ramp takes."""
    began_s, due_s = asyncio.get_running_loop().time(), (GO_KMH - HOLD_KMH) / KMH_PER_MPS / _caps(ramp)
    bench.order(fields)
    await bench.until(
        lambda: bool(caps := [*witness.caps(bench)]) and caps[-1].kmh == to_kmh,
        due_s * 1000 * ROUGH + ANSWER_MS,
        f"what it drives follows to {to_kmh:g} km/h",
    )
    steepest = max(_slopes([cap for cap in witness.caps(bench) if cap.at_s >= began_s], due_s / 4))
    if steepest > _caps(ramp) * ROUGH:
        raise Failed(f"{ramp}: {steepest:.1f} m/s², at most {_caps(ramp):g}")
    return steepest


def _slopes(caps: list[witness.Cap], over_s: float) -> Iterator[float]:
    """Give each change over at least so long; a single jump is infinitely steep."""
    pairs = [(a, b) for at, a in enumerate(caps) for b in caps[at + 1 :] if b.at_s - a.at_s >= over_s]
    if not pairs:
        yield float("inf")
    for a, b in pairs:
        yield max(0.0, abs(b.kmh - a.kmh) - STEP_KMH) / KMH_PER_MPS / (b.at_s - a.at_s)
