"""Expectations: what a step looks at, in words, and how long it is looked at."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace

from signals.sequence.form import ALL, TRACK_EMPTY, StepTable
from signals.sequence.observer import Observer
from signals.venue.model import Head, Venue
from signals.words import Condition, Phase

OFF_TRACK = ("pit", "aside")
WITHIN_MS = 1000


@dataclass(frozen=True, slots=True)
class Expectation:
    """Something that can be true: in words, tested now, and what there is now instead."""

    words: str
    holds: Callable[[], bool]
    now: Callable[[], str]
    since_s: Callable[[], float | None] = lambda: None
    """Since when (loop time) what there is now has been so, where that is known."""


@dataclass(frozen=True, slots=True)
class Window:
    """How long: true at one instant within, and stays; or false throughout."""

    within_ms: int = WITHIN_MS
    for_ms: int = 0
    never: bool = False

    @classmethod
    def of(cls, step: StepTable) -> Window:
        """Read a step's window."""
        within_ms = WITHIN_MS if step.within_ms is None else step.within_ms
        return cls(within_ms, step.for_ms or 0, bool(step.never))

    def __str__(self) -> str:
        if self.never:
            return f"never within {self.within_ms} ms"
        stays = f", for {self.for_ms} ms" if self.for_ms else ""
        return f"within {self.within_ms} ms{stays}"


async def watch(observer: Observer, expectation: Expectation, window: Window) -> bool:
    """Look at every message until the expectation is met, or cannot be any more."""
    watcher = _Watch(expectation.holds, window)
    ignore = observer.listen(watcher.look)
    try:
        watcher.look()
        return await watcher.met
    finally:
        ignore()
        watcher.close()


class _Watch:
    def __init__(self, holds: Callable[[], bool], window: Window) -> None:
        loop = asyncio.get_running_loop()
        self.met: asyncio.Future[bool] = loop.create_future()
        self._holds = holds
        self._window = window
        self._staying: asyncio.TimerHandle | None = None
        self._over = False
        self._end = loop.call_later(window.within_ms / 1000, self._last_look)

    def look(self) -> None:
        holds = self._holds()
        if self._window.never:
            if holds:
                self._settle(met=False)
        elif holds:
            self._is_true()
        else:
            self._is_false()

    def close(self) -> None:
        self._end.cancel()
        if self._staying is not None:
            self._staying.cancel()

    def _is_true(self) -> None:
        if not self._window.for_ms:
            self._settle(met=True)
        elif self._staying is None and not self._over:
            loop = asyncio.get_running_loop()
            self._staying = loop.call_later(self._window.for_ms / 1000, self._stayed)

    def _is_false(self) -> None:
        if self._staying is not None:
            self._staying.cancel()
            self._staying = None
        if self._over:
            self._settle(met=False)

    def _stayed(self) -> None:
        self._settle(met=self._holds())

    def _last_look(self) -> None:
        self.look()
        self._over = True
        if self._window.never or self._staying is None:
            self._settle(met=self._window.never)

    def _settle(self, *, met: bool) -> None:
        if not self.met.done():
            self.met.set_result(met)


def expectation_of(step: StepTable, form: str, venue: Venue, observer: Observer) -> Expectation:
    """Make the expectation of a step of form head, limit_of, phase or condition."""
    make = {"head": _head, "limit_of": _limit, "phase": _phase, "condition": _condition}[form]
    return make(step, venue, observer)


def until(word: str, observer: Observer) -> Expectation:
    """Make what `until` waits for."""
    if word == TRACK_EMPTY:
        return Expectation(
            "track empty", lambda: not _out(observer), lambda: f"out: {_out(observer) or 'none'}"
        )
    if word in set(Phase):
        return _phase_is(Phase(word), observer)
    return _condition_is(Condition(word), None, observer)


def _out(observer: Observer) -> str:
    """Name the karts that are, or may be, on the track; of an unheard venue nothing is known."""
    if observer.state is None:
        return "unknown"
    return ", ".join(number for number, kart in observer.state.karts.items() if kart.place not in OFF_TRACK)


def _phase(step: StepTable, _: Venue, observer: Observer) -> Expectation:
    return _phase_is(Phase(step.phase or ""), observer)


def _phase_is(phase: Phase, observer: Observer) -> Expectation:
    def now() -> str:
        return str(observer.state.phase) if observer.state else "unknown"

    return Expectation(f"phase {phase}", lambda: now() == phase, now)


