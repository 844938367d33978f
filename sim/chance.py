"""Chance by counting: a number follows from seed, kart, purpose and counter, and from nothing before it.

The mixing is the finaliser of SplitMix64 (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number
generators", OOPSLA), once for each of the four: no state to carry, so a step can be taken anywhere,
in any order, and gives the same.
"""

from __future__ import annotations

import math
from enum import IntEnum

from sim.speeds import both

_ALL = (1 << 64) - 1
_GOLDEN = 0x9E3779B97F4A7C15
_FIRST, _SECOND = 0xBF58476D1CE4E5B9, 0x94D049BB133111EB
_LOW_33, _LOW_34, _LOW_37, _LOW_53 = ((1 << bits) - 1 for bits in (33, 34, 37, 53))
"""What a shift of 64 bits leaves; said, because a compiled word has a sign."""
_TWO_53 = 1.0 / (1 << 53)


class Purpose(IntEnum):
    """What a number is drawn for; each has numbers of its own. Members keep their value for ever."""

    SKILL = 1
    NERVE = 2
    COMPLIANCE = 3
    PACE = 4
    REACTION = 5
    HEED = 6
    BOOST = 7
    INCIDENT = 8
    REACTS = 9
    """How quick a driver is among drivers."""
    DRILL = 20
    """What happens in a drill, when, where and to whom."""
    RADIO = 30
    """When a kart's radio goes, and comes back."""
    STUDY = 31
    """What happens in a studied session, and how quick its people are."""


@both
def _mix(word: int) -> int:
    word = ((word ^ ((word >> 30) & _LOW_34)) * _FIRST) & _ALL
    word = ((word ^ ((word >> 27) & _LOW_37)) * _SECOND) & _ALL
    return word ^ ((word >> 31) & _LOW_33)


@both
def uniform(seed: int, kart: int, purpose: int, counter: int = 0) -> float:
    """Draw a number between 0 and 1, neither of them included."""
    word = _mix((seed + _GOLDEN) & _ALL)
    word = _mix((word + kart * _GOLDEN) & _ALL)
    word = _mix((word + purpose * _GOLDEN) & _ALL)
    word = _mix((word + counter * _GOLDEN) & _ALL)
    return (((word >> 11) & _LOW_53) + 0.5) * _TWO_53


@both
def normal(seed: int, kart: int, purpose: int, counter: int = 0) -> float:
    """Draw from the standard normal distribution (Box & Muller 1958)."""
    radius = math.sqrt(-2.0 * math.log(uniform(seed, kart, purpose, 2 * counter)))
    return radius * math.cos(math.tau * uniform(seed, kart, purpose, 2 * counter + 1))


@both
def within(value: float, most: float) -> float:
    """Cut a number to -most … most."""
    return min(max(value, -most), most)
