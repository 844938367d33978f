from __future__ import annotations

import json
import time

import pytest

from tests.system.outside import Heard, Listener, Post, Run, facts, kerblight, with_broker
from tests.system.published import channel_of, channels, mistakes
from tests.system.racing import GROUP

pytestmark = with_broker

WITHIN_A_SECOND = 1.0
NOT_IN_PEACE = {"loop-passed", "monitor-trip"}
"""Channels that only a race and a conflict fill; not looked at here."""


def test_all_that_is_said_is_as_published_and_all_that_is_published_is_said(
    run: Run, desk: Post, p1: Post
) -> None:
    with Listener(run, "post-desk") as ear, Listener(run, "instructor") as instructor:
        assert ear.until(lambda: "state" in ear.latest)
        p1.gets("stop", kind="incident", reason="a kart stands across")
        run.publish("post-desk", "monitor/reset/desk", b'{"reason":"looked at every head"}')
        run.publish("instructor", "inject/k1", b'{"id":"i1","event":"kart-back","kart":1}')
        due = {channel.name for channel in channels()} - NOT_IN_PEACE

        def all_came() -> bool:
            topics = {*ear.latest, *instructor.latest}
            return {channel.name for topic in topics if (channel := channel_of(topic))} >= due

        assert ear.until(all_came), due - {
            channel.name for topic in ear.latest if (channel := channel_of(topic))
        }
        heard = ear.since(0) + [each for each in instructor.since(0) if each.topic.startswith("inject/")]
    assert mistakes(heard) == []
    assert len(heard) > 100


def test_a_look_that_differs_from_the_contract_is_found() -> None:
    beat = b'{"boot":"abcd","seq":0,"epoch":0,"stop":false,"test":false,"at":1}'
    status = b'{"status":"well","more":1}'
    heard = [
        Heard(0, "beat", beat, 0, retained=True),
        Heard(0, "monitor/status", status, 0, retained=False),
        Heard(0, "beats", b"{}", 0, retained=False),
    ]
    told = [mistake.partition(":")[0] for mistake in mistakes(heard)]
    assert told == ["beat", "beat", "monitor/status", "monitor/status", "monitor/status", "beats"]


def test_a_stop_turns_every_head_red_within_a_second(desk: Post, p1: Post, everything: Listener) -> None:
    mark, begun_s = len(everything.kept), time.monotonic()
    answer = p1.call("stop", kind="incident", reason="a kart stands across")
    assert answer["accepted"]
    assert answer["recorded"]
    assert answer["refusals"] == []
    assert answer["took_s"] < WITHIN_A_SECOND
    assert everything.until(lambda: set(everything.shown().values()) == {"red"})
    red_s = time.monotonic() - begun_s
    assert red_s < WITHIN_A_SECOND
    assert {heard.says["aspect"] for heard in everything.of("aspect", mark)} == {"red"}
    assert len(everything.of("aspect", mark)) == len(everything.shown())
    stop_s = next(heard.at_s for heard in everything.of("beat", mark) if heard.says["stop"]) - begun_s
    print(
        f"stop: answered in {answer['took_s']:.3f} s, in the beat after {stop_s:.3f} s, "
        f"all {len(everything.shown())} heads red after {red_s:.3f} s, a client's start counted in"
    )
    (hold,) = everything.says("state")["holds"]
    assert (hold["what"], hold["post"], hold["kind"]) == ("stop", "p1", "incident")


def test_a_stop_is_lifted_by_its_placer_and_leaves_a_recovery_to_clear(
    desk: Post, p1: Post, everything: Listener
) -> None:
    p1.gets("stop", kind="incident")
    for early in (desk.call("clear", checked=True), p1.call("lift", hold="stop:desk", checked=True)):
        assert not early["accepted"]
    p1.gets("lift", hold="stop:p1", checked=True)
    state = everything.says("state")
    assert [hold["what"] for hold in state["holds"]] == ["recovery"]
    assert state["condition"] == "caution"
    assert everything.until(lambda: not everything.says("beat")["stop"])
    assert "clear" not in state["sectors"].values()
    assert [one["rule"] for one in desk.call("clear")["refusals"]] == ["track-not-checked"]
    desk.gets("clear", checked=True)
    assert everything.says("state")["holds"] == []
    assert everything.until(lambda: everything.shown()["h1"] == "dark")


def test_a_caution_turns_its_sector_yellow_until_its_placer_looked_and_lifts_it(
    run: Run, desk: Post, p1: Post, everything: Listener
) -> None:
    p1.gets("caution", where="s3", kind="incident", reason="oil in the hairpin")
    assert everything.says("state")["sectors"]["s3"] == "caution", everything.says("state")["holds"]
    assert everything.until(lambda: {everything.shown()[head] for head in ("h3", "r3")} == {"yellow-flash"})
    lift = {"hold": "caution:s3:p1", "checked": True}
    stranger = Post(run, "p2", everything).call("lift", **lift, reason="bored")
    assert [one["rule"] for one in stranger["refusals"]] == ["not-your-hold"]
    assert [one["rule"] for one in p1.call("lift", hold="caution:s3:p1")["refusals"]] == ["track-not-checked"]
    p1.gets("lift", **lift)
    assert everything.says("state")["condition"] == "clear"
    assert everything.until(lambda: everything.shown()["h3"] == "dark")


