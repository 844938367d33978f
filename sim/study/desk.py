"""The controller's shell in a session: what equipment reports becomes moves, what is decided commands.

As `signals.controller` does it, ten times a second: links by lease, places by sector, limits by what karts
say they took, standing and over-limit karts; timers; and commands, which arrive a little later.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct

from sim.chance import Purpose, uniform
from sim.course import Air, Course, Now, ahead_m
from sim.scene import Kart
from sim.speeds import both
from sim.study.branches import Facts, follow
from sim.study.rulebook import Rulebook, Scratch, aspect_of, happens, limit_kmh

SAME_KMH, STANDS_KMH, OVER_KMH = 0.05, 1.0, 5.0
"""As in `signals.controller.karts`."""
KMH = 3.6


class Wires(NamedTuple):
    """How quick and how reliable the equipment is, and the venue's times."""

    head_s: float
    """From a decision until a head shows it."""
    radio_s: float
    """From a decision until a limiter has taken it."""
    losses_per_s: float
    """How often a kart's radio goes."""
    loss_s: float
    """For how long, in the mean."""
    lease_s: float
    settle_s: float
    stood_s: float
    gap_s: float
    boost_kmh: float
    boosts: int
    fall_mps2: float
    sector_from_m: Sequence[float]
    """Where the track's sectors begin, in rising order, and which they are."""
    sector: Sequence[int]


class Watch(Struct):
    """What the controller makes of a kart, and what its radio does."""

    due_kmh: float = 0.0
    sent_s: float = 0.0
    arrived: bool = True
    heard_s: float = 0.0
    agreed_s: float = 0.0
    waiting_s: float = math.inf
    said_standing: bool = False
    said_over: bool = False
    allowed_kmh: float = 0.0
    from_kmh: float = 0.0
    since_s: float = 0.0
    times: bool = False
    """Whether the timer runs of a kart that stands in the pit."""
    stood_s: float = math.inf
    sector: int = -1
    at_m: float = -1.0
    down_s: float = math.inf
    up_s: float = 0.0
    losses: int = 0


class Lamp(Struct):
    """What a head was told last, and when it shows it."""

    due: int = 0
    shows_s: float = 0.0


class Desk(Struct):
    """The controller's own timers."""

    gap_s: float = math.inf
    moves: int = 0
    """How many moves were made."""


@both
def sector_of(wires: Wires, book: Rulebook, kart: Kart) -> int:
    """Give which sector a kart is in; the grid before the start line belongs to the pit."""
    if kart.on_pit_lane or kart.on_grid:
        return book.pit
    return track_sector(wires, kart.at_m)


@both
def track_sector(wires: Wires, at_m: float) -> int:
    """Give the sector of a place on the lap."""
    begun = 0
    for number in range(len(wires.sector_from_m)):
        begun += wires.sector_from_m[number] <= at_m
    return wires.sector[(begun if begun > 0 else len(wires.sector)) - 1]


@both
def radio(now: Now, wires: Wires, watch: Watch, kart: int) -> bool:
    """Let a kart's radio come and go by chance; whether it is up."""
    if wires.losses_per_s <= 0.0:
        return True
    if watch.losses == 0 or now.time_s >= watch.up_s > watch.down_s:
        watch.losses += 1
        dice = uniform(now.seed, kart, Purpose.RADIO, 2 * watch.losses)
        watch.down_s = now.time_s - math.log(dice) / wires.losses_per_s
        watch.up_s = (
            watch.down_s
            - math.log(uniform(now.seed, kart, Purpose.RADIO, 2 * watch.losses + 1)) * wires.loss_s
        )
    return not watch.down_s <= now.time_s < watch.up_s


