"""`kerblight study FILE`: many sessions over a grid of choices, and what comes of them."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from signals.cli.options import AsJson
from signals.cli.output import console, print_json
from signals.venue import load
from sim.study.form import Study, load_study
from sim.study.play import cells_of, play_here, play_there, remaining
from sim.study.report import FACTOR_SAYS, SAYS, Found, found, page, spelled, told
from sim.study.store import Store
from sim.study.work import model_digest

app = typer.Typer(add_completion=False, rich_markup_mode=None)
DEFAULT_OUT = Path("var") / "studies"


@app.command(
    epilog="Examples: kerblight study configs/studies/ramp.toml | kerblight study FILE --dask tcp://HOST:8786"
)
def study(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A study file.")],
    *,
    out: Annotated[
        Path,
        typer.Option(
            "--out", metavar="DIR", help="Where report and results are kept.", show_default="var/studies"
        ),
    ] = DEFAULT_OUT,
    sessions: Annotated[
        int | None, typer.Option(min=2, metavar="N", help="Of each cell; by default as the file says.")
    ] = None,
    threads: Annotated[
        int | None,
        typer.Option(min=1, max=256, help="At a time; by default one a core.", show_default="cores"),
    ] = None,
    dask: Annotated[
        str,
        typer.Option(
            "--dask", metavar="ADDRESS", help="Play on the workers of this dask scheduler.", show_default=""
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Play many seeded sessions over a grid of choices; write one report with intervals and plots.

    What was played is kept as it comes: ended and begun again, it goes on where it was.
    """
    loaded = load_study(file)
    venue = load(loaded.venue)
    name = f"{file.stem}-{loaded.digest(venue.digest, model_digest())}"
    count = sessions or loaded.file.sessions
    with Store(out / f"{name}.jsonl") as store:
        _play(loaded, store, count, threads or os.cpu_count() or 1, dask)
        result = found(loaded, store)
    report = out / f"{name}.html"
    report.write_text(page(result, venue), encoding="utf-8")
    if as_json:
        print_json(_plain(result, report))
    else:
        _tell(console(), result, report)


def _play(loaded: Study, store: Store, sessions: int, threads: int, dask: str) -> None:
    left = remaining(loaded, store, sessions)
    whole = sessions * len(list(loaded.cells()))
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console(stderr=True),
    ) as progress:
        task = progress.add_task(
            "sessions", total=whole, completed=whole - sum(each.sessions for each in left)
        )

        def on(played: int) -> None:
            progress.advance(task, played)

        if left and dask:
            play_there(cells_of(loaded), left, store, dask, on)
        elif left:
            play_here(cells_of(loaded), left, store, threads, on)


def _plain(result: Found, report: Path) -> dict[str, Any]:
    return {
        "title": result.study.file.title,
        "report": str(report),
        "short": result.short,
        "answers": result.answers,
        "cells": [
            {
                "choices": row.cell,
                "sessions": row.sessions,
                "any_contact": row.touched._asdict(),
                "measures": {
                    name: None if estimate is None else estimate._asdict()
                    for name, estimate in row.measures.items()
                },
            }
            for row in result.rows
        ],
    }


def _tell(screen: Console, result: Found, report: Path) -> None:
    shown = result.study.file.show.measures
    table = Table(title=result.study.file.title, title_justify="left", title_style="bold")
    for name in result.study.varied:
        table.add_column(FACTOR_SAYS[name], justify="right")
    for measure in shown:
        says, unit = SAYS[measure]
        table.add_column(f"{says}{f', {unit}' if unit else ''}", justify="right", overflow="fold")
    for row in result.rows:
        cells = [told(name, value) for name, value in row.cell.items()]
        for measure in shown:
            value, interval = spelled(measure, row.measures[measure])
            cells.append(f"{value}\n{interval}" if interval else value)
        table.add_row(*cells)
    screen.print(table)
    for sentence in (*result.short, *result.answers):
        screen.print(sentence)
    screen.print(f"The whole report: {report}")