def test_a_refused_start_says_every_reason_and_changes_nothing(
    desk: Post, p1: Post, everything: Listener
) -> None:
    desk.gets("prepare", entries=GROUP)
    desk.gets("stage")
    p1.gets("caution", where="s2", kind="incident")
    before = everything.settled()
    answer = desk.call("start")
    assert not answer["accepted"]
    assert answer["took_s"] < WITHIN_A_SECOND
    told = {one["rule"]: one["sentence"] for one in answer["refusals"]}
    assert {"wrong-phase", "checklist-open", "caution-holds"} <= set(told)
    assert "Anchor" in told["caution-holds"]
    assert all(sentence.endswith(".") and " " in sentence for sentence in told.values()), told
    assert facts(everything.says("state")) == before


def test_a_post_cannot_call_as_another(run: Run, desk: Post, p1: Post, everything: Listener) -> None:
    before, mark = everything.settled(), len(everything.kept)
    forged = b'{"id":"forged","call":"stop","kind":"incident","by":"desk"}'
    run.publish("post-p1", "call/desk", forged)
    run.publish(None, "call/p1", forged)
    run.publish("reader", "call/p1", forged)
    run.publish("instructor", "call/p1", forged)
    refused = p1.call("start")  # comes after them, and is answered
    assert not refused["accepted"]
    assert [one["rule"] for one in refused["refusals"]].count("not-authorised") == 1
    came = [heard for heard in everything.since(mark) if b"forged" in heard.payload]
    assert came == []
    assert facts(everything.says("state")) == before


INTRUDER = b'"boot":"intruder","seq":9'
FORGED = {
    "beat": b'{%s,"epoch":0,"stop":true,"test":false,"at":1}',
    "head/h1/aspect": b'{%s,"epoch":0,"inc":"a1","aspect":"green"}',
    "head/h1/shown": b'{%s,"beat_seq":9,"after_ms":1,"aspect":"green","driven":["green"],"proven":null}',
    "kart/1/limit": b'{%s,"epoch":0,"inc":"a1","limit_kmh":45,"boosts":0,"because":"class-limit"}',
    "kart/1/taken": b'{%s,"beat_seq":9,"limit_kmh":45}',
    "kart/1/where": b'{%s,"sector":"s1","at_m":1,"speed_kmh":9,"in_pit":false,"button":true}',
    "loop/l1/passed": b'{%s,"kart":1}',
    "input/alarm/state": b'{%s,"beat_seq":9,"state":"active"}',
    "node/n1/status": b'{%s,"status":"gone"}',
    "controller/status": b'{%s,"status":"ready"}',
    "monitor/trip": b'{%s,"tripped":true}',
    "call/desk": b'{%s,"id":"intruder","call":"stop"}',
    "inject/n1": b'{%s,"id":"intruder","event":"head-lost","head":"h1"}',
}


@pytest.mark.parametrize("user", ["post-p1", "reader", None], ids=["a-post", "a-reader", "nobody"])
def test_equipment_and_controller_cannot_be_forged_however_well_formed_or_spoilt(
    run: Run, p1: Post, everything: Listener, user: str | None
) -> None:
    before, mark = everything.settled(), len(everything.kept)
    with Listener(run, "instructor", "#") as ear:
        assert ear.until(lambda: "state" in ear.latest)
        for topic, payload in FORGED.items():
            run.publish(user, topic, payload % INTRUDER, retain=True)
            run.publish(user, topic, b"\xff" + INTRUDER)
        assert p1.call("start")["took_s"] < WITHIN_A_SECOND
        last = ear.latest["beat"].at_s
        assert ear.until(lambda: ear.latest["beat"].at_s > last)
        heard = ear.since(0) + everything.since(mark)
    assert "call/p1" in {each.topic for each in heard}
    assert [each.topic for each in heard if b"intruder" in each.payload] == []
    assert facts(everything.says("state")) == before
    assert "intruder" not in run.log("controller") + run.log("nodes") + run.log("monitor")


def test_without_a_name_one_reads_all_but_what_names_persons(run: Run, desk: Post, p1: Post) -> None:
    with Listener(run, None) as ear:
        assert ear.until(lambda: "state" in ear.latest)
        p1.gets("caution", where="s1", kind="incident", by="tove")
        assert ear.until(lambda: "answer/p1" in ear.latest)
        assert ear.until(lambda: "input/alarm/state" in ear.latest)
        seen = [channel for topic in ear.latest if (channel := channel_of(topic))]
        assert [channel.name for channel in seen if "reader" not in channel.readers] == []
        assert not {"group", "call/p1"} & set(ear.latest)
    with Listener(run, "post-desk") as ear:
        assert ear.until(lambda: "group" in ear.latest)


def test_the_call_verb_is_accepted_or_says_why_not(run: Run, desk: Post, everything: Listener) -> None:
    where = ("--data", str(run.data))
    stop = kerblight("call", "stop", "--post", "p1", "--kind", "incident", "--by", "tove", *where)
    assert stop.returncode == 0, stop.stderr
    assert stop.stdout.strip() == "✓ stop"
    assert everything.until(lambda: set(everything.shown().values()) == {"red"})
    start = kerblight("call", "start", "--post", "desk", *where)
    assert start.returncode == 1, start.stderr
    assert "start refused" in start.stdout
    said = " ".join(start.stdout.replace("│", " ").split())
    told = kerblight("call", "start", "--post", "desk", "--json", *where)
    assert told.returncode == 1
    sentences = [one["sentence"] for one in json.loads(told.stdout)["refusals"]]
    assert len(sentences) > 2
    assert any("placed by Post 1" in sentence for sentence in sentences), sentences
    assert all(sentence in said for sentence in sentences if "since" not in sentence), said
