"""What a score is made of. Every line says what it is about, what it gave, and why."""

from __future__ import annotations

from msgspec import Struct

TRACK_ROW = "track"
"""The row of a timeline for what has no sector."""
PASSED = 0.8
"""Share of the marks from which a drill counts as passed, where nothing grave happened; common practice."""


class Line(Struct, frozen=True, kw_only=True):
    """One line: `got` of `of` marks, or a deduction (`of` 0, `got` below 0). `at_ms` is where on the tape."""

    name: str
    title: str
    got: float
    of: float
    said: str
    better: str = ""
    """What would have been better; empty where nothing."""
    at_ms: int | None = None
    grave: bool = False
    """Whether somebody was in danger: the drill is not passed, whatever the marks."""

    @property
    def full(self) -> bool:
        """Whether nothing was lost."""
        return self.got >= self.of


class Spell(Struct, frozen=True, kw_only=True):
    """How long something took: from when it could be seen (ms on the tape), seconds."""

    of: str
    from_ms: int
    took_s: float
    target_s: float


class Seeing(Struct, frozen=True, kw_only=True):
    """Telling what matters from what does not. `noise`: quiet stretches; `detected`: until first touched."""

    signals: int
    hits: int
    noise: int
    false_alarms: int
    detected: tuple[Spell, ...]
    median_s: float | None
    p90_s: float | None
    d_prime: float
    criterion: float
    hit_low: float
    hit_high: float
    """Wilson's 95 % interval of the hit rate."""

    @property
    def misses(self) -> int:
        """Signals that nothing was done about."""
        return self.signals - self.hits


class Deciding(Struct, frozen=True, kw_only=True):
    """Doing the right thing in time. `called` runs from visible to called, for right calls."""

    called: tuple[Spell, ...]
    median_s: float | None
    p90_s: float | None
    in_time: int
    right: int
    """Duties called rightly: word and place."""
    duties: int
    refused: int
    premature: int
    overlong_s: float
    """How long red or yellow stood after it could have been lifted."""


class Safety(Struct, frozen=True, kw_only=True):
    """What the referee saw come of it."""

    exposed_s: float
    """Seconds somebody was on the road with nothing to protect him, after it could have been called."""
    contacts: int
    findings: tuple[str, ...]


class Mark(Struct, frozen=True, kw_only=True):
    """A mark on the timeline. `kind`: happened, over, called, seen, did, better, due.

    What is due was to be done by then, and was not.
    """

    at_ms: int
    kind: str
    row: str
    text: str
    letter: str = ""
    good: bool | None = None


class Score(Struct, frozen=True, kw_only=True):
    """A seat's score of a drill."""

    drill: str
    title: str
    venue: str
    seed: int
    seat: str
    who: str
    got: float
    of: float
    percent: float
    passed: bool
    lines: tuple[Line, ...]
    seeing: Seeing
    deciding: Deciding
    safety: Safety
    timeline: tuple[Mark, ...]
    lasted_s: float

    def line(self, name: str) -> Line | None:
        """Give a line by its name."""
        return next((line for line in self.lines if line.name == name), None)

    def lost(self) -> tuple[Line, ...]:
        """Give the lines that cost something."""
        return tuple(line for line in self.lines if not line.full)
