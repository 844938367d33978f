"""One session, from the first kart's leaving to the last one's coming home, in one function."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sim.course import Air, Course, Now
from sim.driving import Outlook
from sim.engine import looks, move
from sim.rolling import Rolling
from sim.scene import Doing, Item, Kart, Person
from sim.speeds import both
from sim.study.behind import watch_behind
from sim.study.branches import Facts
from sim.study.crew import Case, Plan, befall, call, walk
from sim.study.desk import Desk, Lamp, Watch, Wires, publish, sweep
from sim.study.rulebook import Rulebook, Scratch
from sim.study.tally import Tally, touches, watch
from sim.traffic import Traffic


class Pace(NamedTuple):
    """How a session is stepped."""

    steps: int
    step_s: float
    every: int
    """Steps between two decisions of a driver."""
    turns: int
    control: int
    """Steps between two beats of the controller."""


class Stage(NamedTuple):
    """Everything of a session that changes."""

    karts: Sequence[Kart]
    items: Sequence[Item]
    people: Sequence[Person]
    """The marshal who walks."""
    air: Air
    facts: Facts
    scratch: Scratch
    desk: Sequence[Desk]
    watches: Sequence[Watch]
    lamps: Sequence[Lamp]
    case: Sequence[Case]
    tally: Sequence[Tally]
    traffic: Traffic
    outlooks: Sequence[Outlook]
    rolling: Rolling
    touched_s: list[float]
    was_m: list[float]


@both
def play(
    course: Course,
    book: Rulebook,
    wires: Wires,
    plan: Plan,
    pace: Pace,
    stage: Stage,
    seed: int,
    wet: bool,  # noqa: FBT001 - a fact
) -> int:
    """Play a session; gives after how many steps it was over."""
    case, tally = stage.case[0], stage.tally[0]
    for step in range(pace.steps):
        now = Now(step, step * pace.step_s, pace.step_s, seed, wet, pace.every, pace.turns)
        if step % pace.control == 0:
            _beat(course, now, book, wires, plan, pace, stage)
            if case.finished and _all_home(stage.karts):
                return step
        move(
            course, now, stage.air, stage.karts, stage.items, stage.people, stage.traffic, stage.outlooks,
            stage.rolling,
        )  # fmt: skip
        then = Now(step + 1, (step + 1) * pace.step_s, pace.step_s, seed, wet, pace.every, pace.turns)
        walk(course, then, plan, book, case, stage.karts, stage.people, stage.air.aspects)
        if looks(now):
            touches(course, now, stage.karts, stage.traffic, stage.touched_s, case, tally)
    return pace.steps


@both
def _beat(
    course: Course, now: Now, book: Rulebook, wires: Wires, plan: Plan, pace: Pace, stage: Stage
) -> None:
    """Take in reports, let people call, send what changed, and count."""
    facts, scratch, desk, case = stage.facts, stage.scratch, stage.desk[0], stage.case[0]
    befall(now, plan, wires, case, stage.karts, course)
    sweep(course, now, book, wires, facts, scratch, desk, stage.watches, stage.karts, stage.air)
    call(now, book, plan, facts, scratch, desk, case, wires)
    publish(now, book, wires, facts, scratch, stage.watches, stage.lamps, stage.air)
    every_s = pace.control * pace.step_s
    watch_behind(course, now, book, plan, case, stage.karts, stage.watches, stage.was_m, stage.tally[0])
    watch(
        course, now, book, wires, plan, case, stage.karts, stage.people, stage.air.aspects, stage.was_m,
        every_s, stage.tally[0],
    )  # fmt: skip


@both
def _all_home(karts: Sequence[Kart]) -> bool:
    for index in range(len(karts)):
        if karts[index].doing != Doing.WAITING and karts[index].doing != Doing.PARKED:
            return False
    return True
