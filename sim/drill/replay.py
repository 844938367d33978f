"""A tape looked at again: every message a screen would have heard, up to any moment, forwards and back."""

from __future__ import annotations

import bisect
from collections.abc import Callable, Iterator

from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.venue.model import Venue
from sim.drill.tape import Line, Tape

OF_THE_DRILL = "drill/"


class Replay:
    """Goes through a tape. `hear` takes messages, `begin` is called where it has to begin anew.

    Times are seconds since the drill began.
    """

    def __init__(
        self, tape: Tape, venue: Venue, hear: Callable[[Arrived, float], None], begin: Callable[[], None]
    ) -> None:
        self.at_s = 0.0
        self.playing = False
        self.ends_s = tape.ends_ms / 1000
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._lines = [line for line in tape.lines if not line.topic.startswith(OF_THE_DRILL)]
        self._times_ms = [line.at_ms for line in self._lines]
        self._hear = hear
        self._begin = begin
        self._next = 0

    def to(self, at_s: float) -> None:
        """Go to a moment."""
        at_s = min(max(at_s, 0.0), self.ends_s)
        if at_s < self.at_s:
            self._begin()
            self._next = 0
        for line in self._until(at_s):
            self._hear(Arrived(self._topics.name(*line.topic.split("/")), line.payload), line.at_ms / 1000)
        self.at_s = at_s

    def hears(self, hear: Callable[[Arrived, float], None]) -> None:
        """Let somebody else hear from now on: a desk that was begun anew."""
        self._hear = hear

    def tick(self, passed_s: float) -> None:
        """Let time pass, while it is playing; at the end it stops."""
        if self.playing:
            self.to(self.at_s + passed_s)
            self.playing = self.at_s < self.ends_s

    def turn(self) -> None:
        """Play, or stand still; at the end, from the beginning."""
        if not self.playing and self.at_s >= self.ends_s:
            self.to(0.0)
        self.playing = not self.playing

    def _until(self, at_s: float) -> Iterator[Line]:
        end = bisect.bisect_right(self._times_ms, at_s * 1000)
        lines = self._lines[self._next : end]
        self._next = max(self._next, end)
        yield from lines
