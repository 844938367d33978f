"""The journal as marshals read it: newest first, a line an event, every refusal with its reasons."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from signals.errors import BadInput
from signals.journal import reader
from signals.journal.chain import Entry, Kind
from signals.journal.told import Telling
from signals.venue.model import Venue
from signals.words import EQUIPMENT

ENTRIES_MAX = 200
"""Read at once; a call and its answer are two of them."""


class Shown(StrEnum):
    """Which events are shown."""

    CALLS = "calls"
    EVENTS = "events"
    ALL = "all"


KINDS: dict[Shown, tuple[Kind, ...]] = {
    Shown.CALLS: (Kind.CALL, Kind.ANSWER),
    Shown.EVENTS: (Kind.CALL, Kind.ANSWER, Kind.CHANGE, Kind.FAULT, Kind.BOOT, Kind.CHECK),
    Shown.ALL: tuple(Kind),
}
SAID = {
    Shown.CALLS: "Calls",
    Shown.EVENTS: "Calls and what happened",
    Shown.ALL: "Everything, every place of a kart too",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One event. `outcome` is "done", "refused" or "not answered", empty for what nobody called."""

    n: int
    day: str
    clock: str
    who: str
    what: str
    outcome: str = ""
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """One page of the record; `older` is the number its next page comes before, None at the beginning."""

    lines: tuple[Line, ...]
    older: int | None
    wrong: str = ""


class Record:
    """Reads one venue's journal."""

    def __init__(self, venue: Venue, path: Path) -> None:
        self._telling = Telling(venue)
        self._path = path
        self._zone = ZoneInfo(venue.operating.timezone)

    async def leaf(self, shown: Shown, before: int | None) -> Leaf:
        """Give the events before an entry, newest first; the disk is read beside the event loop."""
        return await asyncio.to_thread(self._leaf, shown, before)

    def _leaf(self, shown: Shown, before: int | None) -> Leaf:
        try:
            found = reader.newest(self._path, ENTRIES_MAX, before=before, kinds=KINDS[shown])
        except BadInput as wrong:
            return Leaf(lines=(), older=None, wrong=str(wrong))
        older = found[-1].n if len(found) == ENTRIES_MAX else None
        return Leaf(lines=tuple(self.lines(found)), older=older)

    def lines(self, newest: Sequence[Entry]) -> Iterator[Line]:
        """Tell entries, newest first; a call, its answer and what it changed are one line."""
        answers = {entry.body.get("id"): entry.body for entry in newest if entry.kind is Kind.ANSWER}
        for entry in newest:
            match entry.kind:
                case Kind.CALL:
                    yield self._line(entry, *_outcome(answers.get(entry.body.get("id"))))
                case Kind.CHANGE | Kind.PLACE if entry.body.get("post") == EQUIPMENT:
                    yield self._line(entry)
                case Kind.FAULT | Kind.BOOT | Kind.CHECK:
                    yield self._line(entry)

    def _line(self, entry: Entry, outcome: str = "", reasons: tuple[str, ...] = ()) -> Line:
        at, told = datetime.fromtimestamp(entry.at / 1000, self._zone), self._telling.told(entry)
        return Line(
            n=entry.n,
            day=f"{at:%Y-%m-%d}",
            clock=f"{at:%H:%M:%S}",
            who=told.who,
            what=told.what,
            outcome=outcome,
            reasons=reasons,
        )


def _outcome(answer: Mapping[str, Any] | None) -> tuple[str, tuple[str, ...]]:
    if answer is None:
        return "not answered", ()
    reasons = tuple(str(refusal.get("sentence")) for refusal in answer.get("refusals", []))
    return "done" if answer.get("accepted") else "refused", reasons
