"""The first kart behind the place of a call: told, in sight, understood, slow; what a budget is held to."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.course import Course, Now, ahead_m
from sim.scene import Kart, Trouble
from sim.speeds import around, both
from sim.study.crew import NOBODY, Case, Plan
from sim.study.desk import KMH, Watch
from sim.study.rulebook import Rulebook
from sim.study.tally import OVER_KMH, STILL_MPS, Tally


@both
def watch_behind(
    course: Course,
    now: Now,
    book: Rulebook,
    plan: Plan,
    case: Case,
    karts: Sequence[Kart],
    watches: Sequence[Watch],
    was_m: list[float],
    tally: Tally,
) -> None:
    """Note how far it has come, once a beat of the controller."""
    if case.called_s == now.time_s:
        _choose(course, case, karts, tally)
        return
    if case.behind == NOBODY:
        return
    kart, since_s = karts[case.behind], now.time_s - case.called_s
    if kart.on_pit_lane:
        case.behind = NOBODY
        return
    tally.next_m += around(kart.at_m - was_m[case.behind], course.lap.length_m)
    radio = watches[case.behind]
    if radio.arrived and radio.sent_s >= case.called_s and math.isnan(tally.next_told_s):
        tally.next_told_s = since_s
    _watch_driver(book, kart, since_s, tally)
    most_mps = slow_mps(course.stop_kmh if plan.stops else course.caution_kmh)
    if abs(kart.v_mps) <= most_mps:
        tally.next_slow_s = since_s
        case.behind = NOBODY


@both
def slow_mps(limit_kmh: float) -> float:
    """Give the speed that counts as slow under a limit; under one of 0, as standing."""
    return (limit_kmh + OVER_KMH) / KMH if limit_kmh > 0.0 else STILL_MPS


@both
def _watch_driver(book: Rulebook, kart: Kart, since_s: float, tally: Tally) -> None:
    """Note when he saw what was called, and when he acted on it; nothing that he sees past the place."""
    if math.isnan(tally.next_seen_s):
        if tally.next_m < tally.next_gap_m and kart.mind.news in book.holding:
            tally.next_seen_s = since_s
    elif math.isnan(tally.next_understood_s) and kart.mind.heeds in book.holding:
        tally.next_understood_s = since_s


@both
def _choose(course: Course, case: Case, karts: Sequence[Kart], tally: Tally) -> None:
    """Choose the nearest kart behind where it happened that still drives there."""
    least_m = course.lap.length_m
    for index in range(len(karts)):
        kart = karts[index]
        on_lap = not kart.on_pit_lane and not kart.on_grid and kart.trouble == Trouble.NONE
        away_m = ahead_m(course, kart.at_m, case.at_m)
        if on_lap and index != case.kart and away_m < least_m:
            least_m = away_m
            case.behind = index
    if case.behind != NOBODY:
        tally.next_kmh = abs(karts[case.behind].v_mps) * KMH
        tally.next_gap_m = least_m
        tally.next_m = 0.0
