"""The referee: what is amiss is found, and not without its rule; what is right is not told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pytest
from msgspec.structs import replace

from signals.mqtt import contract as c
from signals.words import PIT, Because, Condition, HoldKind, Phase
from sim.referee import Referee
from sim.rules import RULES, WATCHES, Finding
from sim.scene import Doing, Person, Trouble
from tests.sim.drive import Drive
from tests.sim.roll import Roll

if TYPE_CHECKING:
    from signals.venue.model import Venue


@dataclass
class Match:
    """A world, what the controller says of it, and who looks at it."""

    venue: Venue
    without: str = ""
    found: list[Finding] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.roll = Roll(self.venue)
        self.sectors = {sector.id: Condition.CLEAR for sector in self.venue.sectors}
        self.holds: list[c.HoldView] = []
        self.phase = Phase.RACING
        self.views: dict[str, c.KartView] = {
            str(kart.number): c.KartView(
                place=PIT, call="none", slowed="none", limit_kmh=45, because=Because.CLASS, link=True,
                let_out=False, button=False,
            )
            for kart in self.venue.karts
        }  # fmt: skip
        self.referee = Referee(
            self.roll.ground,
            rules=[rule for rule in RULES if rule.name != self.without],
            watches=[watch for watch in WATCHES if watch.name != self.without],
        )
        self.tell()

    def tell(self, **more: Condition) -> None:
        self.sectors |= more
        state = c.State(
            boot="k3v9x2", seq=1, epoch=0, at=1, phase=self.phase, condition=Condition.CLEAR, surface="dry",
            monitor="ok", journal="ok", ready=True, sectors=dict(self.sectors), holds=list(self.holds),
            karts=dict(self.views), heads={}, faults=[],
        )  # fmt: skip
        self.found += self.referee.hear(state, self.roll.scene)

    def view(self, number: int, **more: object) -> None:
        self.views[str(number)] = replace(self.views[str(number)], **more)
        self.tell()

    def person(self, at_m: float, left_m: float = 0.0, **more: object) -> None:
        self.roll.stand(Person(who="marshal", at_m=at_m, left_m=left_m, doing="sweeps", post="p1", **more))  # type: ignore[arg-type]

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 60)):
            people = self.roll.scene.people
            self.roll.step()
            self.roll.scene = replace(self.roll.scene, people=people)
            self.found += self.referee.observe(self.roll.scene)


def hold(sector: str, kind: HoldKind) -> c.HoldView:
    return c.HoldView(
        what="caution", where=sector, kind=kind, post="p1", reason="", since=1, id="x1", partner=None
    )


def passes(match: Match, sector: Condition) -> None:
    """Kart 1 passes kart 2 in 3 Hairpin, at a legal speed."""
    match.tell(s3=sector)
    match.run(3)
    match.roll.put(2, 140.0, 1.5, left_m=-1.5)
    match.roll.put(1, 135.0, 3.5, left_m=1.5)
    match.run(4)


def overtaking(match: Match) -> None:
    passes(match, Condition.CAUTION)


def contact(match: Match) -> None:
    match.roll.put(2, 60.0, 2.0)
    match.roll.put(1, 55.0, 5.0)
    match.run(3)


def wrong_way(match: Match) -> None:
    match.roll.put(1, 60.0, -2.0)
    match.run(4)


def white_line(match: Match) -> None:
    match.roll.put(1, 60.0, 5.0, left_m=6.0)
    match.run(1)


def pit_speed(match: Match) -> None:
    match.roll.change(1, on_pit_lane=True, at_m=5.0, v_mps=4.0, doing=Doing.COMING_IN)
    match.run(1)


def not_slowed(match: Match) -> None:
    match.tell(s3=Condition.CAUTION)
    match.run(8)
    match.roll.put(1, 130.0, 8.0)
    match.run(2)


def no_way_given(match: Match) -> None:
    match.roll.put(1, 60.0, 5.0)
    match.roll.put(2, 54.0, 5.0)
    match.view(1, call="move-over")
    match.run(9)


def person_at_risk(match: Match) -> None:
    match.person(80.0, left_m=1.0)
    match.roll.put(1, 70.0, 4.0)
    match.run(4)


def lifted_with_person(match: Match) -> None:
    match.tell(s3=Condition.CAUTION)
    match.person(150.0)
    match.run(1)
    match.tell(s3=Condition.CLEAR)


def person_hold_lifted(match: Match) -> None:
    match.holds = [hold("s3", HoldKind.PERSON_ON_TRACK), hold("s3", HoldKind.INCIDENT)]
    match.tell(s3=Condition.CAUTION)
    match.person(150.0)
    match.holds = match.holds[1:]
    match.tell()


def started_with_person(match: Match) -> None:
    match.phase = Phase.ARMED
    match.tell()
    match.person(150.0)
    match.phase = Phase.RACING
    match.tell()


def let_out_with_person(match: Match) -> None:
    match.person(20.0, in_pit=True)
    match.view(3, let_out=True)


AMISS: list[tuple[str, Callable[[Match], None], tuple[int, ...], str]] = [
    ("overtaking", overtaking, (1, 2), "s3"),
    ("contact", contact, (1, 2), "s2"),
    ("wrong-way", wrong_way, (1,), "s2"),
    ("white-line", white_line, (1,), "s2"),
    ("pit-speed", pit_speed, (1,), PIT),
    ("not-slowed", not_slowed, (1,), "s3"),
    ("no-way-given", no_way_given, (1, 2), "s2"),
    ("person-at-risk", person_at_risk, (1,), "s2"),
    ("lifted-with-person", lifted_with_person, (), "s3"),
    ("lifted-with-person", person_hold_lifted, (), "s3"),
    ("started-with-person", started_with_person, (), "s3"),
    ("let-out-with-person", let_out_with_person, (3,), PIT),
]


def named(case: tuple[str, Callable[[Match], None], tuple[int, ...], str]) -> str:
    return case[1].__name__


def test_every_rule_has_its_story() -> None:
    assert {rule for rule, *_ in AMISS} == {rule.name for rule in (*RULES, *WATCHES)}


@pytest.mark.parametrize("case", AMISS, ids=named)
def test_what_is_amiss_is_found_once_with_karts_and_place(
    venue: Venue, case: tuple[str, Callable[[Match], None], tuple[int, ...], str]
) -> None:
    rule, story, karts, where = case
    match = Match(venue)
    story(match)
    of_rule = [finding for finding in match.found if finding.rule == rule]
    assert [(finding.karts, finding.where) for finding in of_rule] == [(karts, where)]
    assert all(str(kart) in of_rule[0].said for kart in karts)


@pytest.mark.parametrize("case", AMISS, ids=named)
def test_without_its_rule_it_is_not_found(
    venue: Venue, case: tuple[str, Callable[[Match], None], tuple[int, ...], str]
) -> None:
    rule, story, *_ = case
    match = Match(venue, without=rule)
    story(match)
    assert rule not in {finding.rule for finding in match.found}


# --- what is right is not told


def passes_under_green(match: Match) -> None:
    passes(match, Condition.CLEAR)


def passes_what_stands(match: Match) -> None:
    match.tell(s3=Condition.CAUTION)
    match.run(3)
    match.roll.put(2, 140.0, 0.0, left_m=-2.4, trouble=Trouble.STALL)
    match.roll.put(1, 135.0, 3.5, left_m=1.5)
    match.run(3)


def passes_as_the_yellow_comes(match: Match) -> None:
    match.roll.put(2, 140.0, 1.5, left_m=-1.5)
    match.roll.put(1, 138.0, 3.5, left_m=1.5)
    match.tell(s3=Condition.CAUTION)
    match.run(1.5)


def drives_close_and_straight(match: Match) -> None:
    match.roll.put(1, 60.0, 11.0)
    match.roll.put(2, 57.0, 11.0)
    match.roll.put(3, 57.0, 11.0, left_m=1.9)
    match.run(20)


def backs_off_a_little(match: Match) -> None:
    match.roll.put(1, 60.0, -1.0)
    match.run(3)
    match.roll.put(1, 57.0, 2.0)
    match.run(1)


def drives_over_the_kerb(match: Match) -> None:
    match.roll.put(1, 60.0, 11.0, left_m=3.9)
    match.run(3)


def rolls_out_beside_the_road(match: Match) -> None:
    match.roll.put(1, 60.0, 0.0, left_m=6.0, trouble=Trouble.STALL)
    match.run(3)


def comes_in_at_the_limit(match: Match) -> None:
    match.roll.change(1, on_pit_lane=True, at_m=5.0, v_mps=8.5 / 3.6, doing=Doing.COMING_IN)
    match.run(3)


def slows_in_time(match: Match) -> None:
    match.roll.put(1, 125.0, 10.0)
    match.tell(s3=Condition.CAUTION)
    for v_mps in (10.0, 9.0, 7.0, 5.0, 4.0, 4.0, 4.0):
        match.roll.change(1, v_mps=v_mps)
        match.run(1)


def moves_over(match: Match) -> None:
    match.roll.put(1, 60.0, 5.0, left_m=-2.0)
    match.roll.put(2, 54.0, 7.0, left_m=1.5)
    match.view(1, call="move-over")
    match.run(9)


def passes_a_person_at_creep(match: Match) -> None:
    match.person(80.0, left_m=1.0)
    match.roll.put(1, 70.0, 1.3)
    match.run(12)


def is_beside_the_road(match: Match) -> None:
    match.person(80.0, left_m=5.5)
    match.roll.put(1, 70.0, 10.0, left_m=3.0)
    match.tell(s2=Condition.CAUTION)
    match.run(2)
    match.tell(s2=Condition.CLEAR)


def lifts_elsewhere(match: Match) -> None:
    match.tell(s3=Condition.CAUTION, s5=Condition.CAUTION)
    match.person(150.0)
    match.tell(s5=Condition.CLEAR)


def turns_yellow_to_red(match: Match) -> None:
    match.tell(s3=Condition.CAUTION)
    match.person(150.0)
    match.tell(**dict.fromkeys(("s1", "s2", "s3", "s4", "s5", "s6"), Condition.STOP))


def starts_on_an_empty_track(match: Match) -> None:
    match.phase = Phase.ARMED
    match.tell()
    match.person(150.0, left_m=6.0)
    match.phase = Phase.RACING
    match.tell()
    match.view(3, let_out=True)


RIGHT = [
    passes_under_green, passes_what_stands, passes_as_the_yellow_comes, drives_close_and_straight,
    backs_off_a_little, drives_over_the_kerb, rolls_out_beside_the_road, comes_in_at_the_limit,
    slows_in_time, moves_over, passes_a_person_at_creep, is_beside_the_road, lifts_elsewhere,
    turns_yellow_to_red, starts_on_an_empty_track,
]  # fmt: skip


@pytest.mark.parametrize("story", RIGHT)
def test_what_is_right_is_not_told(venue: Venue, story: Callable[[Match], None]) -> None:
    match = Match(venue)
    story(match)
    assert match.found == []


def test_it_never_changes_the_world(venue: Venue) -> None:
    def digests(*, looked_at: bool) -> Iterator[str]:
        match = Match(venue)
        contact(match) if looked_at else (match.roll.put(2, 60.0, 2.0), match.roll.put(1, 55.0, 5.0))
        for _ in range(0 if looked_at else 180):
            match.roll.step()
        yield match.roll.scene.digest()

    assert next(digests(looked_at=True)) == next(digests(looked_at=False))


@pytest.mark.gate
def test_a_session_without_incidents_gives_nothing_to_tell_but_contacts(venue: Venue) -> None:
    drive = Drive(venue, seed=4, pit_kmh=venue.limits.pit)
    referee, found = Referee(drive.ground), []
    for step in range(60 * 150):
        if step % 300 == 0 and len(drive.limits) < 8:
            drive.limits[len(drive.limits) + 1] = max(venue.limits.classes.values())
        scene = drive.step()
        if step % 2 == 0:
            found += referee.observe(scene)
    assert max(kart.laps for kart in drive.scene.karts) >= 2
    assert {finding.rule for finding in found} <= {"contact"}
