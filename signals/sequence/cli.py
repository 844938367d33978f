"""`kerblight sequence`: check sequence files, or play one on a venue that runs."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    AsJson,
    BrokerUrl,
    DataDir,
    KeysDir,
    NamedVenue,
    venue_named,
)
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import BadInput
from signals.part import MakeLink
from signals.sequence.load import Sequence, load, venue_id
from signals.sequence.player import Player
from signals.sequence.report import line_of, summary
from signals.sequence.result import Result
from signals.venue import load as load_venue
from signals.venue.model import Venue

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="Check sequence files, or play one on a venue that runs.",
)

Files = Annotated[list[Path], typer.Argument(help="Sequence files.", metavar="FILE...")]


@app.command()
def check(files: Files, *, venue: NamedVenue = None, as_json: AsJson = False) -> None:
    """Load files against their venues and name every mistake in them.

    Example: kerblight sequence check configs/sequences/full-day.toml
    """
    findings, titles = [], {}
    for file in files:
        try:
            titles[str(file)] = load(file, venue_for(file, venue)).file.title
        except BadInput as wrong:
            findings += wrong.findings
    if findings:
        raise BadInput(findings)
    if as_json:
        print_json(titles)
    else:
        console().print("\n".join(f"✓ {file}: {title}" for file, title in titles.items()))


@app.command()
def play(
    file: Annotated[Path, typer.Argument(help="A sequence file.")],
    *,
    venue: NamedVenue = None,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    as_json: AsJson = False,
) -> None:
    """Play a file on a venue that runs, simulated or real.

    Its processes are left alone: a step that would end one is not applicable.

    Example: kerblight sequence play configs/sequences/caution-holds.toml
    """
    here = venue_for(file, venue)
    make_link = links(broker, data, keys, "sim")
    result = asyncio.run(_play(load(file, here), here, make_link, as_json=as_json))
    if as_json:
        print_json(result)
    else:
        summary(result, console())
    raise typer.Exit(HELD if result.held else FELL_SHORT)


async def _play(sequence: Sequence, venue: Venue, make_link: MakeLink, *, as_json: bool) -> Result:
    say = console(stderr=as_json)
    player = Player(
        sequence, venue, make_link, tell=lambda result: say.print(line_of(result), soft_wrap=True)
    )
    return await player.run()


def venue_for(sequence: Path, asked: Path | None) -> Venue:
    """Load the venue asked for, or else the one that comes along and that the sequence names."""
    return load_venue(venue_file(sequence, asked))


def venue_file(sequence: Path, asked: Path | None) -> Path:
    """Find the venue file for a sequence: the one asked for, or the one that comes along by its id."""
    return asked or venue_named(venue_id(sequence))