def _condition(step: StepTable, _: Venue, observer: Observer) -> Expectation:
    return _condition_is(Condition(step.condition or ""), step.where, observer)


def _condition_is(condition: Condition, where: str | None, observer: Observer) -> Expectation:
    def now() -> str:
        if observer.state is None:
            return "unknown"
        return str(observer.state.sectors.get(where) if where else observer.state.condition)

    return Expectation(f"{where or 'track'} {condition}", lambda: now() == condition, now)


def _head(step: StepTable, venue: Venue, observer: Observer) -> Expectation:
    heads = [head for head in venue.heads if step.head in (ALL, head.id)]
    due = str(step.aspect) + (f" {step.number}" if step.number else "")

    def now(head: Head) -> str:
        if step.of == "commanded":
            return _told(observer, head, with_number=step.number is not None)
        return _showing(observer, head, with_number=step.number is not None)

    def since_s() -> float | None:
        known = [at_s for head in heads if (at_s := observer.shown_since_s(head.id)) is not None]
        return max(known, default=None)

    of = " commanded" if step.of == "commanded" else ""
    expected = _for_each({head.id: _bind(now, head) for head in heads}, due, of)
    return replace(expected, since_s=since_s)


def _bind(now: Callable[[Head], str], head: Head) -> Callable[[], str]:
    return lambda: now(head)


def _for_each(nows: dict[str, Callable[[], str]], due: str, of: str) -> Expectation:
    """Expect the same of several; what is otherwise is named."""

    def others() -> dict[str, str]:
        return {name: came for name, now in nows.items() if (came := now()) != due}

    def now() -> str:
        return ", ".join(f"{name} {came}" for name, came in others().items()) or due

    who = next(iter(nows)) if len(nows) == 1 else "every head"
    return Expectation(f"{who}{of} {due}", lambda: not others(), now)


def _told(observer: Observer, head: Head, *, with_number: bool) -> str:
    told = observer.told.get(head.id)
    if told is None:
        return "nothing heard"
    return f"{told.aspect} {told.number}" if with_number else str(told.aspect)


def _showing(observer: Observer, head: Head, *, with_number: bool) -> str:
    shown = observer.shown(head.id)
    if shown is None:
        return "not heard"
    if shown.proven is not None and set(shown.proven) != set(head.aspects.get(shown.aspect, ())):
        return f"{shown.aspect}, but its light proves {', '.join(shown.proven) or 'dark'}"
    return (
        _told(observer, head, with_number=True)
        if with_number and _as_told(observer, head)
        else str(shown.aspect)
    )


def _as_told(observer: Observer, head: Head) -> bool:
    """Tell whether the number commanded may be taken as shown: a report carries none."""
    told, shown = observer.told.get(head.id), observer.shown(head.id)
    return told is not None and shown is not None and told.aspect == shown.aspect


def _limit(step: StepTable, venue: Venue, observer: Observer) -> Expectation:
    karts = [kart.number for kart in venue.karts if step.limit_of in (ALL, kart.number)]
    low = 0.0 if step.at_least_kmh is None else step.at_least_kmh
    high = float("inf") if step.at_most_kmh is None else step.at_most_kmh

    def limit(number: int) -> float | None:
        said = observer.limits.get(number) if step.of == "commanded" else observer.taken(number)
        return None if said is None else said.limit_kmh

    def wrong(number: int) -> bool:
        now = limit(number)
        return now is None or not low <= now <= high

    def now() -> str:
        shown = [number for number in karts if wrong(number)] or karts[:1]
        return ", ".join(f"kart {number} {_kmh(limit(number))}" for number in shown)

    return Expectation(_limit_words(step), lambda: not any(map(wrong, karts)), now)


def _limit_words(step: StepTable) -> str:
    who = "every kart" if step.limit_of == ALL else f"kart {step.limit_of}"
    low = [] if step.at_least_kmh is None else [f"at least {step.at_least_kmh:g}"]
    high = [] if step.at_most_kmh is None else [f"at most {step.at_most_kmh:g}"]
    of = " commanded" if step.of == "commanded" else ""
    return f"{who}{of} {' and '.join(low + high)} km/h"


def _kmh(limit: float | None) -> str:
    return "not heard" if limit is None else f"{limit:g} km/h"
