"""How long a conflict may last: shorter is a change under way, longer trips.

The windows lie between what NEMA TS 2 asks of a traffic signal's monitor (STANDARDS H6, from
memory): a conflict shorter than 200 ms must not trip and one of 450 ms must; a missing red must
not under 700 ms and must at 1000 ms.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

SHORTEST_S = 0.2
LONGEST_S = 0.45
"""A venue's `monitor_trip` lies from the shortest to below the longest."""
RED_MISSING_S = 0.85
"""Midway between 700 and 1000 ms."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """Something less restrictive than it must be; `window_s` is how long it may last.

    `what`, `where`, `due` and `shown` go into a trip, which fits a node's buffer: short, plain ASCII.
    """

    kind: str
    where: str
    what: str
    due: str
    shown: str
    window_s: float
    detail: str = ""
    """For the log."""

    def __str__(self) -> str:
        return f"{self.where}: {self.what}: {self.shown}, due {self.due} {self.detail}".rstrip()


@dataclass(slots=True)
class _Standing:
    since_s: float
    due_s: float
    conflict: Conflict


@dataclass(slots=True)
class Patience:
    """The conflicts that stand now, each since when; times in seconds of one clock."""

    _standing: dict[str, dict[tuple[str, str], _Standing]] = field(default_factory=dict)

    def see(self, subject: str, conflicts: Iterable[Conflict], now_s: float) -> None:
        """Say all that is wrong with a subject now; what is not said any more is over.

        A conflict that goes on keeps its beginning and its window.
        """
        before = self._standing.pop(subject, {})
        after = {}
        for conflict in conflicts:
            key = conflict.kind, conflict.where
            standing = before.get(key) or _Standing(now_s, now_s + conflict.window_s, conflict)
            standing.conflict = conflict
            after[key] = standing
        if after:
            self._standing[subject] = after

    def forget(self) -> None:
        """Begin anew."""
        self._standing.clear()

    def due_s(self) -> float | None:
        """Give when the next conflict will have lasted too long, if it goes on."""
        return min((standing.due_s for standing in self._all()), default=None)

    def too_long(self, now_s: float) -> Conflict | None:
        """Give the conflict that has lasted too long, the first to have done so."""
        late = [standing for standing in self._all() if standing.due_s <= now_s + 1e-9]
        return min(late, key=lambda standing: standing.due_s).conflict if late else None

    def now(self) -> list[Conflict]:
        """Give all that stands, the oldest first."""
        return [s.conflict for s in sorted(self._all(), key=lambda standing: standing.since_s)]

    def _all(self) -> list[_Standing]:
        return [standing for subject in self._standing.values() for standing in subject.values()]
