"""The properties watched in what a running venue records and says; planted violations are found."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import async_solipsism
import msgspec
import pytest
import reelay
from typer.testing import CliRunner

from signals.journal import Draft, Entry, Journal, Kind
from signals.journal.cli import app
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.proof.watch import RED_MS, Breach, JournalWatch, LightsWatch
from signals.sequence.load import load, venue_id
from signals.sequence.player import Player
from signals.sequence.stage import Stage
from tests.sequence.playing import SHIPPED, venue

QUICK = ("stop-holds", "wrong-lamp", "controller-killed")
LONGER = ("broker-killed", "head-lost", "hand-over", "kart-lost", "spin-in-the-hairpin", "track-not-checked")
MEANT = {
    "controller-killed": {"beat"},
    "broker-killed": {"beat"},
}
"""What is broken on purpose in a sequence, and must be seen."""

Heard = tuple[float, tuple[str, ...], dict[str, Any]]


@dataclass
class Played:
    """What a run left: its journal, and the beats and reports of heads by loop time in ms."""

    heads: frozenset[str]
    entries: list[Entry] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)


def played(path: Path) -> Played:
    async def whole() -> Played:
        here = venue(venue_id(path))
        sequence = load(path, here)
        topics = Topics.of(here.id, simulated=here.simulated)
        came = Played(frozenset(head.id for head in here.heads))

        def note(arrived: Arrived) -> None:
            now_ms = asyncio.get_running_loop().time() * 1000
            came.heard.append((now_ms, topics.split(arrived.topic), msgspec.json.decode(arrived.payload)))

        async with Stage(here, seed=sequence.file.start.seed) as stage:
            filters = (topics.name("beat"), topics.name("head", "+", "shown"))
            link = stage.link("reader", subscriptions=tuple((f, 0) for f in filters), owner=Owner(note))
            reading = asyncio.create_task(link.run())
            await Player(sequence, here, stage.link, processes=stage).run()
            assert stage.journal is not None
            came.entries = list(stage.journal.entries())
            reading.cancel()
        return came

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(whole())


def journal_breaches(entries: Iterable[Entry]) -> list[Breach]:
    watch = JournalWatch()
    return [breach for entry in entries for breach in watch.take(entry)]


def light_breaches(heads: frozenset[str], heard: Iterable[Heard]) -> list[Breach]:
    watch = LightsWatch(heads)
    return [b for at_ms, levels, message in heard for b in watch.take(levels, message, at_ms)]


def reds_missed(heads: frozenset[str], heard: Iterable[Heard]) -> bool:
    """Watch the same timed property by a monitor that is not ours: a stop, and not all red for too long."""
    monitor = reelay.dense_timed_monitor(
        pattern=f"historically[0:{RED_MS}]({{stop: true}} and not {{red: true}})", semantics="boolean"
    )
    red: set[str] = set()
    stop, missed, last_ms = False, False, -1.0
    for at_ms, levels, message in heard:
        if levels == ("beat",):
            stop = message["stop"]
        else:
            (red.add if message["aspect"] == "red" else red.discard)(levels[1])
        now = {"time": max(at_ms, last_ms + 0.001), "stop": stop, "red": red >= heads}
        last_ms = now["time"]
        missed = missed or any(one["value"] for one in monitor.update(now))
    return missed


def hold(path: Path) -> None:
    came = played(path)
    assert journal_breaches(came.entries) == []
    lights = light_breaches(came.heads, came.heard)
    assert {breach.name for breach in lights} == MEANT.get(path.stem, set()), lights
    assert ("red" in {breach.name for breach in lights}) == reds_missed(came.heads, came.heard)


@pytest.mark.parametrize("name", QUICK)
def test_what_was_proved_is_so_in_a_running_venue(name: str) -> None:
    hold(next(path for path in SHIPPED if path.stem == name))


@pytest.mark.gate
@pytest.mark.parametrize("name", LONGER)
def test_what_was_proved_is_so_where_more_happens(name: str) -> None:
    hold(next(path for path in SHIPPED if path.stem == name))


@pytest.mark.night
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_what_was_proved_is_so_in_every_shipped_sequence(path: Path) -> None:
    hold(path)


def entry(n: int, kind: Kind, body: Mapping[str, Any], *, at: int = 0) -> Entry:
    return Entry(n=n, at=at, boot="b", seq=n, kind=kind, body=dict(body), previous="", hash="")


def change(n: int, what: str, facts: dict[str, dict[str, str]], *, at: int = 0) -> Entry:
    body = {"what": what, "post": "desk", "fields": {}, "happened": [], "placed": [], "ended": []}
    return entry(n, Kind.CHANGE, body | {"state": {"facts": facts}}, at=at)


def asked(n: int, word: str) -> Entry:
    return entry(n, Kind.CALL, {"post": "p1", "id": "c1", "call": word})


def answered(n: int, *rules: str, accepted: bool = False, at: int = 0) -> Entry:
    refusals = [{"rule": rule, "sentence": "."} for rule in rules]
    body = {"post": "p1", "id": "c1", "accepted": accepted, "refusals": refusals}
    return entry(n, Kind.ANSWER, body, at=at)


def single(**facts: str) -> dict[str, dict[str, str]]:
    return {name: {"": member} for name, member in facts.items()}


RACING = single(phase="racing")
STOPPED = single(phase="racing", latch="stop") | {"stop": {"p1": "incident"}}
CAUTIOUS = RACING | {"caution": {"s1:p1": "incident"}}
LATCHED = {"button": {"4": "true"}, "caution": {"pit:E": "equipment"}}
FAILED = single(journal="failed")
PLANTED: dict[str, tuple[str, list[Entry]]] = {
    "armed under caution": ("P14", [change(1, "arm", CAUTIOUS | single(phase="armed"))]),
    "a stop beside recovery": ("P16r", [change(1, "lift", STOPPED | single(latch="recovery"))]),
    "a trip without a stop": ("P9", [change(1, "monitor-tripped", single(monitor="tripped"))]),
    "a lost head without caution": ("P15", [change(1, "head-lost", {"head": {"h1": "lost"}})]),
    "racing from staging": ("P3", [change(1, "stage", single(phase="staging")), change(2, "start", RACING)]),
    "a stop that ends clear": ("P4", [change(1, "stop", STOPPED), change(2, "lift", RACING)]),
    "a hold that ends by itself": ("P5", [change(1, "caution", CAUTIOUS), change(2, "tick", RACING)]),
    "a restart that forgets": (
        "P16",
        [change(1, "caution", CAUTIOUS), change(2, "restart", single(phase="staging"))],
    ),
    "a latch that ends by a lift": (
        "P17",
        [change(1, "kart-pressed", LATCHED), change(2, "clear", {"caution": LATCHED["caution"]})],
    ),
    "a lift while nothing is recorded": (
        "P19",
        [change(1, "journal-failed", CAUTIOUS | FAILED), change(2, "lift", RACING | FAILED)],
    ),
    "from closed to racing": ("P20", [change(1, "close", {}), change(2, "start", RACING)]),
    "a stop refused": ("E1", [asked(1, "stop"), answered(2, "stop-holds")]),
    "a refusal without a reason": ("reasons", [asked(1, "arm"), answered(2)]),
    "no answer": ("answered", [asked(1, "arm"), change(2, "stop", STOPPED, at=2_001)]),
    "an answer too late": ("answered", [asked(1, "arm"), answered(2, accepted=True, at=2_500)]),
}


@pytest.mark.parametrize("planted", PLANTED)
def test_a_planted_violation_is_found(planted: str) -> None:
    name, entries = PLANTED[planted]
    assert name in {breach.name for breach in journal_breaches(entries)}


Said = tuple[tuple[str, ...], dict[str, Any]]
CALM: Said = (("beat",), {"stop": False})
STOP: Said = (("beat",), {"stop": True})


def shown(head: str, aspect: str) -> Said:
    return ("head", head, "shown"), {"aspect": aspect}


def beats(until_ms: int, *, stop_at_ms: int) -> list[Heard]:
    return [(at, *(STOP if at >= stop_at_ms else CALM)) for at in range(0, until_ms, 100)]


LATE: dict[str, tuple[list[tuple[int, str]], bool]] = {
    "at once": ([(0, "h1"), (0, "h2")], False),
    "just in time": ([(0, "h1"), (900, "h2")], False),
    "one too late": ([(0, "h1"), (1_150, "h2")], True),
    "one never": ([(0, "h1")], True),
    "all late": ([(1_500, "h1"), (1_600, "h2")], True),
}


@pytest.mark.parametrize("case", LATE)
def test_a_head_that_is_not_red_in_time_is_found_by_both(case: str) -> None:
    reds, late = LATE[case]
    heads = frozenset({"h1", "h2"})
    heard = [(0.0, *shown(head, "green")) for head in heads] + beats(6_000, stop_at_ms=1_000)
    heard += [(1_000.0 + after, *shown(head, "red")) for after, head in reds]
    heard.sort(key=lambda one: one[0])
    found = {breach.name for breach in light_breaches(heads, heard)}
    assert found == ({"red"} if late else set())
    assert reds_missed(heads, heard) == late


def test_a_head_that_leaves_red_under_a_stop_is_found_by_both() -> None:
    heads = frozenset({"h1"})
    heard = [*beats(4_000, stop_at_ms=100), (150.0, *shown("h1", "red")), (1_850.0, *shown("h1", "green"))]
    heard.sort(key=lambda one: one[0])
    assert [(breach.name, breach.at) for breach in light_breaches(heads, heard)] == [("red", 2_900)]
    assert reds_missed(heads, heard)


def test_a_silent_beat_is_told_once() -> None:
    red = shown("h1", "red")
    heard: list[Heard] = [(0, *CALM), (400, *CALM), (901, *red), (2_000, *red)]
    assert [(b.name, b.at) for b in light_breaches(frozenset(), heard)] == [("beat", 901)]


def written(folder: Path, entries: list[Entry]) -> None:
    journal = Journal(folder / "journal.sqlite")
    journal.append_many(
        Draft(kind=one.kind, body=one.body, at=one.at, boot=one.boot, seq=one.seq) for one in entries
    )
    journal.close()


def test_the_verb_tells_what_does_not_hold_and_falls_short(tmp_path: Path) -> None:
    written(tmp_path, PLANTED["a stop that ends clear"][1])
    came = CliRunner().invoke(app, ["watch", "--data", str(tmp_path)])
    assert came.exit_code == 1
    assert "P4 does not hold at entry 2" in came.output


def test_the_verb_is_content_with_a_record_in_which_all_holds(tmp_path: Path) -> None:
    written(tmp_path, [change(1, "stop", STOPPED)])
    came = CliRunner().invoke(app, ["watch", "--data", str(tmp_path), "--to-now", "--json"])
    assert came.exit_code == 0
    assert msgspec.json.decode(came.stdout) == {"held": True, "entries": 1, "breaches": []}
