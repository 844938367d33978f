"""`kerblight venue`: check and explain a venue file, import its centreline."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from signals import say
from signals.cli.options import AsJson
from signals.cli.output import BAD_INPUT, FELL_SHORT, print_json
from signals.errors import BadInput, Finding
from signals.venue.explaining import explain as sentences
from signals.venue.file import load
from signals.venue.importing.cli import import_
from signals.venue.linting import lint as warnings
from signals.venue.schemas import schema as json_schema

app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None)

app.command("import")(import_)

VenueFile = Annotated[Path, typer.Argument(metavar="FILE", help="The venue file.")]


@app.callback()
def _venue() -> None:
    """Check and explain a venue file, import its centreline."""


@app.command()
def lint(
    file: VenueFile,
    *,
    strict: Annotated[bool, typer.Option("--strict", help="Exit 1 where there are warnings.")] = False,
    as_json: AsJson = False,
) -> None:
    """List every mistake, and then every doubt.

    Exits 2 where a mistake keeps the file from loading.

    Examples: kerblight venue lint your-track.toml; kerblight venue lint your-track.toml --strict
    """
    mistakes, doubts = _findings(file)
    if as_json:
        print_json(
            {
                "file": str(file),
                "loads": not mistakes,
                "findings": [_plain(each) for each in mistakes + doubts],
            }
        )
    else:
        _say(file, mistakes, doubts)
    if mistakes:
        raise typer.Exit(BAD_INPUT)
    if doubts and strict:
        raise typer.Exit(FELL_SHORT)


def _findings(file: Path) -> tuple[list[Finding], list[Finding]]:
    try:
        return [], warnings(load(file))
    except BadInput as wrong:
        return wrong.findings, []


def _plain(finding: Finding) -> dict[str, str | int]:
    names = ("file", "line", "key", "value", "right", "level")
    return {name: getattr(finding, name) for name in names}


def _say(file: Path, mistakes: list[Finding], doubts: list[Finding]) -> None:
    for finding in mistakes + doubts:
        typer.echo(f"{finding.level}: {finding}", err=bool(mistakes))
    if mistakes:
        typer.echo(f"{file.name} does not load: {say.many(len(mistakes), 'mistake', none='no')}", err=True)
    else:
        typer.echo(f"{file.name} loads, {say.many(len(doubts), 'warning', none='no')}")


@app.command()
def explain(file: VenueFile, *, as_json: AsJson = False) -> None:
    """Say in sentences what the venue is and what its choices mean.

    Example: kerblight venue explain configs/harbour-loop.toml
    """
    found = sentences(load(file))
    if as_json:
        print_json(found)
        return
    for heading, lines in found.items():
        typer.echo(f"\n{heading}")
        for line in lines:
            typer.echo(f"  {line}")


@app.command()
def schema() -> None:
    """Write the JSON Schema of venue files."""
    print_json(json_schema())
