"""Cases of what a node says: how it introduces itself, how often it reports, how fast it answers."""

from __future__ import annotations

import json
import statistics

from signals.conform import witness
from signals.conform.bench import Bench
from signals.conform.cases import case
from signals.conform.proxy import Connect
from signals.conform.sentences import ANSWER_MS, EVERY, KEEPALIVE_S, MOVING
from signals.conform.verdict import Failed

ANSWERS = 10
REPORTS_PER_LEASE = 3
ECHO_BEHIND = 5
"""Beats a report may be behind: one under way, and those between two reports of a slow lease."""


@case(1, "birth and will", EVERY, "C1", "C2", "C3")
async def birth_and_will(bench: Bench) -> str:
    """Look at how it connected, at its will, and at its first word."""
    connect = bench.proxy.watched.connects[-1]
    topic = bench.topics.name("node", bench.node.id, "status")
    wrong = [*_wrong_connect(bench, connect), *_wrong_will(connect, topic)]
    births = [sent for sent in bench.proxy.watched.sent if sent.topic == topic]
    wrong += [] if births and births[0].retain and births[0].qos == 1 else ["its status is not retained at 1"]
    status = bench.status
    if status and (set(status.heads), set(status.karts)) != (set(bench.node.heads), set(bench.node.karts)):
        wrong.append(f"its status names heads {status.heads} and karts {status.karts}")
    if wrong:
        raise Failed("; ".join(wrong))
    return f"firmware {status.firmware}" if status else ""


def _wrong_connect(bench: Bench, connect: Connect) -> list[str]:
    found = []
    if connect.level != 4:  # noqa: PLR2004 - the protocol level of MQTT 3.1.1
        found.append(f"protocol level {connect.level}, not 4")
    if not connect.clean:
        found.append("no clean session")
    if not 0 < connect.keepalive_s <= KEEPALIVE_S:
        found.append(f"keepalive {connect.keepalive_s} s")
    if connect.client.partition(".")[0] != f"node-{bench.node.id}":
        found.append(f"client id {connect.client!r}")
    return found


def _wrong_will(connect: Connect, topic: str) -> list[str]:
    if connect.will_topic != topic:
        return [f"its will is on {connect.will_topic}, not on {topic}"]
    try:
        gone = json.loads(connect.will_payload).get("status") == "gone"
    except (ValueError, AttributeError):
        gone = False
    found = [] if gone else ['its will does not say "gone"']
    return found + (
        [] if connect.will_retain and connect.will_qos == 1 else ["its will is not retained at 1"]
    )


@case(2, "reports in time, with the last beat", EVERY, "C31", "C32")
async def reports(bench: Bench) -> str:
    """Count the reports of two leases, and see that each echoes a beat of now."""
    await bench.settled()
    seen, due = len(bench.heard), 2 * REPORTS_PER_LEASE
    ms = await bench.until(
        lambda: len(bench.heard) >= seen + due, 2 * bench.lease_ms + ANSWER_MS, f"{due} reports in two leases"
    )
    number = bench.beat()
    behind = number - bench.heard[-1].report.beat_seq
    if not 0 <= behind <= ECHO_BEHIND:
        raise Failed(f"the last report echoes beat {number - behind}, {behind} behind")
    return f"{due} reports in {ms:.0f} ms"


@case(3, "an order answered in time", MOVING, "C27", "C31", "C33")
async def answer(bench: Bench) -> str:
    """Order the one and the other in turn, and take the time to the report."""
    await bench.go()
    took = []
    for number in range(ANSWERS):
        fields = bench.organ.go if number % 2 else bench.organ.hold
        took.append(await bench.obeys(fields))
        await witness.agrees(bench)
    return f"p50 {statistics.median(took):.1f} ms, longest {max(took):.1f} ms"
