"""`kerblight drill`: practise a situation, in a window or from a recorded set of calls, and be scored."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Annotated, Any

import typer
from msgspec import Struct
from typer.core import TyperGroup

from signals.cli.options import DEFAULT_VENUE, AsJson, VenueFile, wrong
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import BadInput
from signals.venue import load as load_venue
from signals.venue.model import Venue
from sim.drill import deeds, telling
from sim.drill.cast import cast
from sim.drill.load import Drill, find, load, shipped
from sim.drill.play import play as play_drill
from sim.drill.score import Score
from sim.drill.scoring import score
from sim.drill.seat import Nobody, Recorded


class NameFirst(TyperGroup):
    """`drill NAME …` plays a drill; `drill list` and its like are commands of their own."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take what is no command for the name of a drill."""
        if not args or (args[0] not in self.commands and args[0] != "--help"):
            args = ["play", *args]
        return super().parse_args(ctx, args)


app = typer.Typer(cls=NameFirst, add_completion=False, rich_markup_mode=None)


class Listed(Struct, frozen=True):
    """One drill, as it is listed."""

    name: str
    title: str
    topic: str
    level: int
    trains: str
    seats: tuple[str, ...]
    lasts_s: float


@app.command()
def play(
    name: Annotated[str, typer.Argument(help="A drill's name, or its file.")] = "",
    *,
    seed: Annotated[
        int, typer.Option(min=0, help="What happens when, where and to whom follows from it.")
    ] = 1,
    who: Annotated[
        str, typer.Option("--as", metavar="NAME", help="Who practises; kept in the data folder.")
    ] = "",
    seat: Annotated[
        str, typer.Option("--seat", metavar="POST", help="Where from.", show_default="the drill's first")
    ] = "",
    headless: Annotated[
        bool, typer.Option("--headless", help="No window: in virtual time, in a second or two.")
    ] = False,
    recorded: Annotated[
        Path | None,
        typer.Option(
            "--with", metavar="FILE", help="Without a window: what was done, a recorded set of calls."
        ),
    ] = None,
    venue: VenueFile = DEFAULT_VENUE,
    as_json: AsJson = False,
) -> None:
    """Play a drill and show its score; exits 1 where it was not passed.

    Examples:
      kerblight drill spin-rejoins --as tester
      kerblight drill spin-rejoins --seed 7 --as tester --headless --with calls.toml

    """
    here = load_venue(venue)
    drill = load(find(name), here)
    chosen = _seat(drill, seat)
    if not headless:
        raise wrong("--headless", "", "is missing: the window is not there yet")
    result = run_headless(drill, here, seed, chosen, who, recorded)
    if as_json:
        print_json(result)
    else:
        telling.summary(result, console())
    raise typer.Exit(HELD if result.passed else FELL_SHORT)


def run_headless(drill: Drill, venue: Venue, seed: int, seat: str, who: str, recorded: Path | None) -> Score:
    """Play a drill in virtual time with what was recorded, or with nobody there; gives its score."""
    logging.disable(logging.WARNING)
    drawn = cast(drill, venue, seed, [seat])
    answerer = Nobody() if recorded is None else Recorded(deeds.load(recorded))
    tape = play_drill(drawn, venue, {seat: answerer}, who=[who])
    return score(tape, drawn, venue, seat)


def _seat(drill: Drill, asked: str) -> str:
    if asked and asked not in drill.file.seats:
        raise wrong("--seat", asked, f"one of {', '.join(drill.file.seats)} for {drill.name}")
    return asked or drill.file.seats[0]


@app.command("list")
def list_(*, venue: VenueFile = DEFAULT_VENUE, as_json: AsJson = False) -> None:
    """List the drills that come along: what each trains."""
    here = load_venue(venue)
    found = [_listed(load(path, here)) for path in shipped()]
    if as_json:
        print_json(found)
        return
    out = console()
    for each in found:
        out.print(f"{each.name:20} {each.level}  {each.trains}", soft_wrap=True)


def _listed(drill: Drill) -> Listed:
    file = drill.file
    return Listed(drill.name, file.title, file.topic, file.level, file.trains, file.seats, file.lasts_s)


@app.command()
def check(
    files: Annotated[list[Path], typer.Argument(help="Drill files.", metavar="FILE...")],
    *,
    venue: VenueFile = DEFAULT_VENUE,
    as_json: AsJson = False,
) -> None:
    """Load drill files and name every mistake in them."""
    here = load_venue(venue)
    findings, titles = [], {}
    for file in files:
        try:
            titles[str(file)] = load(file, here).file.title
        except BadInput as mistaken:
            findings += mistaken.findings
    if findings:
        raise BadInput(findings)
    if as_json:
        print_json(titles)
    else:
        console().print("\n".join(f"✓ {file}: {title}" for file, title in titles.items()))
