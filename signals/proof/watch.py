"""The properties at run time: a monitor over what a running venue records and says, entry by entry.

    watch = JournalWatch()
    for entry in reader.entries(path):
        for breach in watch.take(entry): ...

Written by hand and apart from the core: it reads a journal's plain JSON and knows no rule table. It
watches what a record can show. What only the lights can show, and how fast, `LightsWatch` watches on
the bus. Neither is part of what makes a venue safe: they tell that something that was proved is not so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from msgspec import Struct

from signals.journal import Entry, Kind

ANSWER_MS = 2_000
"""Within this a call is answered: it waits its turn, and at most 1 s each for two writes of the record."""
RED_MS = 1_000
"""Within this of a stop every head shows red: at once by the fast path, or it is lost."""
BEAT_MS = 500
"""A beat is never silent for longer: a wired head's lease."""

ARCS = frozenset({
    ("closed", "test"), ("test", "closed"), ("closed", "staging"), ("staging", "staging"),
    ("finishing", "staging"), ("staging", "armed"), ("armed", "staging"), ("armed", "racing"),
    ("racing", "finishing"), ("staging", "closed"), ("finishing", "closed"),
})  # fmt: skip
"""Phases that may follow one another without a restart."""
LAST = ("racing", "finishing", "armed", "staging")
_LIFTS = ("lift", "hand-over")


class Breach(Struct, frozen=True):
    """A property that does not hold, at which entry (0: not of one) and when (ms), and how it shows."""

    name: str
    n: int
    at: int
    says: str


@dataclass(frozen=True, slots=True)
class _Facts:
    """A journalled state, by names; what is not written has its start value."""

    facts: Mapping[str, Mapping[str, str]]

    def one(self, name: str, start: str) -> str:
        return self.facts.get(name, {}).get("", start)

    def those(self, name: str, member: str) -> set[str]:
        return {key for key, value in self.facts.get(name, {}).items() if value == member}

    @property
    def phase(self) -> str:
        return self.one("phase", "closed")

    @property
    def latch(self) -> str:
        return self.one("latch", "none")

    @property
    def stops(self) -> set[str]:
        return set(self.facts.get("stop", {}))

    @property
    def cautions(self) -> set[str]:
        return set(self.facts.get("caution", {}))


@dataclass(slots=True)
class JournalWatch:
    """Takes a journal's entries in order and gives what does not hold."""

    answer_ms: int = ANSWER_MS
    _before: _Facts | None = None
    _asked: dict[tuple[str, str], list[Entry]] = field(default_factory=dict)

    def take(self, entry: Entry) -> Iterator[Breach]:
        """Take the next entry."""
        yield from self.overdue(entry.at)
        match entry.kind:
            case Kind.BOOT:
                self._asked.clear()
            case Kind.CALL:
                self._asked.setdefault((entry.body["post"], entry.body["id"]), []).append(entry)
            case Kind.ANSWER:
                yield from self._answered(entry)
            case Kind.CHANGE:
                yield from self._changed(entry)

    def overdue(self, now_ms: int) -> Iterator[Breach]:
        """Give, once, the calls that wait for their answer for too long at this moment."""
        for (post, name), calls in list(self._asked.items()):
            for call in [call for call in calls if now_ms - call.at > self.answer_ms]:
                calls.remove(call)
                says = f"{post}'s {call.body['call']} ({name}) has no answer after {self.answer_ms} ms"
                yield Breach("answered", call.n, now_ms, says)
            if not calls:
                del self._asked[post, name]

    def _answered(self, entry: Entry) -> Iterator[Breach]:
        body = entry.body
        calls = self._asked.get((body["post"], body["id"]))
        call = calls.pop(0) if calls else None
        if call is None:
            return
        word, accepted = call.body["call"], body["accepted"]
        if word in ("stop", "caution") and not accepted and _known(body):
            yield Breach("E1", entry.n, entry.at, f"{body['post']}'s {word} was refused")
        if not accepted and not body["refusals"]:
            yield Breach(
                "reasons", entry.n, entry.at, f"{body['post']}'s {word} was refused without a reason"
            )

    def _changed(self, entry: Entry) -> Iterator[Breach]:
        now, before = _Facts(entry.body["state"]["facts"]), self._before
        self._before = now
        for name, says in _state(now):
            yield Breach(name, entry.n, entry.at, says)
        if before is not None:
            for name, says in _step(before, entry.body, now):
                yield Breach(name, entry.n, entry.at, f"{entry.body['what']}: {says}")


def _known(body: Mapping[str, Any]) -> bool:
    """Tell whether a refusal is of more than a place or a field that the venue does not know."""
    return {one["rule"] for one in body["refusals"]}.isdisjoint({"unknown-target", "too-many-calls"})


