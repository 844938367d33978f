"""The people of a session: who calls, who walks out to a kart that stands, who lets out and who lifts.

A marshal calls what he sees after his delay, walks out once a head before the place shows it, pushes the kart
until it drives on, and walks back. Then, having looked for a while, posts lift what stands, each its own and
any that covers the sector the equipment's; the desk clears, lets out, and shows the chequered flag.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct

from signals.words import Aspect
from sim.chance import Purpose, normal, uniform
from sim.course import Course, Now
from sim.drivers import SPREAD
from sim.scene import Doing, Kart, Person, Trouble, Walk
from sim.speeds import both
from sim.study.branches import Facts
from sim.study.desk import Desk, Wires, track_sector
from sim.study.rulebook import Rulebook, Scratch, called
from sim.walking import along_m, follows, verge_m, walks_home, walks_out

READY_S, PUSH_S = 2.0, 6.0
"""As in `sim.people`: until a marshal walks, and how long he pushes."""
LOOKS = 5
"""Decisions of a driver between two looks of a marshal: half a second."""
NOBODY = -1


class Plan(NamedTuple):
    """What is to happen in a session, and how its people are."""

    begins_s: float
    """When something happens; infinite for a session without."""
    spins: bool
    """Whether a kart spins; else its post calls though it drives on, and nobody sees why."""
    lasts_s: float
    """How long a kart stands that nobody helps."""
    delay_s: float
    """From then until its post calls, the middle of a lognormal distribution."""
    stops: bool
    """Whether red is called; else yellow where it is."""
    checks_s: float
    """How long posts look before they lift."""
    finish_s: float
    posts_m: Sequence[float]
    covers: Sequence[int]
    """By post and sector."""
    desk: int
    """The post that supervises."""
    warns: Sequence[int]
    """By head and sector: it speaks for it to drivers on the lap."""


class Case(Struct):
    """What has happened in a session, and how far its people are."""

    open: bool = False
    kart: int = NOBODY
    at_m: float = 0.0
    sector: int = NOBODY
    post: int = NOBODY
    behind: int = NOBODY
    """The first kart behind the place, when its post called."""
    begun_s: float = math.inf
    calls_s: float = math.inf
    called_s: float = math.inf
    over_s: float = -math.inf
    finished: bool = False


@both
def befall(now: Now, plan: Plan, wires: Wires, case: Case, karts: Sequence[Kart], course: Course) -> None:
    """Let a kart spin and stay there, wherever chance finds it; its post will see it."""
    if case.begun_s < math.inf or now.time_s < plan.begins_s:
        return
    driving = 0
    for index in range(len(karts)):
        driving += _drives(karts[index])
    if driving == 0:
        return
    chosen = int(uniform(now.seed, 0, Purpose.STUDY, 0) * driving)
    for index in range(len(karts)):
        if not _drives(karts[index]):
            continue
        if chosen == 0:
            _spins(now, plan, wires, case, karts[index], index, course)
            return
        chosen -= 1


@both
def _drives(kart: Kart) -> bool:
    on_lap = kart.doing == Doing.LAPPING and not kart.on_pit_lane and not kart.on_grid
    return on_lap and kart.trouble == Trouble.NONE


@both
def _spins(now: Now, plan: Plan, wires: Wires, case: Case, kart: Kart, index: int, course: Course) -> None:
    if plan.spins:
        kart.trouble = Trouble.SPIN
        kart.until_s = now.time_s + plan.lasts_s
    case.open = True
    case.kart = index
    case.at_m = kart.at_m
    case.begun_s = now.time_s
    case.sector = track_sector(wires, kart.at_m)
    case.post = _nearest_post(course, plan, len(plan.posts_m), case.sector, kart.at_m)
    spread = math.exp(SPREAD * normal(now.seed, 0, Purpose.STUDY, 1))
    case.calls_s = now.time_s + plan.delay_s * spread


@both
def _nearest_post(course: Course, plan: Plan, posts: int, sector: int, at_m: float) -> int:
    """Give the nearest post that covers a sector; the supervisor's only where there is no other."""
    best, least_m = plan.desk, math.inf
    sectors = len(plan.covers) // posts
    for post in range(posts):
        if post == plan.desk or not plan.covers[post * sectors + sector]:
            continue
        away_m = abs(along_m(course, plan.posts_m[post], at_m))
        if away_m < least_m:
            best, least_m = post, away_m
    return best


@both
def held(plan: Plan, book: Rulebook, shown: Sequence[Aspect], sector: int) -> bool:
    """Whether a head that speaks for a sector shows yellow or red."""
    for head in range(book.heads):
        if plan.warns[head * book.sectors + sector] and shown[head] in book.holding:
            return True
    return False


@both
def call(
    now: Now, book: Rulebook, plan: Plan, facts: Facts, scratch: Scratch, desk: Desk, case: Case, wires: Wires
) -> None:
    """Call what was seen, let out, lift what is over, clear, and end the session when it is time."""
    if case.open and case.called_s == math.inf and now.time_s >= case.calls_s:
        _call_it(now, book, plan, facts, scratch, case)
    if not case.finished and now.time_s >= plan.finish_s:
        case.finished = called(book, facts, scratch, book.finish, book.finish_guard[plan.desk])
    if case.open or now.time_s < case.over_s + plan.checks_s:
        return
    _lift(book, plan, facts, scratch)
    if not case.finished and desk.gap_s == math.inf:
        _let_out(now, book, plan, facts, scratch, desk, wires)


