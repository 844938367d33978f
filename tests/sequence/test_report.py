"""A sequence's result in sentences."""

from __future__ import annotations

import io

from rich.console import Console

from signals.sequence.report import over_with, summary
from signals.sequence.result import Outcome, Result, StepResult


def step(number: int, outcome: Outcome) -> StepResult:
    said = {"what": "desk: stop", "expected": "accepted", "came": "no answer"}
    return StepResult(step=number, line=number, ms=2, outcome=outcome, **said)


def result(*outcomes: Outcome) -> Result:
    steps = [step(number, outcome) for number, outcome in enumerate(outcomes)]
    held = all(step.held for step in steps)
    return Result(title="A day", file="a.toml", venue="harbour-loop", seed=1, held=held, steps=steps)


def test_the_end_says_which_steps_fell_short() -> None:
    assert over_with(result("met", "met")) == "The sequence is over: all 2 steps met."
    assert over_with(result("met", "unmet", "met")) == "The sequence is over: 1 of 3 steps not met (step 1)."
    many = over_with(result(*["unmet"] * 8))
    assert many == "The sequence is over: 8 of 8 steps not met (steps 0, 1, 2, 3, 4, 5, …)."


def test_steps_that_were_never_reached_are_counted_and_no_line_is_broken() -> None:
    said = io.StringIO()
    summary(result("unmet", *["unreached"] * 90), Console(file=said, width=30))
    assert said.getvalue().splitlines() == [
        "A day: 0 of 91 steps met",
        "✗   0  desk: stop: expected accepted; came no answer  2 ms",
        "90 steps were not reached",
    ]
