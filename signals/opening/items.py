"""What a person looks at, and answers by yes or no."""

from __future__ import annotations

from signals.opening.looks import where_of
from signals.opening.rows import TRACK, Row, kart_of
from signals.opening.sheet import Found, Question, Said, Standstill
from signals.opening.task import Site, Task


class Item(Task):
    """One item of the venue's list, at the track, a kart or a head."""

    def __init__(self, site: Site, row: Row) -> None:
        super().__init__(site, row)
        self._item = next(item for item in site.venue.check_items if item.id == row.what)

    async def begin(self) -> Question | Found | Standstill:
        """Ask."""
        return Question(
            number=0,
            of=0,
            asks="good",
            place=self.row.place,
            where=self._where(),
            text=self._item.text,
            effect=self.row.effect,
        )

    async def judge(self, said: Said) -> Found:
        """Take the answer; what nobody can see stays open."""
        if said.unseen or said.good is None:
            return self.found("not seen", "yes", "nobody looked", "eye")
        return self.found("passed" if said.good else "failed", "yes", "yes" if said.good else "no", "eye")

    def _where(self) -> str:
        if self._item.each == "head":
            return where_of(self.site.venue, self.site.head(self.row.place))
        return f"Kart {kart_of(self.row.place)}" if self.row.place != TRACK else self.site.venue.name
