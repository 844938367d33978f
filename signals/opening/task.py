"""One row being looked at: what every kind of row shares while it is asked and judged."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from signals.opening.floor import Floor
from signals.opening.lights import Lights
from signals.opening.rows import Row
from signals.opening.sheet import Found, Method, Outcome, Question, Said, Standstill
from signals.venue.model import Head, Venue
from signals.wiring.played import Played


@dataclass(slots=True)
class Site:
    """What a task needs of the walk: the venue, its post and ears, and who walks.

    `eyes` asks a person even where sensors see everything; `run` draws what nobody should expect.
    """

    venue: Venue
    floor: Floor
    lights: Lights
    now_ms: Callable[[], int]
    by: str
    run: str
    eyes: bool = False
    _played: Played | None = field(default=None, init=False)

    def head(self, id_: str) -> Head:
        """Give a head of the venue."""
        return next(head for head in self.venue.heads if head.id == id_)

    def played(self) -> Played:
        """Give the venue's rules to play through, from closed; worked out once."""
        if self._played is None:
            self._played = Played(self.venue, "closed")
        return self._played

    def simulated(self, node: str) -> bool:
        """Whether a node is simulated, so that its faults and presses can be asked for."""
        return next(each.simulated for each in self.venue.nodes if each.id == node)


class Task(ABC):
    """A row under way: `begin` does what it needs, `judge` takes what a person said."""

    def __init__(self, site: Site, row: Row) -> None:
        self.site = site
        self.row = row

    @abstractmethod
    async def begin(self) -> Question | Found | Standstill:
        """Bring it about; gives what to ask, what was found without asking, or what refuses it."""

    @abstractmethod
    async def judge(self, said: Said) -> Question | Found:
        """Judge what a person says: found, or something more to ask."""

    async def end(self) -> None:
        """Stop doing it."""
        await self.site.lights.let_go()

    def found(
        self, outcome: Outcome, expected: str, observed: str, method: Method, *, ms: int | None = None
    ) -> Found:
        """Write down what was found."""
        return Found(
            row=self.row.id,
            at=self.site.now_ms(),
            by=self.site.by,
            outcome=outcome,
            expected=expected,
            observed=observed,
            method=method,
            ms=ms,
        )


def listed(names: Iterable[str]) -> str:
    """List names for a sentence; of none, "nothing"."""
    *first, last = list(names) or ["nothing"]
    return f"{', '.join(first)} and {last}" if first else last
