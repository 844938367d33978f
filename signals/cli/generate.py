"""`kerblight generate`: write the documents and schemas that are made from the code."""

from __future__ import annotations

import importlib
from importlib.metadata import entry_points
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.options import AsJson
from signals.cli.output import FELL_SHORT, console, print_json
from signals.errors import Unusable

SOURCES = (
    "signals.core.generate",
    "signals.mqtt.generate",
    "signals.venue.generate",
    "signals.sequence.generate",
    "signals.conform.generate",
    "signals.proof.generate",
)
"""Modules with `generated() -> dict[str, str]`: path below the repository's root, and text."""
ENTRY_POINTS = "kerblight.generated"
"""Such functions of `sim` and of other distributions."""

app = typer.Typer(add_completion=False, rich_markup_mode=None)


def all_generated() -> dict[str, str]:
    """Give every generated file's text by its path below the root."""
    makers = [importlib.import_module(source).generated for source in SOURCES]
    makers += [point.load() for point in entry_points(group=ENTRY_POINTS)]
    return {path: text for make in makers for path, text in make().items()}


def root() -> Path:
    """Find the checkout this code is in.

    Raises:
        Unusable: it is installed without one.

    """
    folder = Path(__file__).resolve().parents[2]
    if not (folder / "pyproject.toml").exists():
        raise Unusable(f"{folder} is no checkout: generated files are written in one only")
    return folder


@app.command()
def generate(
    *,
    check: Annotated[bool, typer.Option("--check", help="Write nothing; name what is stale.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write what is made from the code: documentation, schemas, the contract.

    With --check nothing is written, and exit code 1 says that the files it names are stale.
    """
    here = root()
    stale = {path: text for path, text in all_generated().items() if _written(here / path) != text}
    if not check:
        for path, text in stale.items():
            (here / path).parent.mkdir(parents=True, exist_ok=True)
            (here / path).write_text(text, encoding="utf-8")
    if as_json:
        print_json({"stale": sorted(stale), "written": not check})
    else:
        _say(sorted(stale), check=check)
    raise typer.Exit(FELL_SHORT if check and stale else 0)


def _written(path: Path) -> str | None:
    return path.read_text(encoding="utf-8") if path.exists() else None


def _say(stale: list[str], *, check: bool) -> None:
    out = console()
    for path in stale:
        out.print(f"{'stale' if check else 'wrote'} {path}")
    if not stale:
        out.print("all up to date")
    elif check:
        out.print("run: kerblight generate")
