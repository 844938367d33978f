"""Whether an opening verdict still holds: until when, on which clock, for which venue file."""

from __future__ import annotations

from collections.abc import Iterator

from signals.clock import JUMP_MS, Clock
from signals.controller.restart import Beginning
from signals.core.state import Event, State
from signals.venue.model import Venue
from signals.words import Verdict


class OpeningWatch:
    """Ends a verdict that no longer holds; gives a simulated venue the one it starts with.

    A verdict ends at the time it names (the end of the operating day ends it too: `day-ended`), when
    the machine's clock is moved, and with the venue file it was given for. In virtual time, where the
    machine's clock goes its own way, `real_time` is False and only the first and the last are looked at.
    """

    def __init__(self, venue: Venue, clock: Clock, *, real_time: bool) -> None:
        self._venue = venue
        self._clock = clock
        self._real_time = real_time

    def begin(self, state: State, beginning: Beginning, until_ms: int) -> Iterator[Event]:
        """Give what a new boot makes of the verdict it finds; `until_ms` is the end of the day."""
        opening = state.beside.opening
        if opening is not None and not opening[3] and (why := self._outlived(beginning)):
            yield _void(why)
        if self._venue.simulated and (opening is None or opening[3]):
            fields = {"verdict": Verdict.OPEN, "until": until_ms, "simulated": True}
            yield Event("opening-set", fields=fields)
        elif opening is not None and opening[3] and not self._venue.simulated:
            yield _void("a simulated check opens no real track")

    def sweep(self, state: State) -> Iterator[Event]:
        """Give what time has made of it."""
        opening = state.beside.opening
        if opening is None or opening[0] == Verdict.DO_NOT_OPEN:
            return
        if 0 < opening[2] <= self._clock.now_ms():
            yield _void("its time is over")
        elif self._real_time and abs(self._clock.moved_ms()) > JUMP_MS:
            yield _void("the machine's clock was moved")

    def _outlived(self, beginning: Beginning) -> str:
        if beginning.digest != self._venue.digest:
            return "the venue file changed"
        if beginning.since_ms is not None and beginning.since_ms > self._clock.now_ms() + JUMP_MS:
            return "the machine's clock was moved back"
        return ""


def _void(why: str) -> Event:
    return Event("opening-set", fields={"verdict": Verdict.DO_NOT_OPEN, "reason": f"void: {why}"})
