"""The same seed gives the same drill; others differ in time and place; recorded deeds play again."""

from __future__ import annotations

import pytest

from signals.words import Word
from sim.drill.cast import cast
from sim.drill.deeds import Deed
from sim.drill.model import Marshal
from sim.drill.play import play
from sim.drill.scoring import score
from sim.drill.seat import Nobody, Recorded
from sim.drill.tape import CUE, Cue, Tape
from tests.drill.playing import Job, drill, lost, taped, venue


def cues(tape: Tape) -> list[tuple[int, Cue]]:
    return [(at_ms, cue) for at_ms, _, cue in tape.of(CUE, Cue)]


def test_the_same_seed_gives_the_same_drill_and_the_same_score() -> None:
    (one, first), (other, second) = (taped(Job("spin-rejoins", 4)) for _ in range(2))
    assert cues(one) == cues(other)
    assert first == second
    assert not any(mark.kind == "due" for mark in first.timeline), "nothing came late"


@pytest.mark.gate
@pytest.mark.parametrize("name", ["spin-rejoins", "person-in-pit", "fire-alarm"])
def test_at_the_venues_own_times_the_model_scores_full_marks_too(name: str) -> None:
    drawn = cast(drill(name), venue(), 4, ["desk"])
    found = score(play(drawn, venue(), {"desk": Marshal()}, lean=False), drawn, venue(), "desk")
    assert lost(found) == []


def test_other_seeds_differ_in_time_and_place() -> None:
    drawn = [cast(drill("spin-rejoins"), venue(), seed, ["desk"]) for seed in range(20)]
    assert len({each.due[0].at_s for each in drawn}) == 20
    assert len({each.drawn["place"] for each in drawn}) > 2
    assert len({each.karts for each in drawn}) > 2


def test_a_posts_drill_happens_in_its_own_sectors() -> None:
    covers = next(post.covers for post in venue().posts if post.id == "p2")
    for seed in range(20):
        assert cast(drill("spin-rejoins"), venue(), seed, ["p2"]).drawn["place"] in covers


def test_recorded_deeds_are_scored_as_they_were_done() -> None:
    drawn = cast(drill("spin-rejoins"), venue(), 4, ["desk"])
    tape = play(drawn, venue(), {"desk": Nobody()})
    at_ms, cue = cues(tape)[0]
    late = Deed(at_s=at_ms / 1000 + 9.0, call=Word.CAUTION, where=cue.where)
    found = score(play(drawn, venue(), {"desk": Recorded([late])}), drawn, venue(), "desk")
    spell = found.deciding.called[0]
    assert 8.8 < spell.took_s < 9.2
    assert not next(line for line in found.lines if line.name == "yellow.time").full
    (due,) = (mark for mark in found.timeline if mark.kind == "due" and mark.letter == "Y")
    assert (due.row, due.text) == (cue.where, "By here: Yellow 3 Hairpin")
    assert due.at_ms == pytest.approx(spell.from_ms + 3_000, abs=100)
