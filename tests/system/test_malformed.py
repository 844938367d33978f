"""What must change nothing, sent by whoever may speak on its topic, to a venue that runs."""

from __future__ import annotations

import json
import os
import re
import signal

from tests.mqtt.malformed import MALFORMED, Bad
from tests.system.outside import Listener, Post, Run, facts, with_broker

pytestmark = with_broker

SPEAKERS = {
    "call/p1": "post-p1",
    "loop/l1/passed": "gateway",
    "kart/1/taken": "node-k1",
    "kart/1/where": "gateway",
    "head/h1/shown": "node-n1",
    "input/alarm/state": "node-c1",
    "node/n1/status": "node-n1",
}
"""Who may speak on the cases' topics. On the others nobody may, so they reach no one."""
TWICE = 2
WITHIN_A_SECOND = 1.0
NOT_TAKEN = re.compile(r" not-taken topic=(\".*\") reason=(\".*\")$", re.MULTILINE)
IN_ALL = re.compile(r" not-taken-in-all topic=(\".*\") reason=(\".*\") count=(\d+)$", re.MULTILINE)
LIVE = [bad for bad in MALFORMED if not bad.retained]
"""A retained message is marked so only for who subscribes later: those cases are played on their own."""


def topic_below(written: str) -> str:
    return str(json.loads(written)).removeprefix("kerblight-sim/1/harbour-loop/")


def not_taken(log: str) -> list[tuple[str, str]]:
    return [(topic_below(topic), json.loads(reason)) for topic, reason in NOT_TAKEN.findall(log)]


def explained(bad: Bad, told: list[tuple[str, str]]) -> bool:
    """Whether a line of the log tells of this case, on its topic and with its reason."""
    return any(topic == bad.topic and bad.says in reason for topic, reason in told)


def test_malformed_messages_change_nothing_and_each_kind_is_counted_and_logged_once(
    run: Run, desk: Post, p1: Post, everything: Listener
) -> None:
    sent = [bad for bad in LIVE if bad.topic in SPEAKERS]
    assert len(sent) >= 90
    p1.gets("caution", where="s2", kind="incident")
    before, mark, begun = everything.settled(), len(everything.kept), len(run.log("controller"))
    for bad in LIVE:
        run.publish(SPEAKERS.get(bad.topic, "post-p1"), bad.topic, bad.payload, times=TWICE)

    def unexplained() -> list[str]:
        told = not_taken(run.log("controller")[begun:])
        return [bad.name for bad in sent if not explained(bad, told)]

    assert everything.until(lambda: not unexplained()), unexplained()
    assert facts(everything.says("state")) == before
    assert [heard for heard in everything.since(mark) if heard.topic.startswith("answer/")] == []
    answer = p1.call("caution", where="s3", kind="incident")
    assert answer["accepted"]
    assert answer["took_s"] < WITHIN_A_SECOND
    print(f"after {TWICE} times {len(LIVE)} messages a call is answered in {answer['took_s']:.3f} s")

    kinds = not_taken(run.log("controller")[begun:])
    assert len(kinds) == len(set(kinds))
    assert {topic for topic, _ in kinds} == set(SPEAKERS)
    boot = everything.says("state")["boot"]
    restart_controller(run, everything, boot)
    counted = {
        (topic_below(topic), json.loads(reason)): int(count)
        for topic, reason, count in IN_ALL.findall(run.log("controller")[begun:])
    }
    assert counted.keys() == set(kinds)
    assert all(count % TWICE == 0 for count in counted.values())
    assert sum(counted.values()) == TWICE * len(sent)


def restart_controller(run: Run, listener: Listener, boot: str) -> None:
    """End it in good order, so that it sums up, and wait until the supervisor's next one speaks."""
    os.kill(run.children()["controller"], signal.SIGTERM)
    assert listener.until(lambda: listener.says("state")["boot"] != boot, 20)


def test_a_retained_call_is_never_acted_on(run: Run, desk: Post, p1: Post, everything: Listener) -> None:
    asked = json.dumps({"id": "kept", "call": "caution", "where": "s2", "kind": "incident"}).encode()
    run.publish("post-p1", "call/p1", asked, retain=True)
    assert everything.until(lambda: everything.says("state")["holds"])  # live, it is a call as any other
    p1.gets("lift", hold="caution:s2:p1", checked=True)
    begun, mark, boot = len(run.log("controller")), len(everything.kept), everything.says("state")["boot"]
    restart_controller(run, everything, boot)
    assert everything.until(lambda: "is never retained" in run.log("controller")[begun:])
    refused = p1.call("start")
    assert not refused["accepted"]
    assert everything.says("state")["holds"] == []
    answers = [heard.says["id"] for heard in everything.since(mark) if heard.topic == "answer/p1"]
    assert "kept" not in answers
    run.publish("post-p1", "call/p1", b"", retain=True)
