"""What a running controller, monitor and page refuse changes nothing."""

from __future__ import annotations

import asyncio
import json
import random
from pathlib import Path

import pytest

from signals.mqtt.admission import admit
from signals.mqtt.codec import Malformed
from signals.mqtt.link import Arrived
from tests.controller.wire import TOPICS, wired
from tests.fuzz.mutate import mutated
from tests.fuzz.targets import ASKED
from tests.mqtt.malformed import WELL_FORMED
from tests.panel.conftest import _court, court, desk, go_home, p1  # noqa: F401 - fixtures
from tests.panel.court import Visitor

INPUTS = 3000
BODIES = 300
SIGN_INS = 60


def refused(topic: str, payload: bytes) -> bool:
    try:
        admit(TOPICS, Arrived(TOPICS.name(topic), payload, 1))
    except Malformed:
        return True
    return False


@pytest.mark.gate
async def test_what_the_controller_refuses_changes_no_fact_and_writes_nothing(tmp_path: Path) -> None:
    rng = random.Random(1)  # noqa: S311 - to be repeated
    async with wired(tmp_path) as (wire, journal):
        wire.call("p1", "caution", where="s2")
        await wire.until(lambda: "answer/p1" in wire.topics())
        before, entries = json.loads(wire.last("state")), len(list(journal.entries()))
        answers = [topic for topic in wire.topics() if topic.startswith("answer/")]
        sent = 0
        while sent < INPUTS:
            topic = rng.choice(list(WELL_FORMED))
            payload = mutated(rng, tuple(WELL_FORMED.values()))
            if refused(topic, payload):
                wire.hear(topic, payload)
                sent += 1
            if sent % 200 == 0:
                await asyncio.sleep(0)
        wire.call("p2", "stop")
        await wire.until(lambda: "answer/p2" in wire.topics())
        after = [topic for topic in wire.topics() if topic.startswith("answer/")]
        assert after == [*answers, "answer/p2"]
        entered = list(journal.entries())[entries:]
        assert {entry.body.get("post") for entry in entered if entry.kind in ("call", "answer")} == {"p2"}
    holds = [hold["id"] for hold in before["holds"]]
    assert holds


@pytest.mark.gate
def test_no_body_makes_the_page_fail(p1: Visitor) -> None:  # noqa: F811 - a fixture
    """Calls, sign-ins and whatever else may be posted: an answer each time, never the server's own fault."""
    p1.look()
    rng = random.Random(2)  # noqa: S311 - to be repeated
    word = p1.csrf
    seen: set[int] = set()
    form = (b"post=p1&person=Tove&password=x", b"post=desk&person=%00&password=" + b"y" * 200)
    for number in range(BODIES):
        body = mutated(rng, ASKED)
        if b'"stop"' in body:
            continue
        answer = p1.http.post(
            "/call", content=body, headers={"x-kerblight": word, "content-type": "application/json"}
        )
        seen.add(answer.status_code)
        assert answer.status_code < 500 or answer.status_code in (503, 504), (number, body[:300], answer.text)
    for _ in range(SIGN_INS):
        body = mutated(rng, form)
        kind = rng.choice(
            ("application/x-www-form-urlencoded", "application/json", "multipart/form-data", "")
        )
        for path in ("/sign-in", "/hand-on", "/reset", "/nowhere"):
            answer = p1.http.post(path, content=body, headers={"content-type": kind})
            assert answer.status_code < 500 or answer.status_code in (503, 504), (
                path,
                body[:300],
                answer.text,
            )
    assert seen & {200, 400, 403, 409}
