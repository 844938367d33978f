"""The verbs about trainees: how somebody comes along, who practised, export, delete."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from signals.cli.options import DEFAULT_DATA, DEFAULT_VENUE, AsJson, DataDir, VenueFile, wrong
from signals.cli.output import console, print_json
from signals.errors import BadInput
from signals.venue import load as load_venue
from sim.drill import kept, paper, progress, telling
from sim.drill.trainees import NAME, NAME_MAX, Trainees
from sim.drill.weekly import weekly

Who = Annotated[str, typer.Option("--as", metavar="NAME", help="Who practises; a name is all that is kept.")]
"""`who: Who = ""`"""


def named(who: str) -> str:
    """Give a name as it is kept."""
    name = " ".join(who.split())
    if len(name) > NAME_MAX:
        raise wrong("--as", who, f"at most {NAME_MAX} characters")
    return name


def progress_(
    file: Annotated[
        Path | None, typer.Argument(help="Write the curves to this page, ending in .html.")
    ] = None,
    *,
    who: Who,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Show how somebody comes along, week by week.

    With a FILE as curves, to read or to print.

    Examples: kerblight drill progress --as Ada; kerblight drill progress ada.html --as Ada
    """
    with Trainees(data / NAME) as trainees:
        found = progress.weeks(trainees.runs(named(who)))
    if file is not None:
        if not found:
            raise _nobody(who)
        paper.write(file, weekly(named(who), load_venue(venue), found))
    if as_json:
        print_json(found)
        return
    nothing = f"{named(who)} has practised nothing here yet; begin with `kerblight drill --as NAME`."
    console().print(telling.weeks(found) if found else nothing)
    if file is not None:
        console().print(f"✓ {file}")


def trainees(*, data: DataDir = DEFAULT_DATA, as_json: AsJson = False) -> None:
    """List who practised here.

    Example: kerblight drill trainees --json
    """
    with Trainees(data / NAME) as known:
        names = known.names()
    if as_json:
        print_json(names)
    else:
        console().print("\n".join(names) or "Nobody yet.")


def export(
    file: Annotated[Path, typer.Argument(help="Where to write it, as JSON.")],
    *,
    who: Who,
    data: DataDir = DEFAULT_DATA,
) -> None:
    """Write down all that is kept about somebody.

    The tapes that are kept beside it are named.

    Example: kerblight drill export ada.json --as Ada
    """
    with Trainees(data / NAME) as known:
        everything = known.export(named(who))
    if everything is None:
        raise _nobody(who)
    paper.write(file, telling.plain_json(everything).decode())
    runs = len(everything.runs)
    console().print(f"✓ {file}: {runs} {'run' if runs == 1 else 'runs'} of {everything.name}")
    for tape, _ in kept.tapes_of(data, everything.name):
        console().print(f"  and {tape}", soft_wrap=True)


def forget(*, who: Who, data: DataDir = DEFAULT_DATA) -> None:
    """Delete all that is kept about somebody.

    Scores, tapes, calls and debriefs in the data folder.

    A tape that others are on too only loses the name. Example: kerblight drill forget --as Ada
    """
    with Trainees(data / NAME) as known:
        there = known.forget(named(who))
    gone = kept.forget(data, named(who))
    if not there and not gone:
        raise _nobody(who)
    console().print(f"✓ nothing is kept about {named(who)} any more: {len(gone)} files deleted")


def _nobody(who: str) -> BadInput:
    return wrong("--as", who, "practised nothing here; `kerblight drill trainees` lists who did")