def _state(now: _Facts) -> Iterator[tuple[str, str]]:
    """Give the state properties that do not hold."""
    holds = now.stops or now.cautions or now.latch != "none"
    if now.phase == "armed" and holds:
        yield "P14", "armed though something is held"
    if now.phase == "test" and holds:
        yield "P14", "a test though something is held"
    if (now.latch == "stop") != bool(now.stops):
        yield "P16r", f"the latch says {now.latch}, stops stand by {sorted(now.stops) or 'nobody'}"
    if now.one("monitor", "ok") == "tripped" and "E" not in now.stops:
        yield "P9", "the monitor tripped and no stop by the equipment stands"
    by_equipment = {key.partition(":")[0] for key in now.cautions if key.endswith(":E")}
    unknown = now.those("place", "unknown")
    if (unknown or now.one("monitor", "ok") == "lost" or now.those("head", "lost")) and not by_equipment:
        yield "P15", "a fault stands and no caution by the equipment"
    for kart in now.those("button", "true") - now.those("place", "aside") - unknown:
        place = now.facts.get("place", {}).get(kart, "pit")
        if place not in by_equipment:
            yield "P15", f"kart {kart}'s button is latched and {place} is not under caution"


def _step(before: _Facts, body: Mapping[str, Any], now: _Facts) -> Iterator[tuple[str, str]]:
    """Give the step properties that do not hold; what timers did first belongs to the same step."""
    word, happened = body["what"], body["happened"]
    yield from _holds(before, word, now)
    if word == "restart":
        return
    if now.phase != before.phase and not _may_follow(before.phase, now.phase, timed=bool(happened)):
        yield "P20", f"from {before.phase} to {now.phase}"
    if now.phase == "racing" != before.phase and (word != "start" or before.phase != "armed"):
        yield "P3", f"racing began from {before.phase}"
    if before.stops and not now.stops and (now.latch != "recovery" or now.phase != before.phase):
        yield "P4", f"the last stop ended in {now.latch}, {now.phase}"
    if before.latch == "recovery" and now.latch == "none" and word != "clear":
        yield "P5", "recovery ended without a clear"
    gone = before.those("button", "true") - now.those("button", "true")
    if gone and word != "button-reset":
        yield "P17", f"kart {min(gone)}'s latch ended"
    if before.one("journal", "ok") == "failed" and word in (
        "start",
        "lift",
        "clear",
        "stage",
        "arm",
        "let-out",
    ):
        yield "P19", "a permissive call acted while the journal failed"


def _holds(before: _Facts, word: str, now: _Facts) -> Iterator[tuple[str, str]]:
    """P5, P16: a hold goes only by a lift, one at a time, or a hand-over; a restart loses none."""
    gone = [f"stop:{key}" for key in before.stops - now.stops]
    gone += [f"caution:{key}" for key in before.cautions - now.cautions]
    if gone and word == "restart":
        yield "P16", f"{gone[0]} was lost"
    elif gone and word not in _LIFTS:
        yield "P5", f"{gone[0]} ended"
    elif len(gone) > 1:
        yield "P5", f"{len(gone)} holds ended at once"
    if word == "restart" and (
        lost := before.those("call", "disqualified") - now.those("call", "disqualified")
    ):
        yield "P16", f"kart {min(lost)}'s disqualification was lost"


def _may_follow(before: str, now: str, *, timed: bool) -> bool:
    if (before, now) in ARCS:
        return True
    return timed and any((before, between) in ARCS and (between, now) in ARCS for between in LAST)


@dataclass(slots=True)
class LightsWatch:
    """Watches the bus: after a stop all heads red in time, and beats that never fall silent.

    `take` is given every `beat` and `head/<id>/shown` with the moment it was heard; `expire` says
    what is overdue by then. A stop counts from the first beat that says so to the last head that
    shows red; each overdue stop and each silence is told once.
    """

    heads: frozenset[str]
    red_ms: float = RED_MS
    beat_ms: float = BEAT_MS
    _red: set[str] = field(default_factory=set)
    _stop: bool = False
    _since_ms: float | None = None
    _beat_ms: float | None = None

    @property
    def all_red(self) -> bool:
        """Whether every head last showed red."""
        return self._red >= self.heads

    def take(self, levels: tuple[str, ...], message: Mapping[str, Any], now_ms: float) -> Iterator[Breach]:
        """Take a message of the bus."""
        yield from self.expire(now_ms)
        match levels:
            case ("beat",):
                self._beat_ms = now_ms
                if message["stop"] and not self._stop and not self.all_red:
                    self._since_ms = now_ms
                self._stop = message["stop"]
            case ("head", head, "shown") if head in self.heads:
                (self._red.add if message["aspect"] == "red" else self._red.discard)(head)
                if self._stop and not self.all_red and self._since_ms is None:
                    self._since_ms = now_ms
        if self.all_red or not self._stop:
            self._since_ms = None

    def expire(self, now_ms: float) -> Iterator[Breach]:
        """Say what is overdue now."""
        if self._since_ms is not None and now_ms - self._since_ms > self.red_ms:
            missing = ", ".join(sorted(self.heads - self._red))
            yield Breach("red", 0, round(now_ms), f"{self.red_ms:g} ms after a stop not red: {missing}")
            self._since_ms = float("inf")
        if self._beat_ms is not None and now_ms - self._beat_ms > self.beat_ms:
            yield Breach("beat", 0, round(now_ms), f"no beat for {self.beat_ms:g} ms")
            self._beat_ms = None