@both
def sweep(
    course: Course,
    now: Now,
    book: Rulebook,
    wires: Wires,
    facts: Facts,
    scratch: Scratch,
    desk: Desk,
    watches: Sequence[Watch],
    karts: Sequence[Kart],
    air: Air,
) -> None:
    """Let commands arrive, and take in what karts report."""
    for index in range(len(karts)):
        watch, kart = watches[index], karts[index]
        if radio(now, wires, watch, kart.number):
            watch.heard_s = now.time_s
            air.taken_s[index] = now.time_s
            if not watch.arrived and now.time_s - watch.sent_s >= wires.radio_s:
                watch.arrived = True
                air.taken_mps[index] = watch.due_kmh / KMH
        _link(now, book, wires, facts, scratch, watch, index)
        _where(course, book, wires, facts, scratch, watch, kart, index)
        _limit(now, book, wires, facts, scratch, watch, air.taken_mps[index] * KMH, index)
        _conduct(now, book, wires, facts, scratch, watch, kart, index)
        _stood(now, book, wires, facts, scratch, watch, index)
    if now.time_s >= desk.gap_s and happens(book, facts, scratch, book.gap_over):
        desk.gap_s = math.inf


@both
def _link(
    now: Now, book: Rulebook, wires: Wires, facts: Facts, scratch: Scratch, watch: Watch, kart: int
) -> None:
    well = now.time_s - watch.heard_s <= wires.lease_s
    if well and not facts[book.link + kart]:
        happens(book, facts, scratch, book.kart_back[kart])
    elif not well and facts[book.link + kart]:
        happens(book, facts, scratch, book.kart_lost[kart])


@both
def _where(
    course: Course,
    book: Rulebook,
    wires: Wires,
    facts: Facts,
    scratch: Scratch,
    watch: Watch,
    kart: Kart,
    index: int,
) -> None:
    """Take in where a kart is and whether it moves; as `signals.controller.places` does."""
    sector, place = sector_of(wires, book, kart), facts[book.place + index]
    moves = abs(kart.v_mps) * KMH >= STANDS_KMH
    news = sector != watch.sector or place == book.unknown
    watch.sector = sector
    if sector != place and (news or moves):
        happens(book, facts, scratch, book.kart_at[index * book.sectors + sector])
    if moves != (facts[book.moving + index] == 1):
        happens(book, facts, scratch, book.kart_rolls[index] if moves else book.kart_stands[index])
    if sector == book.pit:
        watch.at_m = -1.0
        return
    if watch.at_m >= 0.0:
        way_m = ahead_m(course, watch.at_m, kart.at_m)
        line_m = ahead_m(course, watch.at_m, course.start_line_m)
        if way_m < course.lap.length_m / 2 and 0.0 < line_m <= way_m:
            happens(book, facts, scratch, book.line_crossed[index])
    watch.at_m = kart.at_m


@both
def _limit(
    now: Now,
    book: Rulebook,
    wires: Wires,
    facts: Facts,
    scratch: Scratch,
    watch: Watch,
    taken_kmh: float,
    kart: int,
) -> None:
    taken = facts[book.taken + kart]
    if now.time_s - watch.heard_s > wires.lease_s:
        watch.agreed_s = now.time_s
    elif abs(taken_kmh - watch.due_kmh) < SAME_KMH:
        watch.agreed_s = now.time_s
        if not taken:
            happens(book, facts, scratch, book.limit_taken[kart])
    elif taken and now.time_s - watch.agreed_s > wires.settle_s:
        happens(book, facts, scratch, book.limit_missed[kart])


@both
def _conduct(
    now: Now,
    book: Rulebook,
    wires: Wires,
    facts: Facts,
    scratch: Scratch,
    watch: Watch,
    kart: Kart,
    index: int,
) -> None:
    """Notice who stands though he may drive, and who drives faster than his limit's ramp allows."""
    kmh = abs(kart.v_mps) * KMH
    on_track = facts[book.place + index] < book.pit
    if not on_track or watch.due_kmh <= 0.0 or kmh >= STANDS_KMH:
        watch.waiting_s = math.inf
    elif watch.waiting_s == math.inf:
        watch.waiting_s = now.time_s
    stands = now.time_s - watch.waiting_s >= wires.stood_s
    if stands and not watch.said_standing:
        happens(book, facts, scratch, book.kart_standing[index])
    watch.said_standing = stands
    over = kmh > _allowed_kmh(now, wires, watch) + OVER_KMH
    if over and not watch.said_over:
        happens(book, facts, scratch, book.kart_over_limit[index])
    watch.said_over = over


