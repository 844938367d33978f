"""Cases of call boxes only: a press, a fault, and everything anew on a new connection."""

from __future__ import annotations

from signals.conform.bench import Bench
from signals.conform.cases import case
from signals.conform.fallback import connected_anew
from signals.conform.organ import ContactOrgan
from signals.conform.sentences import ANSWER_MS, POST
from signals.conform.verdict import Failed, NotDeclared
from signals.mqtt.contract import InputReport
from signals.words import InputState

EVENTS = {"press": "input-active", "release": "input-normal", "short": "input-fault"}


async def move(bench: Bench, how: str, to: InputState) -> float:
    """Press, release or short the contact, and wait for the report; gives the ms it took."""
    declared = bench.subject.declared
    command = {"press": declared.press, "release": declared.release, "short": declared.short}[how]
    if command:
        await bench.subject.command(command)
    elif declared.inject and isinstance(bench.organ, ContactOrgan):
        await bench.inject(EVENTS[how], input=bench.organ.contact)
    else:
        raise NotDeclared(f"it does not say how to {how} its contact ({how}, or inject)")
    return await bench.reports(
        lambda report: isinstance(report, InputReport) and report.state is to, f"it reports {to}"
    )


@case(49, "a press and its end", POST, "C43", "C31")
async def press(bench: Bench) -> str:
    """Press the contact and let go."""
    took = [await move(bench, "press", InputState.ACTIVE), await move(bench, "release", InputState.NORMAL)]
    topic = bench.topics.name(*bench.organ.report)
    last = [sent for sent in bench.proxy.watched.sent if sent.topic == topic][-1]
    if not (last.retain and last.qos == 1):
        raise Failed(f"it reports with quality of service {last.qos}, retained {last.retain}")
    return f"longest {max(took):.1f} ms"


@case(50, "a shorted contact", POST, "C44")
async def short(bench: Bench) -> None:
    """Short the contact, and mend it."""
    await move(bench, "short", InputState.FAULT)
    await move(bench, "release", InputState.NORMAL)


@case(51, "everything anew on a new connection", POST, "C43", "C9")
async def anew(bench: Bench) -> None:
    """End the connection, and see that the contact is told anew."""
    seen = len(bench.heard)
    bench.proxy.cut(refuse=True)
    await connected_anew(bench)
    await bench.until(
        lambda: len(bench.heard) > seen, ANSWER_MS + bench.lease_ms / 3, "its contact is told anew"
    )
