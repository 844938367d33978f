"""How each sector stood through a drill: what ribbons in the window and in the report are drawn of."""

from __future__ import annotations

from typing import NamedTuple

from signals.words import Condition
from sim.drill.facts import Facts
from sim.drill.score import TRACK_ROW


class Stretch(NamedTuple):
    """A row was under one condition from … to, ms on the tape."""

    from_ms: int
    to_ms: int
    condition: Condition


def stretches(known: Facts) -> dict[str, list[Stretch]]:
    """Give the stretches of the track's row and of every sector's."""
    rows: dict[str, list[Stretch]] = {
        row: [] for row in (TRACK_ROW, *(each.id for each in known.venue.sectors))
    }
    times = [*(at_ms for at_ms, _ in known.states), known.ends_ms]
    for (at_ms, state), until_ms in zip(known.states, times[1:], strict=True):
        for row, found in rows.items():
            condition = state.condition if row == TRACK_ROW else state.sectors.get(row, Condition.CLEAR)
            if found and found[-1].condition is condition:
                found[-1] = found[-1]._replace(to_ms=until_ms)
            else:
                found.append(Stretch(at_ms, until_ms, condition))
    return rows
