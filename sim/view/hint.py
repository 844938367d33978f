"""What comes next at this desk: the line of `signals.hint`, at a moment."""

from __future__ import annotations

from signals import hint
from signals.hint import Hint
from sim.view.desk import Desk


def next_step(desk: Desk, now_s: float) -> Hint:
    """Say what comes next."""
    return hint.next_step(
        hint.Moment(desk.picture, desk.lost(now_s), desk.trip, desk.left_s(), desk.gap_left_s(now_s))
    )
