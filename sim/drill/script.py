"""The script of a drill as it runs: what is due now, whom it befalls, and what is over. No network.

An event of a kart with a `where` befalls whoever drives in the middle of that sector first from its
time on: it always happens where the drill wants it, at a moment that nobody can learn.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from signals import say
from signals.mqtt.contract import Inject, State, WorldView
from signals.sequence.events import KINDS
from signals.venue.model import Venue
from signals.words import PIT
from sim.drill.cast import Cast, Due
from sim.drill.form import OF_THE_DRILL
from sim.drill.signs import drives, over
from sim.drill.tape import Cue
from sim.track import Track

OF_THE_PIT = frozenset({"person-in-pit"})
AFTER_BORDER_M, BEFORE_BORDER_M = 4.0, 16.0
"""A kart that something befalls rolls on: so far from a sector's end it still comes to stand in it."""


@dataclass(slots=True)
class Happening:
    """An event that is to come, that is there, or that is over."""

    due: Due
    cue: Cue | None = None
    cue_ms: int = 0
    over_ms: int | None = None


@dataclass(slots=True)
class Script:
    """Tells what is to happen now."""

    cast: Cast
    venue: Venue
    track: Track
    happenings: list[Happening] = field(init=False)

    def __post_init__(self) -> None:
        self.happenings = [Happening(due) for due in self.cast.due]

    def look(self, now_ms: int, view: WorldView, state: State | None) -> list[tuple[Cue, Inject | None]]:
        """Look at the world: gives what happens now, and what to ask the world or the equipment for."""
        for each in self.happenings:
            waits = each.cue is not None and each.over_ms is None and now_ms > each.cue_ms + SOON_MS
            if (
                waits
                and each.cue is not None
                and over(each.cue, each.cue_ms, now_ms, view, state, self.track)
            ):
                each.over_ms = now_ms
        begun = []
        for each in self.happenings:
            if each.cue is None and self._is_due(each.due, now_ms):
                cue = self._cue(each.due, now_ms, view)
                if cue is not None:
                    each.cue, each.cue_ms = cue, now_ms
                    begun.append((cue, self._inject(cue, each.due)))
        return begun

    def undo(self, event: str) -> None:
        """Let an event be due again that could not be."""
        happening = self._of(event)
        if happening is not None:
            happening.cue, happening.over_ms = None, None

    @property
    def all_over(self) -> bool:
        """Whether everything has happened and is over."""
        return all(each.over_ms is not None for each in self.happenings)

    def _of(self, event: str | int | None) -> Happening | None:
        return next((each for each in self.happenings if each.due.table.id == event), None)

    def _is_due(self, due: Due, now_ms: int) -> bool:
        since_ms: int | None = 0
        if due.table.after is not None:
            before = self._of(due.table.after)
            since_ms = None if before is None or before.cue is None else before.cue_ms
            if before is not None and due.table.over:
                since_ms = before.over_ms
        return since_ms is not None and now_ms >= since_ms + due.at_s * 1000

    def _cue(self, due: Due, now_ms: int, view: WorldView) -> Cue | None:
        """Give whom and where it befalls; None while nobody is there."""
        table, where, kart = due.table, due.where, self._kart(due)
        needs_kart = table.event not in OF_THE_DRILL and "kart" in KINDS[table.event].needs
        if kart is None and where is not None and (needs_kart or table.event == "smoke"):
            kart = self._first_in(where, view)
            if kart is None:
                return None
        if where is None:
            where = PIT if table.event in OF_THE_PIT else self._place(kart, view)
        until_ms = None if due.for_s is None else now_ms + round(due.for_s * 1000)
        return Cue(
            id=table.id,
            event=table.event,
            kart=kart,
            where=where,
            head=due.head,
            input=due.input,
            sign=table.sign,
            until_ms=until_ms,
            said=self._words(table.says or "", kart, where),
            about=table.about or "",
            post=table.post,
            call=table.call,
            kind=table.kind,
        )

    def _kart(self, due: Due) -> int | None:
        """Give the kart that is known: drawn, or the one of an event before."""
        before = self._of(due.table.kart) if due.kart is None else None
        return due.kart if before is None or before.cue is None else before.cue.kart

    def _words(self, text: str, kart: int | None, where: str | None) -> str:
        return text.format(kart=kart, where=say.sector_name(self.venue, where or ""))

    def _place(self, kart: int | None, view: WorldView) -> str | None:
        there = next((each for each in view.karts if each.number == kart), None)
        return None if there is None or there.in_pit else self.track.sector_at(there.at_m)

    def _first_in(self, where: str, view: WorldView) -> int | None:
        """Give the kart that drives in the middle of a sector: the foremost of several."""
        sector = next(each for each in self.venue.sectors if each.id == where)
        inside = [
            (self.track.ahead_m(kart.at_m, sector.to_m), kart.number)
            for kart in view.karts
            if drives(kart, view)
            and self.track.sector_at(kart.at_m) == where
            and self.track.ahead_m(sector.from_m, kart.at_m) >= AFTER_BORDER_M
            and self.track.ahead_m(kart.at_m, sector.to_m) >= BEFORE_BORDER_M
        ]
        return min(inside)[1] if inside else None

    def _inject(self, cue: Cue, due: Due) -> Inject | None:
        if cue.event in OF_THE_DRILL:
            return None
        kind = KINDS[cue.event]
        wants = kind.needs | kind.may
        lasts_ms = None if due.for_s is None or "for_ms" not in wants else round(due.for_s * 1000)
        return Inject(
            id=f"drill-{cue.id}",
            event=cue.event,
            kart=cue.kart if "kart" in wants else None,
            where=cue.where if "where" in wants and cue.kart is None else None,
            head=cue.head,
            input=cue.input,
            aspect=due.table.aspect,
            for_ms=lasts_ms,
        )


SOON_MS = 400
"""What has just been asked for shows in the next views."""