@both
def _let_out(
    now: Now, book: Rulebook, plan: Plan, facts: Facts, scratch: Scratch, desk: Desk, wires: Wires
) -> None:
    """Let the next kart out that waits."""
    for kart in range(book.karts):
        waits = facts[book.entry + kart] < book.entries - 1 and facts[book.let_out_fact + kart] == 0
        guard = book.let_out_guard[kart * book.posts + plan.desk]
        if waits and called(book, facts, scratch, book.let_out[kart], guard):
            desk.gap_s = now.time_s + wires.gap_s
            return


@both
def _call_it(now: Now, book: Rulebook, plan: Plan, facts: Facts, scratch: Scratch, case: Case) -> None:
    if plan.stops:
        moved = called(book, facts, scratch, book.stop_move[case.post], book.stop_guard[case.post])
    else:
        at = case.post * book.sectors + case.sector
        moved = called(book, facts, scratch, book.caution_move[at], book.caution_guard[at])
    if moved:
        case.called_s = now.time_s


@both
def _lift(book: Rulebook, plan: Plan, facts: Facts, scratch: Scratch) -> None:
    """Lift every hold that may be: its placer, the equipment's any post that covers the place; then clear."""
    for holder in range(book.holders):
        if facts[book.stop + holder] != book.no_stop:
            post = holder if holder < book.posts else plan.desk
            guard = book.lift_stop_guard[holder * book.posts + post]
            called(book, facts, scratch, book.lift_stop[holder], guard)
    for sector in range(book.sectors):
        for holder in range(book.holders):
            at = sector * book.holders + holder
            if facts[book.caution + at] == book.no_caution:
                continue
            for post in range(book.posts):
                mine = post == holder or (holder == book.posts and plan.covers[post * book.sectors + sector])
                guard = book.lift_caution_guard[at * book.posts + post]
                if mine and called(book, facts, scratch, book.lift_caution[at], guard):
                    break
    if facts[book.latch] == book.recovery:
        called(book, facts, scratch, book.clear, book.clear_guard[plan.desk])


@both
def walk(
    course: Course,
    now: Now,
    plan: Plan,
    book: Rulebook,
    case: Case,
    karts: Sequence[Kart],
    people: Sequence[Person],
    shown: Sequence[Aspect],
) -> None:
    """Move the marshal by a step: he goes once heads are held, pushes, and walks back."""
    if not case.open:
        return
    person, kart = people[0], karts[case.kart]
    if person.doing == Walk.GONE:
        if kart.trouble == Trouble.NONE:
            if plan.spins:
                _closes(now, case)
        elif _is_wanted(now, plan, book, case, kart, shown):
            _sets_out(course, now, plan, case, person, kart)
    elif person.doing == Walk.STANDS:
        if now.time_s >= person.until_s:
            person.doing = Walk.OUT
    elif person.doing == Walk.OUT:
        _goes(course, now, person, kart)
    elif person.doing == Walk.PUSHES:
        _pushes(course, now, person, kart)
    elif walks_home(course, person, plan.posts_m[case.post], now.step_s):
        person.doing = Walk.GONE
        _closes(now, case)


@both
def _goes(course: Course, now: Now, person: Person, kart: Kart) -> None:
    """Walk out to a kart, and begin to push it."""
    if kart.trouble != Trouble.SPIN:
        person.doing = Walk.BACK
    elif walks_out(course, person, kart.at_m, kart.left_m, now.step_s) and kart.v_mps == 0.0:
        person.doing = Walk.PUSHES
        person.until_s = now.time_s + PUSH_S
        kart.trouble = Trouble.PUSHED
        kart.until_s = now.time_s + PUSH_S


@both
def _pushes(course: Course, now: Now, person: Person, kart: Kart) -> None:
    if kart.trouble != Trouble.PUSHED or now.time_s >= person.until_s:
        person.doing = Walk.BACK
    else:
        follows(course, person, kart, now.step_s)


@both
def _is_wanted(now: Now, plan: Plan, book: Rulebook, case: Case, kart: Kart, shown: Sequence[Aspect]) -> bool:
    looks = now.steps % (LOOKS * now.every) == 0
    return looks and kart.trouble == Trouble.SPIN and held(plan, book, shown, case.sector)


@both
def _sets_out(course: Course, now: Now, plan: Plan, case: Case, person: Person, kart: Kart) -> None:
    person.side = 1 if kart.left_m >= 0 else -1
    person.at_m = plan.posts_m[case.post]
    person.left_m = verge_m(course, person.at_m, person.side)
    person.doing = Walk.STANDS
    person.until_s = now.time_s + READY_S


@both
def _closes(now: Now, case: Case) -> None:
    """Say that it is over: the kart drives, and nobody walks."""
    case.open = False
    case.over_s = now.time_s
