"""One finding about a wiring table, and what makes them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from signals.venue.model import Venue


class Found(NamedTuple):
    """One finding: the row, the column, what stands there, what would be right."""

    row: int
    column: str
    value: str
    right: str


Lint = Callable[[Venue], Iterator[Found]]
