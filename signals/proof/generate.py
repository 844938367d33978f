"""The models of the smallest venue, for reading: one sector, one kart, one post."""

from __future__ import annotations

from signals.proof.murphi import murphi
from signals.proof.program import Program
from signals.proof.promela import promela
from signals.proof.scopes import Size, core_rows, ground_of, layout_of
from signals.proof.spoken import Spoken, spoken
from signals.proof.stating import Statements

SMALLEST = Size(1, 1, 1)
TITLE = "A venue of one sector, one kart, one post"


def model_of(size: Size) -> Spoken:
    """Give what a model says of a small venue, by the rows that explorations take along."""
    layout = layout_of(size)
    return spoken(Statements(Program(ground_of(layout), core_rows(layout))))


def generated() -> dict[str, str]:
    """Give the text of every generated file by its path in the repository."""
    model = model_of(SMALLEST)
    return {
        "docs/models/smallest.pml": promela(model, TITLE),
        "docs/models/smallest.m": murphi(model, TITLE),
    }
