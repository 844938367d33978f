"""What the player says of steps that do not come true: each must fail, and say what came."""

from __future__ import annotations

from pathlib import Path

from signals.sequence.result import Result, StepResult
from tests.sequence.playing import play, play_in_turn

START = """\
title = "t"
[start]
venue = "harbour-loop"
phase = "ready"
group = [{ number = 1, driver = "Ada", class = "adult" }]
"""


def steps(tmp_path: Path, text: str, *, start: str = START, with_processes: bool = True) -> Result:
    path = tmp_path / "sequence.toml"
    path.write_text(start + text, encoding="utf-8")
    return play(path, with_processes=with_processes)


def last(result: Result) -> StepResult:
    return result.steps[-1]


def test_a_refusal_by_other_rules_than_expected_falls_short(tmp_path: Path) -> None:
    result = steps(
        tmp_path,
        '[[step]]\ncall = "caution"\npost = "p1"\nwhere = "s2"\n'
        '[[step]]\ncall = "arm"\npost = "desk"\nrules = ["caution-holds", "stop-holds"]\n',
    )
    assert not result.held
    assert last(result).came == "refused by caution-holds"


def test_an_answer_that_is_not_the_expected_one_falls_short(tmp_path: Path) -> None:
    for expected, came in (('answer = "refused"', "accepted"), ("recorded = false", "accepted")):
        result = steps(tmp_path, f'[[step]]\ncall = "stop"\npost = "p1"\n{expected}\n')
        assert (result.held, last(result).came) == (False, came)


def test_an_aspect_that_never_comes_falls_short_after_its_time(tmp_path: Path) -> None:
    result = steps(tmp_path, '[[step]]\nhead = "h3"\naspect = "green"\nwithin_ms = 700\n')
    assert (last(result).outcome, last(result).came, last(result).ms) == ("unmet", "h3 dark", 700)


def test_never_falls_short_as_soon_as_it_happens(tmp_path: Path) -> None:
    text = (
        '[[step]]\ncall = "stop"\npost = "p1"\n'
        '[[step]]\nhead = "*"\naspect = "red"\nnever = true\nwithin_ms = 900\n'
    )
    result = steps(tmp_path, text)
    assert last(result).outcome == "unmet"
    assert last(result).ms < 500


def test_since_cause_tells_how_long_after_the_call_each_head_followed(tmp_path: Path) -> None:
    text = (
        '[[step]]\nevent = "slow"\nhead = "h3"\nfor_ms = 120\n'
        '[[step]]\nevent = "slow"\nhead = "h4"\nfor_ms = 240\n'
        '[[step]]\ncall = "stop"\npost = "p1"\n'
        + "".join(
            f'[[step]]\nhead = "{head}"\naspect = "red"\nsince_cause = true\nwithin_ms = 200\n'
            for head in ("h4", "h3", "h5", "px1")
        )
    )
    result = steps(tmp_path, text)
    slow, less, quick, already = result.steps[-4:]
    assert [(step.outcome, step.ms) for step in (slow, less, quick)] == [
        ("unmet", 240),
        ("met", 120),
        ("met", 0),
    ]
    assert (already.outcome, already.ms) == ("met", 0)  # it was red before
    assert slow.came == "red after 240 ms"


def test_for_ms_wants_it_to_stay(tmp_path: Path) -> None:
    text = (
        '[[step]]\ncall = "arm"\npost = "desk"\n'
        '[[step]]\ncall = "start"\npost = "desk"\n'
        '[[step]]\nevent = "wrong-lamp"\nhead = "h3"\naspect = "red"\n'
        '[[step]]\nhead = "h3"\naspect = "red"\nfor_ms = {ms}\n'
    )
    mended = text.replace('aspect = "red"\n', 'aspect = "red"\nfor_ms = 400\n', 1)
    assert steps(tmp_path, mended.format(ms=200)).held
    assert not steps(tmp_path, mended.format(ms=1500)).held


def test_until_gives_up_after_its_longest_wait(tmp_path: Path) -> None:
    result = steps(tmp_path, '[[step]]\nuntil = "racing"\nlongest_s = 2\nphase = "staging"\n')
    assert (last(result).outcome, last(result).came) == ("unmet", "staging")
    assert last(result).expected == "until phase racing within 2 s"


def test_what_cannot_be_done_here_fails_unless_it_is_optional(tmp_path: Path) -> None:
    step = '[[step]]\nevent = "monitor-killed"\n'
    assert last(steps(tmp_path, step, with_processes=False)).outcome == "not-applicable"
    assert not steps(tmp_path, step, with_processes=False).held
    assert steps(tmp_path, step + "optional = true\n", with_processes=False).held
    event = '[[step]]\nevent = "spin"\nkart = 1\n'
    assert last(steps(tmp_path, event)).came == "Kart 1 is in the pit"


def test_a_start_that_cannot_be_brought_about_leaves_every_step_unreached(tmp_path: Path) -> None:
    start = START.replace('"ready"', '"armed"').replace("[start]", '[start]\nopening_check = "do-not-open"')
    result = steps(tmp_path, '[[step]]\nphase = "armed"\n', start=start)
    assert not result.held
    assert "opening check" in result.steps[0].came
    assert last(result).outcome == "unreached"


def test_a_silent_head_is_not_taken_as_showing_what_it_showed(tmp_path: Path) -> None:
    text = (
        '[[step]]\nevent = "head-lost"\nhead = "r2"\n[[step]]\nafter_ms = 1000\nhead = "r2"\naspect = "{}"\n'
    )
    assert last(steps(tmp_path, text.format("dark"))).came == "r2 not heard"
    assert last(steps(tmp_path, text.format("yellow-flash") + 'of = "commanded"\n')).outcome == "met"


def test_times_are_kept(tmp_path: Path) -> None:
    text = (
        '[[step]]\nat_s = 3\ncall = "stop"\npost = "p1"\n'
        '[[step]]\nat_s = 4.5\nphase = "staging"\n'
        '[[step]]\nafter_ms = 250\ncondition = "stop"\n'
        '[[step]]\nlimit_of = "*"\nat_least_kmh = 1\nwithin_ms = 200\n'
    )
    result = steps(tmp_path, text)
    assert [step.outcome for step in result.steps] == ["met"] * 4 + ["unmet"]
    assert last(result).expected == "every kart at least 1 km/h within 200 ms"


def test_a_sequence_begins_only_on_a_venue_that_is_closed_and_holds_nothing(tmp_path: Path) -> None:
    held = tmp_path / "held.toml"
    held.write_text(START + '[[step]]\ncall = "caution"\npost = "p1"\nwhere = "s2"\n', encoding="utf-8")
    first, second = play_in_turn(held, held)
    assert first.held
    assert not second.held
    assert second.steps[0].came == "the venue is staging with 1 holds"
    assert {step.outcome for step in second.steps[1:]} == {"unreached"}
