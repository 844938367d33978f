"""What the controller says, in which order, and within how many turns of the loop."""

from __future__ import annotations

import asyncio
import json
import logging
import threading
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from signals.controller import record
from signals.controller.calls import ANSWERED_MAX, WAITING_MAX
from signals.journal import Kind
from signals.mqtt.codec import decode
from signals.mqtt.contract import (
    NODE_MESSAGE_MAX,
    Answer,
    AspectCommand,
    Beat,
    ControllerStatus,
    Entry,
    MonitorStatus,
    Passed,
)
from signals.mqtt.link import Arrived
from signals.words import Aspect, Phase
from tests.controller.made import harbour, status, where
from tests.controller.town import UTC_MS, FailingJournal
from tests.controller.wire import TOPICS, Wire, wired
from tests.mqtt.malformed import MALFORMED
from tests.virtual import virtual

GROUP = [Entry(number=1, driver="Ada", class_="adult")]


async def settle(wire: Wire) -> None:
    """Let the loop turn until nothing but beats is said."""
    for _ in range(20):
        await asyncio.sleep(0)


def answer(wire: Wire, post: str) -> Answer:
    return decode(Answer, wire.last(f"answer/{post}"))


def kinds(topics: list[str]) -> list[str]:
    """Topics without names, runs of one kind as one."""
    found = ["/".join(topic.split("/")[::2]) for topic in topics]
    return [kind for before, kind in zip(["", *found], found, strict=False) if kind != before]


@virtual
async def test_a_stop_is_out_within_the_turn_it_arrives_in(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, journal):
        wire.sent.clear()
        written = journal.last()
        wire.call("p1", "stop")
        assert kinds(wire.topics()) == ["beat", "head/aspect", "kart/limit", "state"]
        assert decode(Beat, wire.last("beat")).stop
        reds = [decode(AspectCommand, said) for topic, said in wire.sent if topic.startswith("head/")]
        assert {command.aspect for command in reds} == {Aspect.RED}
        assert len(reds) == len(harbour().heads)
        assert wire.state.condition == "stop"
        assert written != journal.last()  # written in the same turn, after it was acted on
        await settle(wire)
        assert wire.topics()[-1] == "answer/p1"
        assert (answer(wire, "p1").accepted, answer(wire, "p1").recorded) == (True, True)


