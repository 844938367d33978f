"""`kerblight wiring`: what an integrator wires by, checked and printed."""

from __future__ import annotations

import typer

app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None)


@app.callback()
def _wiring() -> None:
    """Check the wiring table and print what an integrator wires by."""
