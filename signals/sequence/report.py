"""A sequence's result for people: a line a step as it comes, and a sentence at the end."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from signals.sequence.result import MARKS, Result, StepResult

NAMED = 6
"""Steps named in a sentence; of more it says that there are more."""


def line_of(step: StepResult) -> Text:
    """Give one step's line: mark, number, what, and for a step that fell short what came instead."""
    line = Text(f"{MARKS[step.outcome]} {step.step:>3}  {step.what}")
    if step.outcome != "met":
        line.append(f": expected {step.expected}; came {step.came}")
    line.append(f"  {step.ms} ms", style="dim")
    return line


def table_of(result: Result) -> Table:
    """Give every step: expected, came, ms."""
    table = Table("", "step", "what", "expected", "came", "ms", title=result.title)
    for step in result.steps:
        row = (str(step.step), step.what, step.expected, step.came, str(step.ms))
        table.add_row(MARKS[step.outcome], *row)
    return table


def over_with(result: Result) -> str:
    """Say in a sentence that a sequence is over, and which of its steps fell short."""
    short = [str(step.step) for step in result.steps if not step.held]
    if not short:
        return f"The sequence is over: all {len(result.steps)} steps met."
    more = ", …" if len(short) > NAMED else ""
    which = f"step {short[0]}" if len(short) == 1 else f"steps {', '.join(short[:NAMED])}{more}"
    return f"The sequence is over: {len(short)} of {len(result.steps)} steps not met ({which})."


def summary(result: Result, to: Console) -> None:
    """Print the sentence at the end, and the steps that fell short; those never reached are counted."""
    short = [step for step in result.steps if not step.held]
    unreached = sum(step.outcome == "unreached" for step in short)
    to.print(f"{result.title}: {len(result.steps) - len(short)} of {len(result.steps)} steps met")
    for step in short:
        if step.outcome != "unreached":
            to.print(line_of(step), soft_wrap=True)
    if unreached:
        to.print(f"{unreached} steps were not reached")
