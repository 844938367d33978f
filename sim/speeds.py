"""One source, two speeds: step functions that run as they stand, and compiled for many sessions.

What is marked with `both` keeps to what runs alike either way: numbers, loops, `math`; things that have
attributes which are numbers; tables that are read by a number. A kart is a struct here and a record there, a
table a list here and an array there, and a member of an enum its number. No `**`, no `hypot`, nothing whose
last bit differs between the two. `sim.compiled` makes the other form.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import ParamSpec, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")

MARK = "_in_both_forms"


def both(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Mark a function that is compiled too; it stays as it is."""
    setattr(function, MARK, True)
    return function


@both
def sine(turn: float) -> float:
    """Give the sine of an angle from -pi to pi, right to 1e-9: by its series, the same on every machine."""
    return math.copysign(_series(abs(turn)), turn)


@both
def cosine(turn: float) -> float:
    """Give a cosine, likewise."""
    return _series(math.pi / 2 - abs(turn))


@both
def _series(turn: float) -> float:
    """Give the sine of an angle from -pi / 2 to pi by seven terms."""
    turn = min(turn, math.pi - turn)
    square = turn * turn
    rest = 1 / 362880 - square * (1 / 39916800 - square * (1 / 6227020800))
    return turn * (1.0 - square * (1 / 6 - square * (1 / 120 - square * (1 / 5040 - square * rest))))


@both
def around(value: float, length: float) -> float:
    """Bring a number into 0 … length around a ring, as `%` does, which is slow where little is to do."""
    if 0.0 <= value < length:
        return value
    if -length <= value < 0.0:
        return value + length
    if length <= value < 2.0 * length:
        return value - length
    return value % length
