"""What is counted in a session, and how."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from signals.words import Aspect
from sim.contact import Box, touch
from sim.course import Course, Now, ahead_m, beside
from sim.scene import Doing, Kart, Person, Trouble, Walk
from sim.speeds import both
from sim.study.crew import Case, Plan
from sim.study.desk import KMH, Wires, track_sector
from sim.study.rulebook import Rulebook
from sim.traffic import Other, Traffic, next_ahead
from sim.walking import along_m, on_road

OVER_KMH = 2.0
"""A kart so much over the caution limit is not slow yet."""
STILL_MPS = 0.3
PASSES_M = 1.0
INSIDE, TURNS = 2.5, 0.25
"""Lengths of a kart along the centreline that two may be apart who touch on the inside of a bend; and how far
aside, for a metre ahead, a bend brings somebody who touches."""
AGAIN_S = 1.0
"""Two karts that touch anew after so long touch a second time."""


class Tally(Struct):
    """What came of a session. Times run from when something happened; NaN where it did not come to it."""

    called_s: float = math.nan
    """Until its post called."""
    shown_s: float = math.nan
    """Until a head before it showed yellow or red."""
    slow_s: float = math.nan
    """Until the last kart in its sector was slow."""
    stood_s: float = math.nan
    """Until all karts on the lap stood."""
    over_s: float = math.nan
    """Until the kart drove on and nobody walked."""
    contacts: float = 0.0
    """Times that karts touched, in the whole session."""
    hits: float = 0.0
    """Times that somebody touched the kart that stood."""
    exposed_s: float = 0.0
    """How long somebody walked on the road."""
    passes: float = 0.0
    """Karts that passed him there."""
    fastest_kmh: float = 0.0
    """The fastest of them."""
    false_s: float = 0.0
    """How long a head before it showed green."""
    strained_s: float = 0.0
    """How long limiters asked for more than tyres had left in a bend, all karts together."""
    next_kmh: float = math.nan
    """How fast the first kart behind drove when the post called; its times run from there."""
    next_gap_m: float = math.nan
    """How far behind the place it was then."""
    next_told_s: float = math.nan
    """Until its limiter had taken what was called."""
    next_seen_s: float = math.nan
    """Until its driver saw yellow or red, if he did before he was at the place."""
    next_understood_s: float = math.nan
    """Until he acted on it."""
    next_slow_s: float = math.nan
    """Until it was slow; under red, until it stood."""
    next_m: float = math.nan
    """How far it went until then."""


@both
def touches(
    course: Course,
    now: Now,
    karts: Sequence[Kart],
    traffic: Traffic,
    touched_s: list[float],
    case: Case,
    tally: Tally,
) -> None:
    """Count karts that have come to touch; neighbours in driving order are looked at."""
    count, reach_m = traffic.counts[0], INSIDE * course.model.length_m
    for at in range(count):
        other = traffic.lap[traffic.order[at]]
        front = at
        for _ in range(1, count):
            front = next_ahead(traffic, front)
            ahead = traffic.lap[traffic.order[front]]
            away_m = ahead_m(course, other.at_m, ahead.at_m)
            if away_m > reach_m:
                break
            if other.index < 0 or ahead.index < 0:
                continue
            apart_m = _wide_m(course, karts, other) + _wide_m(course, karts, ahead) + TURNS * away_m
            if abs(other.left_m - ahead.left_m) > apart_m:
                continue
            one, two = min(other.index, ahead.index), max(other.index, ahead.index)
            if touch(_box(course, karts[one]), _box(course, karts[two])):
                pair = one * len(karts) + two
                if now.time_s - touched_s[pair] > AGAIN_S:
                    tally.contacts += 1.0
                    if case.open and case.kart in (one, two):
                        tally.hits += 1.0
                touched_s[pair] = now.time_s


@both
def _wide_m(course: Course, karts: Sequence[Kart], other: Other) -> float:
    """Give how far aside of its middle a kart reaches; one that is turned round, as far as any corner."""
    if karts[other.index].turned_deg == 0.0:
        return other.wide_m
    return (course.model.length_m + course.model.width_m) / 2


@both
def _box(course: Course, kart: Kart) -> Box:
    x_m, y_m, heading_deg = beside(course.lap, kart.at_m, kart.left_m)
    turned_deg = heading_deg + math.degrees(kart.course_rad) + kart.turned_deg
    return Box(x_m, y_m, turned_deg, course.model.length_m, course.model.width_m)


@both
def watch(
    course: Course,
    now: Now,
    book: Rulebook,
    wires: Wires,
    plan: Plan,
    case: Case,
    karts: Sequence[Kart],
    people: Sequence[Person],
    shown: Sequence[Aspect],
    was_m: list[float],
    every_s: float,
    tally: Tally,
) -> None:
    """Look at what goes on, once every `every_s` seconds."""
    if case.open:
        _case(course, now, book, wires, plan, case, karts, shown, every_s, tally)
        _exposed(course, karts, people[0], was_m, every_s, tally)
    tally.strained_s = 0.0
    for index in range(len(karts)):
        was_m[index] = karts[index].at_m
        tally.strained_s += karts[index].strained_s
    if case.over_s > case.begun_s and math.isnan(tally.over_s):
        tally.over_s = case.over_s - case.begun_s


@both
def _case(
    course: Course,
    now: Now,
    book: Rulebook,
    wires: Wires,
    plan: Plan,
    case: Case,
    karts: Sequence[Kart],
    shown: Sequence[Aspect],
    every_s: float,
    tally: Tally,
) -> None:
    since_s = now.time_s - case.begun_s
    if case.called_s < math.inf and math.isnan(tally.called_s):
        tally.called_s = case.called_s - case.begun_s
    green, holding = False, False
    for head in range(book.heads):
        if plan.warns[head * book.sectors + case.sector]:
            green = green or shown[head] == Aspect.GREEN
            holding = holding or shown[head] in book.holding
    if green:
        tally.false_s += every_s
    if holding and math.isnan(tally.shown_s):
        tally.shown_s = since_s
    all_stand = True
    for index in range(len(karts)):
        kart = karts[index]
        if index == case.kart or kart.on_pit_lane or kart.on_grid or kart.doing == Doing.WAITING:
            continue
        if abs(kart.v_mps) > STILL_MPS:
            all_stand = False
        too_fast = abs(kart.v_mps) * KMH > course.caution_kmh + OVER_KMH
        if too_fast and track_sector(wires, kart.at_m) == case.sector:
            tally.slow_s = since_s
    if math.isnan(tally.slow_s):
        tally.slow_s = 0.0
    if all_stand and plan.stops and math.isnan(tally.stood_s):
        tally.stood_s = since_s


@both
def _exposed(
    course: Course, karts: Sequence[Kart], person: Person, was_m: list[float], every_s: float, tally: Tally
) -> None:
    """Count how long somebody is on the road, and who passes him there."""
    if person.doing == Walk.GONE or not on_road(course, person):
        return
    tally.exposed_s += every_s
    for index in range(len(karts)):
        kart = karts[index]
        if kart.on_pit_lane or kart.on_grid or kart.trouble != Trouble.NONE:
            continue
        before_m, after_m = (
            along_m(course, person.at_m, was_m[index]),
            along_m(course, person.at_m, kart.at_m),
        )
        if before_m < 0.0 <= after_m < course.lap.length_m / 4:
            tally.passes += 1.0
            tally.fastest_kmh = max(tally.fastest_kmh, abs(kart.v_mps) * KMH)
