"""A script of causes as a sequence file: anyone can read it, check it, and play it alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from msgspec import Struct

from signals.opening.causes import Cause, Does, Script
from signals.sequence.result import Result, StepResult
from signals.venue.model import Venue

DRIVER = "Nobody"
"""Who stands in the group that is never let out."""


class Place(Struct, frozen=True):
    """What a step of the file is for: a cause's doing or proof (`head` None), or one of its cells."""

    cause: Cause
    head: str | None = None


class Written(Struct, frozen=True):
    """A sequence file's text, and what each of its steps (from 1) is for."""

    script: Script
    text: str
    places: tuple[Place, ...]

    def steps(self, result: Result) -> Iterator[tuple[Place, StepResult]]:
        """Pair what came with what it was for."""
        for step in result.steps:
            if step.step:
                yield self.places[step.step - 1], step


def write(script: Script, venue: Venue) -> Written:
    """Write a script's sequence file."""
    tables, places = [], []
    for cause in script.causes:
        for place, table in _steps(cause):
            places.append(place)
            tables.append(_table("[[step]]", table))
    head = [f"title = {_value(script.title)}", "", _table("[start]", _start(script, venue))]
    return Written(script, "\n\n".join(["\n".join(head), *tables]) + "\n", tuple(places))


def _start(script: Script, venue: Venue) -> Does:
    start: Does = {"venue": venue.id, "phase": script.phase}
    if script.phase != "closed":
        kart = venue.karts[0]
        start["group"] = [{"number": kart.number, "driver": DRIVER, "class": kart.class_}]
    return start


def _steps(cause: Cause) -> Iterator[tuple[Place, Does]]:
    for does in cause.does:
        yield Place(cause), does
    for head, cell in cause.cells.items():
        shows = {"head": head, "aspect": cell.shows, "within_ms": cell.within_ms, "since_cause": True}
        yield Place(cause, head), shows
    for proof in cause.proves:
        yield Place(cause), proof


def _table(name: str, table: Does) -> str:
    return "\n".join([name, *(f"{key} = {_value(value)}" for key, value in table.items())])


def _value(value: Any) -> str:
    """Write a value as TOML does; JSON's texts, numbers and truths are TOML's too."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_value(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    return json.dumps(value, ensure_ascii=False)
