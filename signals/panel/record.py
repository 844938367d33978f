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

from signals import say
from signals.errors import BadInput
from signals.journal import reader
from signals.journal.chain import Entry, Kind
from signals.panel.spoken import call_said, held
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
        self._venue = venue
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
        """Tell entries, newest first; a call and its answer are one line."""
        answers = {entry.body.get("id"): entry.body for entry in newest if entry.kind is Kind.ANSWER}
        for entry in newest:
            match entry.kind:
                case Kind.CALL:
                    yield self._call(entry, answers.get(entry.body.get("id")))
                case Kind.CHANGE | Kind.PLACE if entry.body.get("post") == EQUIPMENT:
                    yield self._line(entry, "Equipment", "; ".join(self._happened(entry.body)))
                case Kind.FAULT:
                    yield self._line(entry, "Fault", _plain(entry.body))
                case Kind.BOOT:
                    again = " again" if entry.body.get("restart") else ""
                    yield self._line(
                        entry, "Controller", f"begins{again}, version {entry.body.get('version')}"
                    )
                case Kind.CHECK:
                    yield self._line(entry, "Opening check", _checked(entry.body))

    def _call(self, entry: Entry, answer: Mapping[str, Any] | None) -> Line:
        body = entry.body
        by = str(body.get("by") or "")
        who = say.post_name(str(body.get("post"))).capitalize() + (f", {by}" if by else "")
        outcome = "not answered" if answer is None else "done" if answer.get("accepted") else "refused"
        refusals = answer.get("refusals", []) if answer else []
        reasons = tuple(str(refusal.get("sentence")) for refusal in refusals)
        return self._line(entry, who, call_said(self._venue, body), outcome, reasons)

    def _line(
        self, entry: Entry, who: str, what: str, outcome: str = "", reasons: tuple[str, ...] = ()
    ) -> Line:
        at = datetime.fromtimestamp(entry.at / 1000, self._zone)
        return Line(
            n=entry.n,
            day=f"{at:%Y-%m-%d}",
            clock=f"{at:%H:%M:%S}",
            who=who,
            what=what,
            outcome=outcome,
            reasons=reasons,
        )

    def _happened(self, body: Mapping[str, Any]) -> Iterator[str]:
        """Say what equipment or time did: what it is called, and the holds it placed or ended."""
        happened = [str(word).replace("-", " ") for word in body.get("happened", ())]
        yield from happened or [_plain(body)]
        for key in body.get("placed", ()):
            yield f"{held(self._venue, str(key)).capitalize()} stands"
        for key in body.get("ended", ()):
            yield f"{held(self._venue, str(key)).capitalize()} ends"


def _plain(body: Mapping[str, Any]) -> str:
    """Say an event by its word and the fields that name something."""
    fields = body.get("fields", {}) or {key: value for key, value in body.items() if key != "what"}
    named = [
        f"{name} {value}"
        for name, value in fields.items()
        if name in ("kart", "head", "sector", "input", "place", "reason", "verdict", "row", "by")
        and isinstance(value, str | int)
    ]
    return ", ".join([str(body.get("what", "entry")).replace("-", " "), *named])


def _checked(body: Mapping[str, Any]) -> str:
    """Say what the opening check noted: of a row what came of it, and what was expected where it failed."""
    found = body.get("found")
    if not isinstance(found, Mapping):
        return _plain(body)
    seen = f": {found['observed']}" if found.get("observed") else ""
    due = f", expected {found['expected']}" if found.get("outcome") == "failed" else ""
    return f"row {found.get('row')} {found.get('outcome')}{seen}{due}"
