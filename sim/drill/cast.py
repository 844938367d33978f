"""What a seed makes of a drill: who drives, where, when what happens. Nobody can learn the clock.

Every number is drawn by counting (`sim.chance`): the same seed, the same drill; and an event added at
the end of a file leaves those before it as they were.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from signals.venue.model import Venue
from sim.chance import Purpose, uniform
from sim.drill.form import DrawTable, EventTable
from sim.drill.load import Drill, fleet

T = TypeVar("T")
GROUP, TURN, DRAW, AT, FOR = -1, -2, -3, -4, -5
"""What a number is drawn for, in the place of a kart's number."""


@dataclass(frozen=True, slots=True)
class Due:
    """An event as drawn: `at_s` counts from the start, or from what `table.after` names."""

    table: EventTable
    at_s: float
    where: str | None
    kart: int | None
    """Where it is known beforehand: by its number, or drawn."""
    head: str | None
    input: str | None
    for_s: float | None


@dataclass(frozen=True, slots=True)
class Cast:
    """A drill as drawn. `turn` is where around the lap the first kart begins, a share of it."""

    drill: Drill
    seed: int
    karts: tuple[int, ...]
    out: tuple[int, ...]
    turn: float
    drawn: dict[str, str]
    due: tuple[Due, ...]


def cast(drill: Drill, venue: Venue, seed: int, seats: Sequence[str]) -> Cast:
    """Draw a drill from a seed, for the posts that practise it."""
    start = drill.file.start
    karts = tuple(sorted(_some(fleet(venue), start.karts, seed)))
    racing = start.phase == "racing"
    out = (start.karts if start.out is None else start.out) if racing else 0
    parts = {"group": karts, "out": karts[:out], "in": karts[out:]}
    own = frozenset(place for post in venue.posts if post.id in seats for place in post.covers)
    drawn = {
        name: _one(_choices(draw, parts, own), _dice(seed, DRAW, number))
        for number, (name, draw) in enumerate(drill.file.draw.items())
    }
    return Cast(
        drill=drill,
        seed=seed,
        karts=karts,
        out=karts[:out],
        turn=_dice(seed, TURN, 0),
        drawn=drawn,
        due=tuple(_due(event, number, drawn, seed) for number, event in enumerate(drill.file.event)),
    )


def named(name: str | None, drawn: dict[str, str]) -> str | None:
    """Give what a name stands for: "$place" what was drawn for it, anything else itself."""
    return drawn[name[1:]] if name is not None and name.startswith("$") else name


def _due(event: EventTable, number: int, drawn: dict[str, str], seed: int) -> Due:
    return Due(
        table=event,
        at_s=_between(event.at_s, _dice(seed, AT, number)),
        where=named(event.where, drawn),
        kart=_kart(event.kart, drawn),
        head=named(event.head, drawn),
        input=named(event.input, drawn),
        for_s=None if event.for_s is None else _between(event.for_s, _dice(seed, FOR, number)),
    )


def _kart(kart: int | str | None, drawn: dict[str, str]) -> int | None:
    """Give a kart that is known beforehand; None where an event decides it."""
    if isinstance(kart, str):
        return int(drawn[kart[1:]]) if kart.startswith("$") else None
    return kart


def _dice(seed: int, what: int, counter: int) -> float:
    return uniform(seed, what, Purpose.DRILL, counter)


def _between(span: Sequence[float], dice: float) -> float:
    return round(span[0] + (span[1] - span[0]) * dice, 2)


def _one(choices: Sequence[T], dice: float) -> T:
    return choices[int(dice * len(choices))]


def _choices(draw: DrawTable, parts: Mapping[str, Sequence[int]], own: frozenset[str]) -> tuple[str, ...]:
    """Give what there is to draw from: of sectors those of whoever practises, where there are any."""
    if draw.karts is not None:
        return tuple(map(str, parts[draw.karts]))
    if draw.sectors is not None:
        return tuple(each for each in draw.sectors if each in own) or draw.sectors
    return draw.heads or draw.words or ()


def _some(numbers: Sequence[int], count: int, seed: int) -> list[int]:
    """Draw some without putting back, each by a number of its own."""
    return sorted(numbers, key=lambda number: _dice(seed, GROUP, number))[:count]
