"""`kerblight wiring`: what an integrator wires by, checked and printed."""

from __future__ import annotations

import typer

from signals.cli.options import DEFAULT_VENUE, AsJson, VenueFile
from signals.cli.output import FELL_SHORT, print_json
from signals.errors import Finding
from signals.venue import load
from signals.wiring.contract import contract
from signals.wiring.lint import lint as findings_of

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


def _say(findings: list[Finding], rows: int) -> None:
    for finding in findings:
        typer.echo(str(finding))
    count = f"{len(findings) or 'no'} finding{'' if len(findings) == 1 else 's'}"
    typer.echo(f"{rows} wires, {count}")
