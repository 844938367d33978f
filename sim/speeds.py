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


SMALL_RAD = 0.5
"""Up to here sine and cosine are given by a few terms of their series: right to 1e-9."""


@both
def sine(turn: float) -> float:
    """Give a sine; quick for the small angles between a kart and its track."""
    if -SMALL_RAD < turn < SMALL_RAD:
        square = turn * turn
        return turn * (1.0 - square * (1 / 6 - square * (1 / 120 - square * (1 / 5040 - square / 362880))))
    return math.sin(turn)


@both
def cosine(turn: float) -> float:
    """Give a cosine, likewise."""
    if -SMALL_RAD < turn < SMALL_RAD:
        square = turn * turn
        return 1.0 - square * (1 / 2 - square * (1 / 24 - square * (1 / 720 - square / 40320)))
    return math.cos(turn)


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
