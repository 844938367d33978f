"""The last two minutes of every sector, with each call and its answer: what the ribbon shows. No drawing."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from signals.look import Dress
from signals.mqtt.contract import WorldFinding

WINDOW_S = 120.0
TRACK = "track"
"""The row of what concerns the whole track."""


@dataclass(frozen=True, slots=True)
class Change:
    """How a row is dressed from this instant on; None: not known."""

    at_s: float
    dress: Dress | None


@dataclass(frozen=True, slots=True)
class Entry:
    """A call on the ribbon. `accepted` None: not answered yet. `text` is what it says when opened."""

    id: str
    at_s: float
    row: str
    letter: str
    accepted: bool | None
    text: str
    seen: bool = False
    """Whether it is no call, but something that the referee saw."""


def seen_entry(finding: WorldFinding, now_s: float, rows: tuple[str, ...]) -> Entry:
    """Make the ribbon's mark of what the referee saw."""
    row = finding.where if finding.where in rows else TRACK
    return Entry(f"seen-{finding.id}", now_s, row, "!", None, f"Seen: {finding.said}", seen=True)


class Ribbon:
    """One row for the track and one per sector; forgets what is older than the window."""

    def __init__(self, rows: tuple[str, ...]) -> None:
        self.rows = (TRACK, *rows)
        self._changes: dict[str, deque[Change]] = {row: deque([Change(0.0, None)]) for row in self.rows}
        self.entries: deque[Entry] = deque()
        self.version = 0

    def note(self, now_s: float, dresses: Mapping[str, Dress | None]) -> None:
        """Take down how rows are dressed; only a change makes a new stretch."""
        for row, dress in dresses.items():
            changes = self._changes.get(row)
            if changes is not None and changes[-1].dress is not dress:
                changes.append(Change(now_s, dress))
                self.version += 1
                while len(changes) > 1 and changes[1].at_s < now_s - WINDOW_S:
                    changes.popleft()

    def called(self, entry: Entry) -> None:
        """Mark a call."""
        while self.entries and self.entries[0].at_s < entry.at_s - WINDOW_S:
            self.entries.popleft()
        self.entries.append(entry)
        self.version += 1

    def answered(self, call: str, *, accepted: bool, text: str) -> None:
        """Mark the answer on its call."""
        for index, entry in enumerate(self.entries):
            if entry.id == call and entry.accepted is None:
                self.entries[index] = replace(entry, accepted=accepted, text=text)
                self.version += 1

    def stretches(self, row: str, now_s: float) -> Iterator[tuple[float, float, Dress]]:
        """Give a row's stretches within the window: from, to (seconds), dress."""
        begin_s = now_s - WINDOW_S
        changes = [*self._changes[row], Change(now_s, None)]
        for change, following in pairwise(changes):
            if change.dress is not None and following.at_s > begin_s:
                yield max(begin_s, change.at_s), following.at_s, change.dress
