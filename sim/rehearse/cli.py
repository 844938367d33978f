"""`kerblight rehearse`: play a sequence in its own time, and tell what the world came to."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.text import Text

from signals.cli.options import AsJson, Incidents, NamedVenue, incident_rates
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import BadInput, Finding
from signals.sequence.cli import venue_file
from signals.sequence.load import Sequence, load
from signals.sequence.report import line_of, summary
from signals.sequence.result import StepResult
from signals.venue import load as load_venue
from signals.venue.model import Venue
from sim.rehearse.play import EVERY_S, Digest, Rehearsed, rehearse

if TYPE_CHECKING:
    from sim.view.onlooker import Onlooker

app = typer.Typer(add_completion=False, rich_markup_mode=None)

EXAMPLES = """

Examples:

  kerblight rehearse configs/sequences/spin-in-the-hairpin.toml

  kerblight rehearse configs/sequences/full-day.toml --again --json

  kerblight rehearse configs/sequences/rain.toml --picture rain.png --film rain.gif
"""


@app.command(epilog=EXAMPLES)
def play(
    file: Annotated[Path, typer.Argument(help="A sequence file.")],
    *,
    venue: NamedVenue = None,
    seed: Annotated[
        int | None, typer.Option(min=0, help="Everything random in the world.", show_default="the file's")
    ] = None,
    incidents: Incidents = "0",
    every: Annotated[int, typer.Option(min=1, metavar="S", help="Tell a digest every so often.")] = EVERY_S,
    again: Annotated[
        bool, typer.Option("--again", help="Play it twice; falls short where the worlds differ.")
    ] = False,
    window: Annotated[
        bool, typer.Option("--window", help="Look on in a window, as quick as it draws.")
    ] = False,
    picture: Annotated[Path | None, typer.Option(help="Keep a picture of the window at the end.")] = None,
    film: Annotated[Path | None, typer.Option(help="Keep the window's last seconds as a GIF.")] = None,
    as_json: AsJson = False,
) -> None:
    """Play a sequence on a whole venue in this process, in its own time: minutes take seconds.

    Tells the world's digest every minute and at the end: the same file and seed give the same, with a
    window or without.
    """
    rates, wrong = incident_rates(incidents), _unwritable(picture, film)
    here, sequence = _loaded(file, venue, wrong)
    say = console(stderr=as_json)
    seed = sequence.file.start.seed if seed is None else seed

    def tell(what: StepResult | Digest) -> None:
        say.print(line_of(what) if isinstance(what, StepResult) else line_of_digest(what), soft_wrap=True)

    onlooker = _onlooker(here, film, shown=window) if window or picture or film else None
    came = rehearse(sequence, here, seed=seed, rates=rates, every_s=every, onlooker=onlooker, tell=tell)
    if onlooker is not None:
        onlooker.keep(picture)
        onlooker.close()
    say.print(line_of_digest(came.end), soft_wrap=True)
    same = not again or _is_same(came, rehearse(sequence, here, seed=seed, rates=rates, every_s=every))
    if not same:
        say.print("✗ Played again, the world came out differently.")
    if as_json:
        print_json(came)
    else:
        summary(came.sequence, say)
    raise typer.Exit(HELD if came.held and same else FELL_SHORT)


def _loaded(file: Path, asked: Path | None, wrong: list[Finding]) -> tuple[Venue, Sequence]:
    """Load venue and sequence; raises BadInput with every mistake, those already found among them."""
    try:
        venue = load_venue(venue_file(file, asked))
        sequence = load(file, venue)
    except BadInput as more:
        raise BadInput([*wrong, *more.findings]) from None
    if wrong:
        raise BadInput(wrong)
    return venue, sequence


def _is_same(one: Rehearsed, other: Rehearsed) -> bool:
    return (one.digests, one.end) == (other.digests, other.end)


def line_of_digest(digest: Digest) -> Text:
    """Give a digest's line: the world's own time, its steps, what it came to."""
    minutes, seconds = divmod(digest.time_s, 60)
    return Text(f"# {minutes:>3.0f}:{seconds:04.1f}  step {digest.steps:>6}  {digest.digest}")


def _unwritable(*files: Path | None) -> list[Finding]:
    return [
        Finding("command line", 0, str(file), "", f"the folder {file.parent} is missing; make it first")
        for file in files
        if file is not None and not file.parent.is_dir()
    ]


def _onlooker(venue: Venue, film: Path | None, *, shown: bool) -> Onlooker:
    """Make a window; pygame is imported only here, so that a rehearsal alone needs no display."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from sim.view import picture  # noqa: PLC0415 - a rehearsal alone needs no pygame

    if not shown:
        picture.headless()
    from sim.view.onlooker import Onlooker  # noqa: PLC0415 - likewise

    return Onlooker(venue, shown=shown, film=film)
