"""`kerblight wiring`: what an integrator wires by, checked and printed."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from signals import say
from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_VENUE,
    AsJson,
    BrokerUrl,
    DataDir,
    KeysDir,
    VenueFile,
    wrong,
)
from signals.cli.output import FELL_SHORT, print_json
from signals.errors import Finding
from signals.venue import load
from signals.venue.model import Venue
from signals.venue.wires import Circuit, Wire, write_wires
from signals.wiring.contract import contract
from signals.wiring.keys.cli import keys as make_keys
from signals.wiring.lint import check
from signals.wiring.lint import lint as findings_of
from signals.wiring.matrix import matrix as matrix_of
from signals.wiring.reading import Reading, read_inputs, watch_inputs
from signals.wiring.sheet import matrix_csv, write_sheets
from signals.wiring.walk import Walk, Walked, recorded

SOUND = (Circuit.NORMAL, Circuit.ACTIVE)

app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None)


@app.callback()
def _wiring() -> None:
    """Check the wiring table and print what an integrator wires by."""


app.command()(contract)
app.command("keys")(make_keys)


@app.command()
def lint(*, venue: VenueFile = DEFAULT_VENUE, as_json: AsJson = False) -> None:
    """List everything wrong with the table, with row and column.

    Exits 2 where the table or its venue cannot be read, 1 where there are findings.

    Example: kerblight wiring lint --venue configs/harbour-wired.toml
    """
    known = load(venue)
    findings = findings_of(known)
    if as_json:
        print_json({"table": str(known.wiring or ""), "findings": findings})
    else:
        _say(findings, len(known.wires))
    if findings:
        raise typer.Exit(FELL_SHORT)


@app.command("read")
def read_(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    watch: Annotated[
        bool, typer.Option("--watch", help="Go on, and tell every change, until interrupted.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Say what every wired input reads now, and what that means.

    Nothing is written to any device. Exits 1 unless all are sound: at rest, or pressed.
    """
    known = load(venue)
    check(known)
    if watch:
        with suppress(KeyboardInterrupt):
            asyncio.run(_watched(known))
        return
    read = asyncio.run(read_inputs(known))
    if as_json:
        print_json(read)
    else:
        typer.echo("\n".join(_input(each) for each in read))
    if any(each.circuit not in SOUND for each in read):
        raise typer.Exit(FELL_SHORT)


async def _watched(venue: Venue) -> None:
    async for each in watch_inputs(venue):
        typer.echo(_input(each))


def _input(each: Reading) -> str:
    reads = " ".join(f"{ref}={value}" for ref, value in each.reads.items())
    return f"{each.input:<16} {each.kind:<12} {each.means}{f' ({reads})' if reads else ''}"


@app.command()
def sheet(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the sheets are written.")],
    *,
    venue: VenueFile = DEFAULT_VENUE,
    as_json: AsJson = False,
) -> None:
    """Write what is printed, into a folder.

    The I/O list, the cause-and-effect matrix, and a terminal drawing of each head and input.

    Example: kerblight wiring sheet var/sheets --venue configs/harbour-wired.toml
    """
    known = load(venue)
    check(known)
    try:
        written = write_sheets(known, folder)
    except OSError as error:
        raise wrong("FOLDER", folder, f"must be a folder that can be written ({error.strerror})") from error
    if as_json:
        print_json([str(path) for path in written])
    else:
        typer.echo("\n".join(str(path) for path in written))


@app.command()
def matrix(*, venue: VenueFile = DEFAULT_VENUE, as_json: AsJson = False) -> None:
    """Work out the cause-and-effect matrix, as CSV.

    It says what each head shows after what, and within how long.

    Example: kerblight wiring matrix --venue configs/harbour-wired.toml > matrix.csv
    """
    known = load(venue)
    check(known)
    made = matrix_of(known)
    if as_json:
        print_json(made)
    else:
        typer.echo(matrix_csv(made), nl=False)


@app.command()
def walk(
    *,
    post: Annotated[str, typer.Option(help="The post it is walked from; it may lend and show.")],
    record: Annotated[
        Path | None, typer.Option(help="Write the table with today in `tested_on` of what was seen.")
    ] = None,
    proven: Annotated[
        bool, typer.Option("--proven", help="Ask nobody: count only what sensors prove.")
    ] = False,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    as_json: AsJson = False,
) -> None:
    """Light every lamp of the table alone, and see what burns.

    Exits 1 unless every one was seen. The venue runs, closed and empty. Where a head has no sensors,
    whoever stands before it is asked.
    """
    known = load(venue)
    check(known)
    if post not in {each.id for each in known.posts}:
        raise wrong("--post", post, f"one of {', '.join(each.id for each in known.posts)}")
    walking = Walk(
        known, links(broker, data, keys, f"post-{post}"), post=post, ask=_nobody if proven else _ask
    )
    walked = asyncio.run(walking.run(lambda one: typer.echo(_line(one), err=as_json)))
    if record is not None:
        today = datetime.now(ZoneInfo(known.operating.timezone)).date()
        record.write_text(write_wires(recorded(known.wires, walked, today)), encoding="utf-8")
    if as_json:
        print_json(walked)
    if any(one.outcome != "seen" for one in walked):
        raise typer.Exit(FELL_SHORT)


async def _ask(_: Wire, question: str) -> bool | None:
    return await asyncio.get_running_loop().run_in_executor(None, partial(typer.confirm, question, err=True))


async def _nobody(_: Wire, __: str) -> bool | None:
    return None


def _line(one: Walked) -> str:
    mark = {"seen": "✓", "wrong": "✗", "not seen": "·"}[one.outcome]
    return f"{mark} {one.ref} (row {one.row}): {one.why}"


def _say(findings: list[Finding], rows: int) -> None:
    for finding in findings:
        typer.echo(str(finding))
    typer.echo(f"{rows} wires, {say.many(len(findings), 'finding', none='no')}")
