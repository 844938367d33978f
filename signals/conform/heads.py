"""Cases of heads only: the monitor's trip, single lamps in a test, a lamp that fails."""

from __future__ import annotations

from signals.conform.bench import Bench
from signals.conform.cases import case
from signals.conform.organ import HeadOrgan
from signals.conform.sentences import ANSWER_MS, HEAD
from signals.conform.verdict import Failed, NotDeclared
from signals.mqtt.contract import Shown
from signals.words import Aspect


def shown(bench: Bench) -> Shown:
    """Give the last report of the head."""
    if not isinstance(bench.report, Shown):
        raise Failed("it reports nothing")
    return bench.report


def head_of(bench: Bench) -> HeadOrgan:
    """Give the head under test."""
    if not isinstance(bench.organ, HeadOrgan):
        raise TypeError("a case for heads")
    return bench.organ


@case(40, "the monitor trips", HEAD, "C34")
async def trip(bench: Bench) -> str:
    """Say a trip while green is ordered, let the node lapse under it, and take it back."""
    await bench.go()
    bench.trip(tripped=True)
    try:
        took = await bench.reports(bench.organ.stopped, "it is red on a trip")
        bench.order(bench.organ.go)
        await bench.unmoved(bench.organ.stopped, "green was ordered under a trip")
        bench.mind.beating = False
        await bench.never(
            lambda: not bench.now_says(bench.organ.stopped),
            bench.lease_ms + ANSWER_MS,
            "a lapse ended a trip",
        )
    finally:
        bench.mind.beating = True
        bench.trip(tripped=False)
    await bench.go()
    return f"{took:.1f} ms"


@case(41, "single lamps only in a test", HEAD, "C35")
async def test_lamps(bench: Bench) -> None:
    """Order a lamp under red, outside a test and within one."""
    if not bench.subject.declared.test_lamps:
        raise NotDeclared("it does not say it obeys single lamps (test_lamps)")
    head = head_of(bench).head
    lamp = sorted(head.aspects[Aspect.GREEN])
    await bench.go()
    bench.order(bench.organ.hold, lamps=lamp)
    await bench.settled()
    if set(shown(bench).driven) == set(lamp):
        raise Failed(f"it drives {', '.join(lamp)} outside a test")
    bench.mind.test = True
    bench.beat()
    bench.order(bench.organ.hold, lamps=lamp)
    await bench.until(lambda: set(shown(bench).driven) == set(lamp), ANSWER_MS, f"it drives {lamp} in a test")
    bench.mind.test = False
    bench.beat()
    await bench.until(
        lambda: set(shown(bench).driven) != set(lamp), ANSWER_MS, "it ends the lamps with the test"
    )


@case(42, "a lamp fails", HEAD, "C33")
async def lamp_fails(bench: Bench) -> str:
    """Break the lamp of what is ordered: its report must not say all is well."""
    declared = bench.subject.declared
    if not (declared.inject or declared.fail_lamp):
        raise NotDeclared("it does not say how to fail a lamp (fail_lamp, or inject)")
    await bench.go()
    if declared.fail_lamp:
        await bench.subject.command(declared.fail_lamp)
    else:
        await bench.inject("wrong-lamp", head=head_of(bench).head.id, aspect=Aspect.YELLOW_FLASH)
    try:
        await bench.until(lambda: _told(bench), bench.lease_ms + ANSWER_MS, "it tells that a lamp fails")
        said = _what(bench)
    finally:
        if declared.fail_lamp and declared.mend_lamp:
            await bench.subject.command(declared.mend_lamp)
        elif not declared.fail_lamp:
            await bench.inject("head-back", head=head_of(bench).head.id)
    return said


def _told(bench: Bench) -> bool:
    report, due = shown(bench), set(head_of(bench).head.aspects[Aspect.GREEN])
    unproven = report.proven is not None and set(report.proven) != due
    return (
        report.aspect is not Aspect.GREEN or unproven or bool(bench.status and bench.status.status == "fault")
    )


def _what(bench: Bench) -> str:
    report = shown(bench)
    if bench.status and bench.status.status == "fault":
        return "its status says fault"
    if report.aspect is not Aspect.GREEN:
        return f"it reports {report.aspect}"
    return f"proven are {', '.join(report.proven or ()) or 'none'}"
