"""Several seats share one track: each is scored for its own sectors, what an instructor throws in counts."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path

import pytest

from signals.caller import Caller
from signals.cli.links import links
from signals.mqtt.contract import Inject
from signals.mqtt.topics import Topics
from signals.sequence.observer import Observer
from signals.words import Word
from sim.drill.cast import cast
from sim.drill.facts import facts
from sim.drill.host import host
from sim.drill.judge import faded
from sim.drill.lines import CALL, SEEN, TIME, WHERE
from sim.drill.model import Manner, Marshal
from sim.drill.play import play
from sim.drill.score import Score
from sim.drill.scoring import score
from sim.drill.stage import paced
from tests.drill.playing import drill, lost, venue

SEED = 3


def test_two_at_two_posts_are_each_scored_for_their_own_sectors() -> None:
    drawn = cast(drill("two-at-once"), venue(), SEED, ["p1", "p2"])
    late = Marshal(Manner(waits_s=9.0))
    tape = play(drawn, venue(), {"p1": Marshal(), "p2": late}, who=["Ada", "Ben"])
    known = facts(tape, venue())
    first, second = (score(tape, drawn, venue(), seat, known) for seat in ("p1", "p2"))
    assert (first.who, second.who) == ("Ada", "Ben")
    assert {line.name.partition(".")[0] for line in first.lines if line.of} == {"first", "free-first"}
    assert {line.name.partition(".")[0] for line in second.lines if line.of} == {"second", "free-second"}
    assert lost(first) == []
    assert [line.name for line in second.lost()][:1] == ["second.seen"]


@pytest.mark.gate
@pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed")
def test_a_hosted_drill_takes_calls_and_an_instructors_events_over_a_real_broker(tmp_path: Path) -> None:
    data, over, opened = tmp_path / "class", asyncio.Event(), asyncio.Event()
    drawn = cast(drill("quiet-minutes"), venue(), SEED, ["p1"])
    topics = Topics.of(venue().id, simulated=True)

    def tell(text: str) -> None:
        if text == "It runs.":
            opened.set()

    async def instructor_and_trainee() -> None:
        await opened.wait()
        make = links("", data)
        caller, watcher = Caller(topics, "p1", make, device="test"), Observer(venue(), make)
        runs = [asyncio.ensure_future(each.run()) for each in (caller, watcher)]
        await asyncio.gather(caller.heard.wait(), watcher.connected())
        done = await watcher.inject("world", Inject(id="by-test", event="debris", where="s3"))
        assert done is not None
        assert done.done
        answer = await caller.ask({"call": Word.CAUTION, "where": "s3"})
        assert answer is not None
        assert answer.accepted
        await asyncio.sleep(1.0)  # until the calls stand on the tape
        over.set()
        for run in runs:
            run.cancel()
        await asyncio.gather(*runs, return_exceptions=True)

    async def whole() -> Score:
        patient = paced(venue(), gap=False, lean=True)  # its leases bear a machine that does much else
        playing = host(drawn, patient, {"p1": "Ada"}, data, wait_s=0.5, tell=tell, ends=over.is_set)
        (_, scores), _ = await asyncio.gather(playing, instructor_and_trainee())
        return scores[0]

    found = asyncio.run(whole())
    thrown_in = {line.name: line for line in found.lines if line.name.startswith("live-1.")}
    assert set(thrown_in) == {f"live-1.{aspect}" for aspect in (SEEN, CALL, WHERE, TIME)}
    assert thrown_in["live-1.call"].full
    assert thrown_in["live-1.where"].full
    (spell,) = found.deciding.called
    in_time = thrown_in["live-1.time"]
    assert in_time.got == pytest.approx(in_time.of * faded(spell.took_s, spell.target_s), abs=0.01)
    assert (found.who, found.seeing.hits, found.seeing.signals) == ("Ada", 1, 1)
