"""`kerblight drill quiz`: what signals ask of drivers here, and which call fits which sight."""

from __future__ import annotations

import time
from typing import Annotated

import typer

from signals import say
from signals.cli.options import DEFAULT_DATA, DEFAULT_VENUE, AsJson, DataDir, VenueFile, wrong
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.venue import load as load_venue
from sim.drill.quiz import Answered, Question, judged, quiz
from sim.drill.score import PASSED
from sim.drill.trainees import NAME, Trainees


def quiz_(
    *,
    count: Annotated[int, typer.Option(min=1, max=50, help="How many questions at most.")] = 8,
    seed: Annotated[int | None, typer.Option(min=0, help="Which ones.", show_default="new ones")] = None,
    answers: Annotated[
        str, typer.Option(metavar="1,3,…", help="The answers, instead of being asked for them.")
    ] = "",
    who: Annotated[
        str, typer.Option("--as", metavar="NAME", help="Who answers; kept in the data folder.")
    ] = "",
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Ask what signals ask of drivers, and which call is right.

    A call is right for what one sees. Exits 1 under 80 % right.

    Example: kerblight drill quiz --as Ada
    """
    drawn = quiz(load_venue(venue), int(time.time()) if seed is None else seed, count)
    given = (
        _given(answers, drawn) if answers else [_ask(number, each) for number, each in enumerate(drawn, 1)]
    )
    found = judged(drawn, given)
    if who:
        with Trainees(data / NAME) as trainees:
            trainees.quizzed(" ".join(who.split()), found.asked, found.right, round(time.time() * 1000))
    if as_json:
        print_json(found)
    else:
        _tell(found)
    raise typer.Exit(HELD if found.right >= PASSED * found.asked else FELL_SHORT)


def _given(answers: str, drawn: list[Question]) -> list[int]:
    parts = [part.strip() for part in answers.split(",")]
    if len(parts) != len(drawn):
        raise wrong("--answers", answers, f"one for each of the {len(drawn)} questions, as 1,3,2")
    for part, question in zip(parts, drawn, strict=True):
        if not part.isdigit() or not 1 <= int(part) <= len(question.options):
            raise wrong("--answers", part, f"a number from 1 to {len(question.options)}")
    return [int(part) - 1 for part in parts]


def _ask(number: int, question: Question) -> int:
    out = console()
    shown = f" [{say.ASPECTS[question.aspect]}]" if question.aspect is not None else ""
    out.print(f"\n{number}. {question.text}{shown}", markup=False)
    for place, option in enumerate(question.options, 1):
        out.print(f"   {place}  {option}")
    chosen = _typed(len(question.options)) - 1
    right = chosen == question.right
    out.print(f"   {'✓' if right else '✗ ' + question.options[question.right]}  {question.why}")
    return chosen


def _typed(most: int) -> int:
    while True:
        said = str(typer.prompt("  ", prompt_suffix="> ")).strip()
        if said.isdecimal() and 1 <= int(said) <= most:
            return int(said)
        console().print(f"   a number from 1 to {most}")


def _tell(found: Answered) -> None:
    console().print(f"\n{found.right} of {found.asked} right.")