@both
def _allowed_kmh(now: Now, wires: Wires, watch: Watch) -> float:
    """Give the speed a kart may still have while its limit falls along the ramp."""
    falling_s = max(0.0, now.time_s - watch.since_s - wires.settle_s)
    return max(watch.allowed_kmh, watch.from_kmh - KMH * wires.fall_mps2 * falling_s)


@both
def _stood(
    now: Now, book: Rulebook, wires: Wires, facts: Facts, scratch: Scratch, watch: Watch, kart: int
) -> None:
    """Run the timer of a kart that stands in the pit after its drive."""
    timer = book.heads + book.karts + kart
    if scratch.awake[timer]:
        scratch.awake[timer] = 0
        watch.times = follow(book.branches, facts, book.stood_runs[kart]) == 1
    if not watch.times:
        watch.stood_s = math.inf
    elif watch.stood_s == math.inf:
        watch.stood_s = now.time_s + wires.stood_s
    elif now.time_s >= watch.stood_s:
        happens(book, facts, scratch, book.stood_in_pit[kart])
        watch.stood_s = math.inf


@both
def publish(
    now: Now,
    book: Rulebook,
    wires: Wires,
    facts: Facts,
    scratch: Scratch,
    watches: Sequence[Watch],
    lamps: Sequence[Lamp],
    air: Air,
) -> None:
    """Send what changed to heads and karts, and let heads show what has reached them."""
    if scratch.woken[0] > 0:
        for output in range(book.heads + book.karts):
            if scratch.awake[output]:
                scratch.awake[output] = 0
                if output < book.heads:
                    _tell_head(now, book, wires, facts, lamps[output], output)
                else:
                    _tell_kart(
                        now, book, wires, facts, watches[output - book.heads], air, output - book.heads
                    )
        scratch.woken[0] = 0
    for head in range(book.heads):
        if now.time_s >= lamps[head].shows_s:
            air.aspects[head] = book.aspects[lamps[head].due]


@both
def _tell_head(now: Now, book: Rulebook, wires: Wires, facts: Facts, lamp: Lamp, head: int) -> None:
    aspect = aspect_of(book, facts, head)
    if aspect != lamp.due:
        lamp.due = aspect
        lamp.shows_s = now.time_s + wires.head_s


@both
def _tell_kart(
    now: Now, book: Rulebook, wires: Wires, facts: Facts, watch: Watch, air: Air, kart: int
) -> None:
    kmh = limit_kmh(book, facts, kart)
    free = facts[book.phase] == book.racing and kmh == class_kmh(book, facts, kart)
    air.boosts[kart] = wires.boosts if free else 0
    if kmh == watch.due_kmh:
        return
    watch.due_kmh = kmh
    watch.sent_s = now.time_s
    watch.arrived = False
    most_kmh = kmh + (wires.boost_kmh if air.boosts[kart] else 0.0)
    if most_kmh != watch.allowed_kmh:
        watch.from_kmh = _allowed_kmh(now, wires, watch)
        watch.allowed_kmh = most_kmh
        watch.since_s = now.time_s


@both
def class_kmh(book: Rulebook, facts: Facts, kart: int) -> float:
    """Give the limit of the class that a kart runs in: the table's last cap, which always applies."""
    base = (facts[book.surface] * book.karts + kart) * book.caps
    return book.kmh[(base + book.caps - 1) * book.entries + facts[book.entry + kart]]
