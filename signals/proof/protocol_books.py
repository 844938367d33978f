"""What must hold of a node, from books that are kept beside it: RULES' N1 to N5.

The books are kept by other means than the node's own: they count ticks where it compares times, and
know what no message carries, such as when a person permitted what an order says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

from signals.words import Aspect

PROPERTIES = {
    "N1": "no green from before a stop once any beat sent after it was heard",
    "N2": "two boots within a lease: the fail aspect; a kart at most caution",
    "N3": "lease past: the fail aspect; a kart at most caution, after 3 s at most creep",
    "N4": "after a lapse or reboot green needs a person's later act",
    "N5": "nothing late, doubled, lost or old lets a kart drive faster or a head show more",
    "stop": "the stop flag is obeyed at once, from any boot, and is not forgotten in silence",
}

BOOTS = ("boota", "bootb")
"""Two boots of a controller: one that was restarted, or two that speak at once."""
LIVING, PAST, DRAWN = "living", "past", "drawn"
"""Incarnations: the one the node has, any it had, the one it draws in this step."""
Due = Literal["nothing", "green, permitted before", "green, permitted now"]
"""What an order says; "now" is in the life that the node is living, "before" in an earlier one.

Under a stop the real one says red. Here it says dark and a low limit, as where nothing is permitted:
that is less restrictive, so a node that should not obey it is seen to.
"""
BEFORE: Due = "green, permitted before"
NOW: Due = "green, permitted now"
DUES: tuple[Due, ...] = ("nothing", BEFORE, NOW)


@dataclass(frozen=True, slots=True)
class Input:
    """What happens to a node: time passes, it boots anew, or something said arrives.

    Of what arrives `epoch` and `seq` are places among those the node knows: known ones are even, in
    order, and the gaps between them odd. `kept` marks a copy that a broker had kept.
    """

    what: Literal["time", "reboot", "beat", "order", "constants"]
    boot: int = 0
    epoch: int = 0
    seq: int = 0
    stop: bool = False
    inc: str = LIVING
    due: Due = "nothing"
    kept: bool = False


@dataclass(frozen=True, slots=True)
class HeardBeat:
    """The newest beat heard of a boot since the node's own boot."""

    seq: int
    epoch: int


@dataclass(frozen=True, slots=True)
class Books:
    """What is known of a node by other means than its own.

    Per boot: `beats` the newest beat heard, `orders` the newest order that came for this life (0:
    none), `ages` the ticks since any beat was heard. `lease` is the ticks since it was renewed,
    `silent` those without any; all stop counting when it no longer matters. `stop` is whether a stop
    was heard and stands. `named` is whether the node's incarnation was drawn in the life it lives.
    """

    ages: tuple[int, ...]
    lease: int
    silent: int
    beats: tuple[HeardBeat | None, ...] = (None,) * len(BOOTS)
    orders: tuple[int, ...] = (0,) * len(BOOTS)
    stop: bool = False
    named: bool = True

    def born(self, *, named: bool) -> Books:
        """Begin another life: no order came for it yet."""
        return replace(self, orders=(0,) * len(self.orders), named=named)


@dataclass(frozen=True, slots=True)
class Scale:
    """In ticks: how long a lease is, and after how long without one a kart only creeps."""

    lease: int
    creep: int

    def booted(self) -> Books:
        """Give the books of a node that has just booted."""
        return Books((self.lease,) * 2, self.lease, self.creep)

    def after(self, books: Books, event: Input) -> tuple[Books, bool]:
        """Carry the books on; also whether the node's life ended by it, and another began."""
        match event.what:
            case "time":
                return self._later(books)
            case "reboot":
                return self.booted(), True
            case "beat" if not event.kept:
                return self._heard(books, event)
            case "order" if event.inc == LIVING:
                newest = max(books.orders[event.boot], event.seq)
                return replace(books, orders=put(books.orders, event.boot, newest)), False
        return books, False

    def _later(self, books: Books) -> tuple[Books, bool]:
        books = replace(books, ages=tuple(min(age + 1, self.lease) for age in books.ages))
        if books.lease + 1 == self.lease:
            return self._lapsed(books), True
        if books.lease < self.lease:
            return replace(books, lease=books.lease + 1), False
        return replace(books, silent=min(books.silent + 1, self.creep)), False

    def _heard(self, books: Books, event: Input) -> tuple[Books, bool]:
        """Let a new beat of one boot alone renew the lease, and one beside another boot's end it."""
        newer = is_new(books, event)
        alone = all(age >= self.lease for boot, age in enumerate(books.ages) if boot != event.boot)
        books = replace(books, ages=put(books.ages, event.boot, 0))
        if newer:
            beat = HeardBeat(event.seq, event.epoch)
            books = replace(books, beats=put(books.beats, event.boot, beat))
        if not alone:
            books = replace(books, stop=books.stop or event.stop)
            return (self._lapsed(books), True) if books.lease < self.lease else (books, False)
        return (replace(books, lease=0, silent=0, stop=event.stop) if newer else books), False

    def _lapsed(self, books: Books) -> Books:
        return replace(books, lease=self.lease, silent=0)


def put(values: tuple[Any, ...], at: int, value: Any) -> tuple[Any, ...]:
    """Give the values with one replaced."""
    return (*values[:at], value, *values[at + 1 :])


def is_new(books: Books, event: Input) -> bool:
    """Tell whether something came live, was never heard, and nothing said later was heard before it."""
    beat = books.beats[event.boot]
    newest = (beat.seq if beat else 0) if event.what == "beat" else books.orders[event.boot]
    return event.what in ("beat", "order") and not event.kept and event.seq > newest


def width(shows: Aspect | float) -> float:
    """Say how much something allows: km/h, or 0 for red, 1 for a fail aspect, 2 for dark, 3 for green."""
    if isinstance(shows, float):
        return shows
    return {Aspect.RED: 0, Aspect.DARK: 2, Aspect.GREEN: 3}.get(shows, 1)
