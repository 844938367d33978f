"""The quiz asks by the venue's own choices; its wrong answers are right ones of other questions."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace
from typer.testing import CliRunner

from signals.words import Aspect
from sim.drill.asks import ASKS
from sim.drill.cli import app
from sim.drill.quiz import SIGHTS, called, deck, judged, quiz
from sim.drill.trainees import NAME, Trainees
from sim.view.drill.flow import Flow, Page
from tests.drill.playing import SHIPPED, drill, venue


@pytest.mark.parametrize("name", ["harbour-loop", "quarry-ring"])
def test_every_question_has_four_different_answers_one_of_them_right(name: str) -> None:
    for question in quiz(venue(name), 5, 99):
        assert len(set(question.options)) == 4
        answers = {card.answer for card in deck(venue(name)) if card.text == question.text}
        assert question.options[question.right] in answers


def test_answers_follow_the_venues_choices() -> None:
    here = venue()
    other = replace(
        here,
        choices=replace(here.choices, finish_slow="at-line"),
        limits=replace(here.limits, stop=12.0, caution=14.0),
    )
    ours, theirs = (
        {card.aspect: card.answer for card in deck(each) if card.aspect} for each in (here, other)
    )
    assert ours[Aspect.RED] == "Stop where you are and stay seated."
    assert theirs[Aspect.RED] == "Drive to the pit at no more than 12 km/h."
    assert "14 km/h" in theirs[Aspect.YELLOW_FLASH]
    assert "slow down at once" in ours[here.choices.finish_aspect]
    assert "drive to the line" in theirs[here.choices.finish_aspect]


def test_every_sight_is_one_that_asks_for_a_call() -> None:
    assert set(SIGHTS) <= set(ASKS)
    assert called(ASKS["smoke"]) == "Red, fire"


def test_the_same_seed_asks_the_same_and_others_ask_otherwise() -> None:
    assert quiz(venue(), 1, 8) == quiz(venue(), 1, 8)
    assert quiz(venue(), 1, 8) != quiz(venue(), 2, 8)


def test_right_answers_are_counted() -> None:
    drawn = quiz(venue(), 1, 5)
    given = [each.right for each in drawn[:4]] + [(drawn[4].right + 1) % 4]
    assert judged(drawn, given).right == 4


def test_the_command_takes_answers_and_its_exit_code_tells(tmp_path: Path) -> None:
    right = ",".join(str(each.right + 1) for each in quiz(venue(), 3, 4))
    said = ["quiz", "--seed", "3", "--count", "4", "--as", "Ada", "--data", str(tmp_path)]
    assert CliRunner().invoke(app, [*said, "--answers", right]).exit_code == 0
    wrong = ",".join(str((each.right + 1) % 4 + 1) for each in quiz(venue(), 3, 4))
    assert CliRunner().invoke(app, [*said, "--answers", wrong]).exit_code == 1


def test_at_a_terminal_it_asks_until_the_answer_is_one_of_them(tmp_path: Path) -> None:
    typed = "".join(f"what\n0\n9\n{each.right + 1}\n" for each in quiz(venue(), 3, 4))
    done = CliRunner().invoke(
        app, ["quiz", "--seed", "3", "--count", "4", "--data", str(tmp_path)], input=typed
    )
    assert done.exit_code == 0, done.output
    assert done.output.count("a number from 1 to 4") == 12
    assert "4 of 4 right" in done.output


def test_it_is_answered_in_the_window_by_digits(tmp_path: Path) -> None:
    flow = Flow(venue(), [drill(path.stem) for path in SHIPPED], tmp_path, who="Ada", seed=3)
    flow.press("S", 0.0)
    asked = flow.quiz
    assert asked is not None
    while flow.page is Page.QUIZ:
        flow.press(str(asked.questions[asked.number].right + 1), 0.0)
        flow.press("Enter", 0.0)
    assert (asked.right, len(asked.questions)) == (8, 8)
    assert flow.page is Page.LOBBY
    with Trainees(tmp_path / NAME) as trainees:
        assert [(each.right, each.asked) for each in trainees.quizzes("Ada")] == [(8, 8)]
