"""A studied session made ready: the venue's tables, its rules, the state that racing begins with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.core.state import Event, Layout, Member
from signals.errors import Unusable
from signals.venue.model import Venue
from signals.words import PIT, HeadRole
from sim.chance import Purpose, uniform
from sim.course import Air, Course
from sim.drivers import Drawn, driver_of, traits
from sim.driving import Outlook
from sim.ground import Ground
from sim.rolling import ranks
from sim.scene import Item, Kart, Person, Walk, Who, forget, stow
from sim.speeds import both
from sim.study.crew import Case, Plan
from sim.study.desk import KMH, Desk, Lamp, Watch, Wires
from sim.study.rulebook import Rulebook, Scratch, aspect_of, limit_kmh, limits_of, rulebook_of
from sim.study.session import Pace, Stage
from sim.study.tally import Tally
from sim.traffic import room

DECISIONS_A_SECOND = 10
MOST_TURNS = 3
LONG_AGO = -1e9


@dataclass(frozen=True, slots=True)
class People:
    """Who takes part, and how quick and obedient they are."""

    karts: int
    class_: str
    compliance: float
    """The mean chance that a driver heeds a signal he sees."""


class Tables(NamedTuple):
    """What never changes in the sessions of one venue under one plan."""

    course: Course
    book: Rulebook
    wires: Wires
    plan: Plan
    pace: Pace


def pace_of(hertz: int, longest_s: float) -> Pace:
    """Give how a session is stepped so many times a second.

    Raises:
        Unusable: a driver could not decide ten times a second.

    """
    every, rest = divmod(hertz, DECISIONS_A_SECOND)
    if rest or not every:
        raise Unusable(f"{hertz} steps a second: a multiple of {DECISIONS_A_SECOND}")
    turns = next(turns for turns in range(min(MOST_TURNS, every), 0, -1) if every % turns == 0)
    return Pace(round(longest_s * hertz), 1.0 / hertz, every, turns, every)


def racing(core: Core, people: People, *, wet: bool) -> tuple[int, ...]:
    """Give the facts that racing begins with: the core itself is called from closed to green.

    Raises:
        Unusable: it refuses, with its reasons.

    """
    layout, state = core.layout, core.begin("study")
    desk = next(post for post in layout.posts if post in layout.supervisors)
    karts = layout.karts[: people.karts]
    entries = tuple(Member(kart, f"driver {kart}", people.class_) for kart in karts)
    events = [
        Event("opening-set", fields={"verdict": "open"}),
        *([Event("wet", desk, {}, "wet")] if wet else []),
        Event("stage", desk, {"entries": entries}, "stage"),
        *(Event("confirm", desk, {"item": item}, f"confirm-{item}") for item in layout.checklist),
        Event("arm", desk, {}, "arm"),
        Event("start", desk, {}, "start"),
    ]
    for event in events:
        seen = (state.boot, state.serial) if event.id else None
        decision = core.step(state, Event(event.word, event.post, event.fields, event.id, seen), 0)
        if not decision.accepted:
            reasons = " ".join(refusal.sentence for refusal in decision.refusals)
            raise Unusable(f"{event.word} is refused: {reasons}")
        state = decision.state
    return state.facts


def plan_of(
    venue: Venue,
    *,
    begins_s: float,
    lasts_s: float,
    delay_s: float,
    stops: bool,
    checks_s: float,
    finish_s: float,
    spins: bool = True,
) -> Plan:
    """Give what is to happen in the sessions of a venue."""
    sectors = [sector.id for sector in venue.sectors]
    posts = venue.posts
    return Plan(
        begins_s=begins_s,
        spins=spins,
        lasts_s=lasts_s,
        delay_s=delay_s,
        stops=stops,
        checks_s=checks_s,
        finish_s=finish_s,
        posts_m=[post.at_m for post in posts],
        covers=[int(sector in post.covers) for post in posts for sector in sectors],
        desk=next(number for number, post in enumerate(posts) if post.supervisor),
        warns=[
            int(sector in head.protects and head.role in (HeadRole.TRACK, HeadRole.FINISH))
            for head in venue.heads
            for sector in sectors
        ],
    )


def wires_of(
    venue: Venue, *, losses_per_hour: float, loss_s: float, head_s: float, radio_s: float, wet: bool
) -> Wires:
    """Give how quick and reliable the equipment of a venue is."""
    limits, ramp = (venue.limits_wet, venue.ramp_wet) if wet else (venue.limits, venue.ramp)
    laps = sorted((sector.from_m, number) for number, sector in enumerate(venue.sectors) if sector.id != PIT)
    timing = venue.timing
    return Wires(
        head_s=head_s,
        radio_s=radio_s,
        losses_per_s=losses_per_hour / 3600.0,
        loss_s=loss_s,
        lease_s=timing.lease_kart / 1000,
        settle_s=timing.settle / 1000,
        stood_s=timing.stood / 1000,
        gap_s=timing.gap / 1000,
        boost_kmh=float(limits.boost),
        boosts=venue.choices.boosts,
        fall_mps2=float(ramp.fall),
        sector_from_m=[from_m for from_m, _ in laps],
        sector=[number for _, number in laps],
    )


def course_for(ground: Ground, *, wet: bool) -> Course:
    """Give a course whose limiters fall as the surface asks."""
    course = ground.course
    if not wet:
        return course
    venue = ground.venue
    return course._replace(
        fall_mps2=venue.ramp_wet.fall,
        rise_mps2=venue.ramp_wet.rise,
        caution_kmh=venue.limits_wet.caution,
        creep_kmh=venue.limits_wet.creep,
        stop_kmh=venue.limits_wet.stop,
    )


@both
def cast(seed: int, kart: int, compliance: float) -> Drawn:
    """Draw the driver of a kart among people who heed signals so often, in the mean."""
    skill, headway_s, jam_m, comfort_mps2, reaction, _, boosts = traits(seed, kart)
    spread = 1.0 - uniform(seed, kart, Purpose.COMPLIANCE)
    heeds = max(0.0, 1.0 - 2.0 * (1.0 - compliance) * spread)
    return skill, headway_s, jam_m, comfort_mps2, reaction, heeds, boosts


class Prepared:
    """Sessions of one venue under one plan, ready to be played with any seed.

    Args:
        venue: the track, with its choices.
        people: who takes part.
        wet: the surface, and what is declared.
        plan, wires, pace: what happens, how quick equipment is, how it is stepped.

    """

    def __init__(
        self, venue: Venue, people: People, *, wet: bool, plan: Plan, wires: Wires, pace: Pace
    ) -> None:
        self.venue, self.people, self.wet = venue, people, wet
        self.ground = Ground(venue)
        rules = _rules(layout_of(venue, now_ms=0))
        self.facts = rules.racing(people, wet=wet)
        book = rules.book._replace(kmh=list(limits_of(rules.core, layout_of(venue, now_ms=0))))
        self.tables = Tables(course_for(self.ground, wet=wet), book, wires, plan, pace)

    def drivers(self, seed: int, draw: Callable[[int, int, float], Drawn] = cast) -> list[Drawn]:
        """Draw who drives; `draw` is `cast`, or its compiled form."""
        compliance = float(self.people.compliance)
        return [draw(seed, kart.number, compliance) for kart in self.venue.karts]

    def stage(self, seed: int) -> Stage:
        """Set up a session: karts in their places, racing, nobody let out."""
        venue, course, book = self.venue, self.tables.course, self.tables.book
        karts = [
            Kart(
                number=kart.number,
                driver=driver_of(drawn),
                box_m=self.ground.box_m(index),
                at_m=0.0,
                on_pit_lane=True,
            )
            for index, (kart, drawn) in enumerate(zip(venue.karts, self.drivers(seed), strict=True))
        ]
        for index, kart in enumerate(karts):
            stow(course, kart, index)
            forget(kart)
        facts = list(self.facts)
        aspects = [aspect_of(book, facts, head) for head in range(book.heads)]
        limits = [limit_kmh(book, facts, kart) for kart in range(book.karts)]
        count = len(karts)
        fall, rise = course.fall_mps2, course.rise_mps2
        boost = self.tables.wires.boost_kmh / KMH
        return Stage(
            karts=karts,
            items=[Item(what="", at_m=0.0, until_s=-1.0)],
            people=[Person(who=Who.MARSHAL, at_m=0.0, left_m=0.0, doing=Walk.GONE)],
            air=Air([kmh / KMH for kmh in limits], [0.0] * count, [fall] * count, [rise] * count, [0] * count,
                    [boost] * count, [book.aspects[aspect] for aspect in aspects], [0] * book.heads),
            facts=facts,
            scratch=Scratch([0] * len(facts), [0] * (book.heads + book.karts) + [1] * book.karts, [0]),
            desk=[Desk()],
            watches=[Watch(due_kmh=limit, allowed_kmh=limit, from_kmh=limit) for limit in limits],
            lamps=[Lamp(due=aspect) for aspect in aspects],
            case=[Case()],
            tally=[Tally()],
            traffic=room(count, 4),
            outlooks=[Outlook()],
            rolling=ranks(count),
            touched_s=[LONG_AGO] * (count * count),
            was_m=[0.0] * count,
        )  # fmt: skip


class Rules:
    """The rules of venues that differ in numbers alone: one core, one book, and the facts of each group."""

    def __init__(self, layout: Layout) -> None:
        self.core = Core(layout)
        self.book = rulebook_of(self.core)
        self._racing: dict[tuple[People, bool], tuple[int, ...]] = {}

    def racing(self, people: People, *, wet: bool) -> tuple[int, ...]:
        """Give the facts that racing begins with."""
        key = people, wet
        if key not in self._racing:
            self._racing[key] = racing(self.core, people, wet=wet)
        return self._racing[key]


_RULES: dict[str, Rules] = {}


def _rules(layout: Layout) -> Rules:
    """Give a layout's rules: no expression of the table reads a number, but whether a stop limit is 0."""
    stands = all(limits["stop"] == 0 for limits in layout.limits_kmh.values())
    named = {surface: sorted(limits) for surface, limits in layout.limits_kmh.items()}
    key = repr((replace(layout, limits_kmh={}), named, stands))
    if key not in _RULES:
        _RULES[key] = Rules(layout)
    return _RULES[key]
