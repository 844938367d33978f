"""What a part says of its own health: one sentence, whether all is well, and figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol, runtime_checkable


@dataclass(frozen=True, slots=True)
class Figure:
    """One number. `says` is its meaning, the same for every figure of a name; `of` tells which thing's.

    A `counter` only rises within one life of the process.
    """

    name: str
    value: float
    says: str
    of: Mapping[str, str]
    counter: bool = False


def gauge(name: str, value: float, says: str, **of: str) -> Figure:
    """Make a figure that goes up and down."""
    return Figure(name, float(value), says, of)


def counter(name: str, value: float, says: str, **of: str) -> Figure:
    """Make a figure that only rises; its name ends with `_total`."""
    return Figure(name, float(value), says, of, counter=True)


def one_of(name: str, says: str, label: str, known: Iterable[str], now: str) -> tuple[Figure, ...]:
    """Make a figure for each of some states: 1 for the one that holds now, 0 for the others."""
    return tuple(gauge(name, each == now, says, **{label: each}) for each in known)


@dataclass(frozen=True, slots=True)
class Health:
    """A part's health now.

    Attributes:
        says: one line for people, without the part's name.
        well: whether everything it needs is there.
        alive: whether its work goes on: a part that is not is started anew by systemd's watchdog.
        figures: numbers for those who gather them.

    """

    says: str
    well: bool = True
    alive: bool = True
    figures: tuple[Figure, ...] = ()


@runtime_checkable
class Healthy(Protocol):
    """A part that can tell how it is."""

    def health(self) -> Health:
        """Tell it; cheap, and called on the loop about once a second."""
