"""Pages to read or to print: one HTML file that loads nothing from anywhere, in black and white on A4."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from signals.actions import NOT_A_STOP
from signals.look import LIGHT
from sim.drill.telling import NOT_INSTEAD


def page(template: str, **about: Any) -> str:
    """Fill in a template of this package; every page says what practice is not."""
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, loader=PackageLoader("sim.drill", "")
    )
    made: str = environment.get_template(template).render(
        theme=LIGHT, not_a_stop=NOT_A_STOP, not_instead=NOT_INSTEAD, **about
    )
    return made


def write(path: Path, text: str) -> None:
    """Write a page."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
