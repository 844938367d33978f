"""`kerblight budget`: from something seen until karts are slow, term by term: how long, and how far."""

from __future__ import annotations

import os
from typing import Annotated

import typer
from rich.progress import Progress

from signals.cli.options import DEFAULT_VENUE, AsJson, VenueFile
from signals.cli.output import FELL_SHORT, console, print_json
from signals.venue import load
from signals.venue.model import Venue
from sim.budget.computed import Asked, compute
from sim.budget.played import Acting, Played, play
from sim.budget.telling import Budget, plain, tell

app = typer.Typer(add_completion=False, rich_markup_mode=None)
SEED = 1
MOST_KARTS = 12


@app.command(
    epilog="Examples: kerblight budget | kerblight budget --wet --delay-s 4 | kerblight budget --sessions 0"
)
def budget(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    wet: Annotated[bool, typer.Option("--wet", help="On a wet surface, declared so.")] = False,
    delay_s: Annotated[
        float, typer.Option(min=0.0, max=60.0, help="From seeing it until the post calls, the median.")
    ] = 2.0,
    head_s: Annotated[
        float, typer.Option(min=0.0, max=10.0, help="From a decision until a head shows it.")
    ] = 0.1,
    radio_s: Annotated[
        float, typer.Option(min=0.0, max=10.0, help="From a decision until a limiter has taken it.")
    ] = 0.1,
    karts: Annotated[
        int, typer.Option(min=2, max=60, help="How many drive, of the fastest class.")
    ] = MOST_KARTS,
    sessions: Annotated[
        int, typer.Option(min=0, max=100_000, metavar="N", help="Seeded sessions; 0: arithmetic alone.")
    ] = 300,
    threads: Annotated[
        int | None,
        typer.Option(min=1, max=256, help="At a time; by default one a core.", show_default="cores"),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say how long it takes from something seen until karts are slow, and how far they go meanwhile.

    seen → called → told → shown → in sight → understood → slow: each term typical and late, where it is known
    from, and what many simulated sessions give; for yellow where it is, and for red. Exit 1 where a kart may
    still be quick where the venue's cautions count on it to be slow.
    """
    loaded, at_a_time = load(venue), threads or os.cpu_count() or 1
    found = [
        _budget(loaded, Asked(stops, wet, delay_s, head_s, radio_s), sessions, karts, at_a_time)
        for stops in (False, True)
    ]
    if as_json:
        print_json(plain(loaded, found))
    else:
        tell(console(), loaded, found)
    if not all(each.computed.kept for each in found):
        raise typer.Exit(FELL_SHORT)


def _budget(venue: Venue, asked: Asked, sessions: int, karts: int, threads: int) -> Budget:
    computed = compute(venue, asked)
    return Budget(computed, _played(venue, asked, sessions, karts, threads) if sessions else None)


def _played(venue: Venue, asked: Asked, sessions: int, karts: int, threads: int) -> Played:
    with Progress(console=console(stderr=True), transient=True) as progress:
        task = progress.add_task("red" if asked.stops else "yellow", total=sessions * len(Acting))
        seeds = range(SEED, SEED + sessions)
        return play(venue, asked, seeds, karts, threads, lambda: progress.advance(task))