@virtual
async def test_a_repeated_stop_leaves_no_head_behind_its_epoch(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        for number in range(3):
            wire.call("p1", "stop", id=f"s{number}")
        await asyncio.sleep(0.15)
        epoch = decode(Beat, wire.last("beat")).epoch
        commands = [decode(AspectCommand, wire.last(f"head/{head.id}/aspect")) for head in harbour().heads]
        assert {command.epoch for command in commands} == {epoch}


@virtual
async def test_a_permissive_call_is_written_before_it_is_acted_on(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, journal):
        seen = wire.state
        wire.call("desk", "prepare", entries=GROUP, boot=seen.boot, seq=seen.seq)
        await settle(wire)
        assert answer(wire, "desk").accepted
        entries = list(journal.entries())
        kinds_written = [str(entry.kind) for entry in entries]
        assert kinds_written[-3:] == ["call", "change", "answer"]
        call, change, _ = entries[-3:]
        assert (call.seq, change.seq) == (seen.seq, seen.seq + 1)
        assert call.body["post"] == "desk"


@virtual
async def test_a_failing_journal_refuses_what_permits_and_lets_what_restricts_act(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, journal):
        seen = wire.state
        journal.failing = True
        wire.call("desk", "prepare", entries=GROUP, boot=seen.boot, seq=seen.seq)
        await settle(wire)
        refused = answer(wire, "desk")
        assert (refused.accepted, refused.recorded) == (False, False)
        assert "journal-fault" in {one.rule for one in refused.refusals}
        assert wire.state.journal == "failed"
        wire.call("p1", "stop")
        assert wire.state.condition == "stop"
        await settle(wire)
        assert (answer(wire, "p1").accepted, answer(wire, "p1").recorded) == (True, False)
        journal.failing = False
        await asyncio.sleep(1.5)
        assert wire.state.journal == "ok"
        assert wire.state.condition == "stop"
        faults = [entry.body["what"] for entry in journal.entries() if entry.kind == "fault"]
        assert "journal-failed" in faults
        calls = [entry.body["call"] for entry in journal.entries() if entry.kind == "call"]
        assert calls == ["prepare", "stop"]  # kept, and written once the journal worked again


def test_a_disk_that_hangs_holds_up_neither_a_stop_nor_a_caution(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In real time, with the journal written by its own thread."""
    monkeypatch.setattr(record, "WRITTEN_S", 0.1)
    gate = threading.Event()
    gate.set()
    append = FailingJournal.append_many

    def hanging(self: FailingJournal, drafts: Any) -> Any:
        gate.wait(10)
        return append(self, drafts)

    monkeypatch.setattr(FailingJournal, "append_many", hanging)

    async def run() -> None:
        async with wired(tmp_path, threaded=True) as (wire, _):
            seen = wire.state
            gate.clear()
            wire.call("desk", "prepare", entries=GROUP, boot=seen.boot, seq=seen.seq)
            await settle(wire)
            wire.call("p2", "caution", where="s4")
            await settle(wire)
            assert wire.state.sectors["s4"] == "caution"
            wire.call("p1", "stop")
            assert wire.state.condition == "stop"
            await wire.until(lambda: {"answer/desk", "answer/p1"} <= set(wire.topics()))
            assert not answer(wire, "desk").accepted
            assert (answer(wire, "p1").accepted, answer(wire, "p1").recorded) == (True, False)
            gate.set()
            await wire.until(lambda: wire.state.journal == "ok")

    asyncio.run(run())


@virtual
async def test_one_posts_flood_does_not_hold_up_another(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        seen = wire.state
        for number in range(100):
            wire.call("p1", "dry", id=f"f{number}", boot=seen.boot, seq=seen.seq)
        wire.call("p2", "caution", where="s4")
        wire.call("desk", "stop")
        assert wire.state.condition == "stop"
        refused = [decode(Answer, said) for topic, said in wire.sent if topic == "answer/p1"]
        assert len(refused) == ANSWERED_MAX < 100 - WAITING_MAX
        assert {one.refusals[0].rule for one in refused} == {"too-many-calls"}
        wire.sent.clear()
        await settle(wire)
        order = [topic for topic in wire.topics() if topic.startswith("answer/")]
        assert order.index("answer/p2") <= 3
        for _ in range(200):
            await asyncio.sleep(0)
        assert wire.topics().count("answer/p1") == WAITING_MAX


@virtual
async def test_malformed_messages_change_nothing_and_are_logged_once(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    async with wired(tmp_path) as (wire, journal):
        await asyncio.sleep(0.25)
        wire.sent.clear()
        written = journal.last()
        for _ in range(3):
            for bad in MALFORMED:
                wire.owner.on_message(_arrived(bad))
        await settle(wire)
        assert wire.sent == []
        assert journal.last() == written
        lines = [
            record.getMessage() for record in caplog.records if record.getMessage().startswith("not-taken ")
        ]
        assert len(lines) == len(set(lines))
        assert len(MALFORMED) >= len(lines) >= 40
    sums = [record.getMessage() for record in caplog.records if "not-taken-in-all" in record.getMessage()]
    assert sum(json.loads(line.rpartition("count=")[2]) for line in sums) == 3 * len(MALFORMED)


def _arrived(bad: Any) -> Any:
    return Arrived(TOPICS.name(*bad.topic.split("/")), bad.payload, 1, bad.retained)


@pytest.mark.parametrize(
    ("topic", "message"),
    [
        ("kart/1/where", where("s9")),
        ("kart/1/where", where("pit", in_pit=False)),
        ("kart/99/where", where("s1")),
        ("loop/l1/passed", Passed(boot="gate0", seq=1, kart=99)),
        ("loop/l9/passed", Passed(boot="gate0", seq=1, kart=1)),
    ],
)
@virtual
async def test_a_report_of_what_the_venue_has_not_changes_nothing(
    tmp_path: Path, topic: str, message: Any, caplog: pytest.LogCaptureFixture
) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.sent.clear()
        wire.hear(topic, message)
        assert wire.sent == []
        assert "not-taken" in caplog.text


@virtual
async def test_an_old_report_is_dropped(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.hear("kart/1/where", replace(where("s1"), seq=5))
        assert wire.state.karts["1"].place == "s1"
        wire.sent.clear()
        wire.hear("kart/1/where", replace(where("s2"), seq=4))
        wire.hear("kart/1/where", replace(where("s2"), seq=5))
        assert wire.sent == []


@virtual
async def test_a_call_on_an_old_picture_is_refused(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        seen = wire.state
        wire.call("p1", "caution", where="s2")
        await settle(wire)
        wire.call("desk", "prepare", entries=GROUP, boot=seen.boot, seq=seen.seq)
        await settle(wire)
        assert {one.rule for one in answer(wire, "desk").refusals} == {"stale-view"}


@virtual
async def test_a_permissive_call_that_saw_nothing_is_refused(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.call("desk", "prepare", entries=GROUP)
        await settle(wire)
        assert "stale-view" in {one.rule for one in answer(wire, "desk").refusals}


@virtual
async def test_the_same_call_again_is_answered_the_same_and_done_once(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        seen = wire.state
        for _ in range(2):
            wire.call("desk", "prepare", id="one", entries=GROUP, boot=seen.boot, seq=seen.seq)
            await settle(wire)
        answers = [decode(Answer, said) for topic, said in wire.sent if topic == "answer/desk"]
        assert [one.accepted for one in answers] == [True, True]
        assert wire.state.seq == seen.seq + 1
        wire.call("desk", "prepare", id="one", entries=[], boot=seen.boot, seq=seen.seq)
        await settle(wire)
        assert "id-reused" in {one.rule for one in answer(wire, "desk").refusals}


@virtual
async def test_another_controllers_beat_is_a_stop(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, journal):
        foreign = Beat(boot="other1", seq=1, epoch=0, stop=False, test=False, at=0)
        wire.hear("beat", foreign)
        assert [(hold.what, hold.post) for hold in wire.state.holds] == [("stop", "E")]
        assert [entry.body["what"] for entry in journal.entries() if entry.kind == "fault"] == [
            "foreign-controller"
        ]


@virtual
async def test_another_controllers_status_is_a_stop_but_a_farewell_is_not(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.hear("controller/status", ControllerStatus(status="gone", boot="other1"))
        wire.hear("controller/status", ControllerStatus(status="ready", boot="other1"), retained=True)
        assert not wire.state.holds
        wire.hear("controller/status", ControllerStatus(status="ready", boot="other1"))
        assert [hold.post for hold in wire.state.holds] == ["E"]


@virtual
async def test_its_own_beats_are_its_own(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.hear("beat", wire.last("beat"))
        assert not wire.state.holds


@virtual
async def test_cut_off_longer_than_the_lease_is_a_stop_though_the_link_looks_whole(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        lease_s = harbour().timing.lease_controller / 1000
        await asyncio.sleep(lease_s - 0.05)
        assert wire.state.condition != "stop"
        await asyncio.sleep(0.2)
        assert [hold.post for hold in wire.state.holds if hold.what == "stop"] == ["E"]


@virtual
async def test_beats_keep_their_schedule_whatever_happens_between(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.call("p1", "stop")
        await asyncio.sleep(0.03)
        wire.sent.clear()
        for number in range(20):
            wire.hear("beat", wire.last("beat")) if number else None
            await asyncio.sleep(0.1)
            if number % 7 == 3:
                wire.call("p1", "caution", where="s2", id=f"c{number}")
        at = [decode(Beat, said).at - UTC_MS for topic, said in wire.sent if topic == "beat"]
        assert {ms for ms in at if ms % 100 == 0} == {*range(100, 2001, 100)}


@virtual
async def test_nothing_for_a_node_exceeds_what_a_node_takes(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        for node in harbour().nodes:
            wire.hear(f"node/{node.id}/status", status(node.id, "a" * 16))
        wire.call("p1", "caution", where="s2")
        longest = max(
            len(TOPICS.name(topic)) + len(said)
            for topic, said in wire.sent
            if topic.partition("/")[0] in ("beat", "head", "kart")
        )
        assert longest <= NODE_MESSAGE_MAX


@virtual
async def test_the_simulated_verdict_says_that_it_is_simulated(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        opening = json.loads(wire.last("group"))["opening"]
        assert (opening["verdict"], opening["simulated"]) == ("open", True)
        # 2026-01-05 08:00 UTC; the day ends at 04:00 UTC
        assert opening["until"] == 1_767_672_000_000


@virtual
async def test_the_day_ends_while_running(tmp_path: Path) -> None:
    four_ms = 1_767_672_000_000
    async with wired(tmp_path, utc_ms=four_ms - 1000) as (wire, journal):
        await asyncio.sleep(0.9)
        assert json.loads(wire.last("group"))["opening"]["verdict"] == "open"
        await asyncio.sleep(0.2)
        assert json.loads(wire.last("group"))["opening"]["verdict"] is None
        await asyncio.sleep(1.0)
        ends = [entry.at for entry in journal.entries() if entry.body.get("what") == "day-ended"]
        assert len(set(ends)) == 1


@virtual
async def test_a_monitor_that_never_spoke_is_lost_after_the_start(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        assert wire.state.monitor == "ok"
        await asyncio.sleep(10.2)
        assert wire.state.monitor == "lost"
        wire.hear("monitor/status", MonitorStatus(status="ok"))
        assert wire.state.monitor == "ok"


@virtual
async def test_equipment_not_heard_is_lost_before_anything_is_permitted(tmp_path: Path) -> None:
    async with wired(tmp_path) as (wire, _):
        wire.hear("monitor/status", MonitorStatus(status="ok"))
        for word, more in (
            ("prepare", {"entries": GROUP}),
            ("stage", {}),
            *(("confirm", {"item": item.id, "id": item.id}) for item in harbour().checklist),
            ("arm", {}),
            ("start", {}),
        ):
            seen = wire.state
            wire.call("desk", word, **{"boot": seen.boot, "seq": seen.seq} | more)
            await settle(wire)
        assert not answer(wire, "desk").accepted
        assert wire.state.phase is Phase.STAGING
        assert {head.health for head in wire.state.heads.values()} == {"lost"}


@virtual
async def test_a_flood_that_changes_nothing_is_acted_on_and_mostly_only_counted(tmp_path: Path) -> None:
    """The first are answered, others' calls go on, and neither record nor broker is filled by the rest."""
    async with wired(tmp_path) as (wire, journal):
        for number in range(1000):
            wire.call("p1", "stop", id=f"s{number}")
        wire.call("p2", "stop", id="another")
        await wire.until(lambda: wire.topics().count("answer/p2") == 1)
        assert {hold.post for hold in wire.state.holds if hold.what == "stop"} == {"p1", "p2"}
        await asyncio.sleep(0)
        assert 1 <= wire.topics().count("answer/p1") <= ANSWERED_MAX + 1
        written = [entry for entry in journal.entries(kind=Kind.CALL) if entry.body["post"] == "p1"]
        assert 1 <= len(written) <= ANSWERED_MAX + 1
