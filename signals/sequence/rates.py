"""How many incidents an hour chance brings to a simulated world: read from a command line."""

from __future__ import annotations

import math
from collections.abc import Mapping

HOUR_S = 3600.0
MIX: Mapping[str, float] = {
    "spin": 5.0,
    "contact": 3.0,
    "stall": 1.5,
    "shortcut": 1.5,
    "hand-raised": 1.0,
    "debris": 1.0,
    "slow-kart": 1.0,
    "ignored-signal": 1.0,
    "driver-out": 0.7,
    "person-in-pit": 0.7,
    "wrong-way": 0.5,
    "loose-clothing": 0.5,
    "kart-button": 0.4,
    "smoke": 0.3,
}
"""Of so many incidents, so many of each kind; typical, no source."""
Rates = tuple[tuple[str, float], ...]
"""(event, how many an hour) while somebody drives."""


def rates(asked: str) -> Rates:
    """Read "12" (so many an hour, of every kind) or "spin=6,stall=2".

    Raises:
        ValueError: naming every part that cannot be read, and what would be right.

    """
    if "=" not in asked:
        share = _number(asked) / sum(MIX.values())
        return tuple((event, weight * share) for event, weight in MIX.items()) if share else ()
    found, wrong = [], []
    for part in asked.split(","):
        event, _, number = (each.strip() for each in part.partition("="))
        try:
            found.append((_event(event), _number(number)))
        except ValueError as error:
            wrong.append(str(error))
    if wrong:
        raise ValueError("; ".join(wrong))
    return tuple(found)


def _event(text: str) -> str:
    if text not in MIX:
        raise ValueError(f"{text!r} is none of {', '.join(sorted(MIX))}")
    return text


def _number(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not 0 <= number <= HOUR_S:
        raise ValueError(f"{text!r} is no number of incidents an hour, 0 to {HOUR_S:g}")
    return number
