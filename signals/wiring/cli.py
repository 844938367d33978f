"""`kerblight wiring`: what an integrator wires by, checked and printed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from signals.cli.options import DEFAULT_VENUE, AsJson, VenueFile, wrong
from signals.cli.output import FELL_SHORT, print_json
from signals.errors import Finding
from signals.venue import load
from signals.wiring.contract import contract
from signals.wiring.lint import check
from signals.wiring.lint import lint as findings_of
from signals.wiring.matrix import matrix as matrix_of
from signals.wiring.sheet import matrix_csv, write_sheets

app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None)


@app.callback()
def _wiring() -> None:
    """Check the wiring table and print what an integrator wires by."""


app.command()(contract)


@app.command()
def lint(*, venue: VenueFile = DEFAULT_VENUE, as_json: AsJson = False) -> None:
    """List everything wrong with the wiring table, with row and column.

    Exits 2 where the table or its venue cannot be read, 1 where there are findings.
    """
    known = load(venue)
    findings = findings_of(known)
    if as_json:
        print_json({"table": str(known.wiring or ""), "findings": findings})
    else:
        _say(findings, len(known.wires))
    if findings:
        raise typer.Exit(FELL_SHORT)


@app.command()
def sheet(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the sheets are written.")],
    *,
    venue: VenueFile = DEFAULT_VENUE,
    as_json: AsJson = False,
) -> None:
    """Write what is printed: the I/O list, the cause-and-effect matrix, a terminal drawing of each head."""
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
    """Work out the cause-and-effect matrix: what each head shows after what, and within how long. As CSV."""
    known = load(venue)
    check(known)
    made = matrix_of(known)
    if as_json:
        print_json(made)
    else:
        typer.echo(matrix_csv(made), nl=False)


def _say(findings: list[Finding], rows: int) -> None:
    for finding in findings:
        typer.echo(str(finding))
    count = f"{len(findings) or 'no'} finding{'' if len(findings) == 1 else 's'}"
    typer.echo(f"{rows} wires, {count}")
