"""What the referee looks for, a rule at a time. A rule remembers what it needs and says what it saw.

Rules look at the world as it is (`Moment`), and at what the controller says (`Told`), as an observer
in the tower does. They decide nothing, and nothing that drives listens to them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations
from typing import ClassVar, Protocol

from signals import say
from signals.mqtt.contract import State
from signals.words import PIT, Condition, HoldKind, Phase
from sim import people
from sim.ground import Ground
from sim.scene import ASIDE, Kart, Person, Scene, Trouble

HELD = (Condition.STOP, Condition.CAUTION)
KMH = 3.6


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that was seen: the rule, the karts, where, and a sentence."""

    rule: str
    karts: tuple[int, ...]
    where: str
    at_m: float | None
    said: str


@dataclass(slots=True)
class Told:
    """What the controller says: its last two pictures, and since when (s) each sector is as it is."""

    before: State | None = None
    state: State | None = None
    since_s: dict[str, float] = field(default_factory=dict)

    def hear(self, state: State, now_s: float) -> None:
        """Take a picture."""
        self.before, self.state = self.state, state
        for sector, condition in state.sectors.items():
            if self.before is None or self.before.sectors.get(sector) is not condition:
                self.since_s[sector] = now_s

    def condition(self, sector: str) -> Condition:
        """Give what a sector asks of drivers."""
        return self.state.sectors.get(sector, Condition.CLEAR) if self.state else Condition.CLEAR

    def held_s(self, sector: str, now_s: float) -> float:
        """Give for how long a sector has been as it is, seconds."""
        return now_s - self.since_s.get(sector, now_s)


@dataclass(frozen=True, slots=True)
class Moment:
    """All a rule looks at: the scene, what touches in it, and what was told."""

    ground: Ground
    scene: Scene
    contacts: frozenset[tuple[int, int]]
    told: Told

    @property
    def now_s(self) -> float:
        """The scene's time, s."""
        return self.scene.time_s

    def driving(self) -> list[Kart]:
        """Give the karts on the lap."""
        return [kart for kart in self.scene.karts if not (kart.on_pit_lane or kart.on_grid)]

    def sector(self, at_m: float) -> str:
        """Give the sector of a place on the lap."""
        return self.ground.track.sector_at(at_m)

    def name(self, sector: str) -> str:
        """Name a sector in a sentence."""
        return "the pit lane" if sector == PIT else say.sector_name(self.ground.venue, sector)

    def along_m(self, from_m: float, to_m: float) -> float:
        """Give the shorter way from one place to another along the lap: positive forward."""
        length_m = self.ground.track.length_m
        return (to_m - from_m + length_m / 2) % length_m - length_m / 2

    def at(self, rule: str, karts: tuple[int, ...], at_m: float, said: str) -> Finding:
        """Make a finding at a place of the lap."""
        return Finding(rule, karts, self.sector(at_m), round(at_m, 1), said)


class Rule(Protocol):
    """One thing the referee looks for."""

    name: ClassVar[str]

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look at a moment; gives what is new."""


class Watch(Protocol):
    """One thing the referee looks for when the controller's picture changes."""

    name: ClassVar[str]

    def hear(self, now: Moment) -> Iterator[Finding]:
        """Look at what the last picture changed."""


@dataclass(slots=True)
class Overtaking:
    """No passing where yellow or red stands; what stands in trouble may be passed."""

    name: ClassVar[str] = "overtaking"
    NEAR_M: ClassVar[float] = 15.0
    CLEAR_M: ClassVar[float] = 0.5
    KNOWN_S: ClassVar[float] = 2.0
    """How long a signal must have stood before a passing counts."""
    MOVES_MPS: ClassVar[float] = 1.0
    _ahead: dict[tuple[int, int], bool] = field(default_factory=dict)
    """Of each pair that is near, whether the second is ahead."""

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look for pairs that changed their order."""
        near: dict[tuple[int, int], bool] = {}
        for one, other in combinations(now.driving(), 2):
            pair, way_m = (one.number, other.number), now.along_m(one.at_m, other.at_m)
            if abs(way_m) > self.NEAR_M:
                continue
            before = self._ahead.get(pair)
            near[pair] = before if before is not None and abs(way_m) < self.CLEAR_M else way_m > 0
            if before is not None and near[pair] is not before:
                yield from self._passed(now, *((one, other) if before else (other, one)))
        self._ahead = near

    def _passed(self, now: Moment, passing: Kart, passed: Kart) -> Iterator[Finding]:
        sector = now.sector(passing.at_m)
        condition = now.told.condition(sector)
        known = now.told.held_s(sector, now.now_s) >= self.KNOWN_S
        moves = passed.v_mps > self.MOVES_MPS and passed.trouble not in ASIDE
        if condition in HELD and known and moves and passing.trouble not in ASIDE:
            word = "red" if condition is Condition.STOP else "yellow"
            said = f"Kart {passing.number} passed kart {passed.number} under {word} in {now.name(sector)}"
            yield now.at(self.name, (passing.number, passed.number), passing.at_m, said)


@dataclass(slots=True)
class Contact:
    """Karts touch; told once until they have been apart."""

    name: ClassVar[str] = "contact"
    APART_S: ClassVar[float] = 2.0
    _last_s: dict[tuple[int, int], float] = field(default_factory=dict)

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look for pairs that touch anew."""
        karts = {kart.number: kart for kart in now.driving()}
        for pair in sorted(now.contacts):
            one, other = (karts.get(number) for number in pair)
            if one is None or other is None:
                continue
            known = now.now_s - self._last_s.get(pair, -math.inf) < self.APART_S
            self._last_s[pair] = now.now_s
            if not known:
                where = now.name(now.sector(one.at_m))
                yield now.at(self.name, pair, one.at_m, f"Karts {pair[0]} and {pair[1]} touched in {where}")


@dataclass(slots=True)
class Metres:
    """Metres or seconds that something went on for each kart; told once when there are enough."""

    enough: float
    _so_far: dict[int, float] = field(default_factory=dict)

    def more(self, kart: int, by: float) -> bool:
        """Count on; whether it has just become enough."""
        before = self._so_far.get(kart, 0.0)
        self._so_far[kart] = before + by
        return before < self.enough <= before + by

    def over(self, kart: int) -> None:
        """Begin anew."""
        self._so_far.pop(kart, None)


@dataclass(slots=True)
class WrongWay:
    """A kart drives against the driving direction; backing off a few metres is none."""

    name: ClassVar[str] = "wrong-way"
    _back: Metres = field(default_factory=lambda: Metres(5.0))
    _last_s: float = -1.0

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look for karts that moved backwards."""
        step_s, self._last_s = max(0.0, now.now_s - self._last_s), now.now_s
        for kart in now.driving():
            v_mps = kart.v_mps * math.cos(kart.course_rad)
            if v_mps > 0:
                self._back.over(kart.number)
            elif self._back.more(kart.number, -v_mps * step_s):
                where = now.name(now.sector(kart.at_m))
                said = f"Kart {kart.number} drives the wrong way in {where}"
                yield now.at(self.name, (kart.number,), kart.at_m, said)


@dataclass(slots=True)
class WhiteLine:
    """A kart is beyond the white lines with all its wheels; one that rolls out or is pushed may be."""

    name: ClassVar[str] = "white-line"
    _out: Metres = field(default_factory=lambda: Metres(0.2))
    _last_s: float = -1.0

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look for karts off the road."""
        step_s, self._last_s = max(0.0, now.now_s - self._last_s), now.now_s
        half_m = now.ground.model.width_m / 2
        for kart in now.driving():
            right_m, left_m = now.ground.track.edges_m(kart.at_m)
            inside = -right_m - half_m <= kart.left_m <= left_m + half_m
            if inside or kart.trouble in ASIDE:
                self._out.over(kart.number)
            elif self._out.more(kart.number, step_s):
                where = now.name(now.sector(kart.at_m))
                said = f"Kart {kart.number} left the white lines in {where}"
                yield now.at(self.name, (kart.number,), kart.at_m, said)


@dataclass(slots=True)
class PitSpeed:
    """A kart is faster in the pit lane than its limit."""

    name: ClassVar[str] = "pit-speed"
    SPARE_KMH: ClassVar[float] = 2.0
    _told: set[int] = field(default_factory=set)

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look at the pit lane."""
        most_kmh = now.ground.venue.limits.pit + self.SPARE_KMH
        for kart in now.scene.karts:
            kmh = abs(kart.v_mps) * KMH
            if not kart.on_pit_lane:
                self._told.discard(kart.number)
            elif kmh > most_kmh and kart.number not in self._told:
                self._told.add(kart.number)
                said = f"Kart {kart.number} was too fast in the pit lane: {kmh:.0f} km/h"
                yield Finding(self.name, (kart.number,), PIT, None, said)


@dataclass(slots=True)
class NotSlowed:
    """A kart is faster than yellow or red allows, after the time that slowing down takes."""

    name: ClassVar[str] = "not-slowed"
    SPARE_KMH: ClassVar[float] = 3.0
    SPARE_S: ClassVar[float] = 1.5
    _told: set[int] = field(default_factory=set)

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look where a hold stands."""
        venue = now.ground.venue
        fall = (venue.ramp_wet if now.scene.wet else venue.ramp).fall
        fastest = max(venue.limits.classes.values())
        for kart in now.driving():
            sector, kmh = now.sector(kart.at_m), kart.v_mps * KMH
            condition = now.told.condition(sector)
            least = {Condition.STOP: venue.limits.stop, Condition.CAUTION: venue.limits.caution}
            allowed = least.get(condition)
            if allowed is None or kmh <= allowed + self.SPARE_KMH:
                self._told.discard(kart.number)
                continue
            takes_s = venue.timing.reaction / 1000 + (fastest - allowed) / KMH / fall + self.SPARE_S
            pushed = kart.trouble is Trouble.PUSHED
            if now.told.held_s(sector, now.now_s) > takes_s and kart.number not in self._told and not pushed:
                self._told.add(kart.number)
                word = "red" if condition is Condition.STOP else "yellow"
                said = f"Kart {kart.number} did not slow for {word} in {now.name(sector)}: {kmh:.0f} km/h"
                yield now.at(self.name, (kart.number,), kart.at_m, said)


@dataclass(slots=True)
class NoWayGiven:
    """A kart that was called to move over keeps a follower behind it."""

    name: ClassVar[str] = "no-way-given"
    NEAR_M: ClassVar[float] = 8.0
    _held_up: Metres = field(default_factory=lambda: Metres(8.0))
    _last_s: float = -1.0

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look behind karts that were called to move over."""
        step_s, self._last_s = max(0.0, now.now_s - self._last_s), now.now_s
        called = now.told.state.karts if now.told.state else {}
        for kart in now.driving():
            view = called.get(str(kart.number))
            if view is None or view.call != "move-over":
                self._held_up.over(kart.number)
                continue
            behind = self._follower(now, kart)
            if behind is not None and self._held_up.more(kart.number, step_s):
                said = f"Kart {kart.number} did not let kart {behind.number} pass"
                yield now.at(self.name, (kart.number, behind.number), kart.at_m, said)

    def _follower(self, now: Moment, kart: Kart) -> Kart | None:
        near = (
            (now.along_m(other.at_m, kart.at_m), other)
            for other in now.driving()
            if other.number != kart.number and other.trouble not in ASIDE
        )
        return min((each for each in near if 0 < each[0] < self.NEAR_M), default=(0.0, None), key=_first)[1]


def _first(pair: tuple[float, Kart]) -> float:
    return pair[0]


@dataclass(slots=True)
class PersonAtRisk:
    """A kart comes close to somebody on foot, faster than creeping."""

    name: ClassVar[str] = "person-at-risk"
    NEAR_M: ClassVar[float] = 2.0
    SPARE_KMH: ClassVar[float] = 3.0
    AGAIN_S: ClassVar[float] = 5.0
    _last_s: dict[tuple[int, str], float] = field(default_factory=dict)

    def see(self, now: Moment) -> Iterator[Finding]:
        """Look around everybody on the road."""
        most_kmh = now.ground.venue.limits.creep + self.SPARE_KMH
        for person in now.scene.people:
            if not people.on_road(now.ground, person):
                continue
            for kart in now.scene.karts:
                if kart.on_pit_lane is not person.in_pit or kart.number == person.kart:
                    continue
                away_m = kart.at_m - person.at_m if person.in_pit else now.along_m(kart.at_m, person.at_m)
                kmh = abs(kart.v_mps) * KMH
                if math.hypot(away_m, kart.left_m - person.left_m) < self.NEAR_M and kmh > most_kmh:
                    yield from self._told(now, person, kart, kmh)

    def _told(self, now: Moment, person: Person, kart: Kart, kmh: float) -> Iterator[Finding]:
        key = (kart.number, f"{person.who}{person.post}{person.kart}")
        known = now.now_s - self._last_s.get(key, -math.inf) < self.AGAIN_S
        self._last_s[key] = now.now_s
        if not known:
            sector = people.sector(now.ground, person)
            said = f"Kart {kart.number} passed close to a {person.who} in {now.name(sector)}: {kmh:.0f} km/h"
            yield Finding(self.name, (kart.number,), sector, round(person.at_m, 1), said)


# --- what a changed picture tells


def _exposed(now: Moment) -> list[tuple[Person, str]]:
    """Give everybody who is on the road, with the sector."""
    everybody = ((person, people.sector(now.ground, person)) for person in now.scene.people)
    return [(person, sector) for person, sector in everybody if people.on_road(now.ground, person)]


@dataclass(slots=True)
class LiftedWithPerson:
    """A hold is lifted where somebody is still on the track."""

    name: ClassVar[str] = "lifted-with-person"

    def hear(self, now: Moment) -> Iterator[Finding]:
        """Look whom the last picture left without protection."""
        before, state = now.told.before, now.told.state
        if before is None or state is None:
            return
        order = list(Condition)
        for person, sector in _exposed(now):
            was, now_is = before.sectors.get(sector), state.sectors.get(sector)
            if was is None or now_is is None:
                continue
            eased = was in HELD and order.index(now_is) > order.index(was)
            if eased or self._freed(before, state, sector):
                word = "Red" if was is Condition.STOP else "Yellow"
                said = f"{word} was lifted with a {person.who} on the track in {now.name(sector)}"
                yield Finding(self.name, (), sector, round(person.at_m, 1), said)

    def _freed(self, before: State, state: State, sector: str) -> bool:
        """Whether the hold that makes karts creep for a person is gone."""
        kept = [
            hold for hold in state.holds if hold.kind is HoldKind.PERSON_ON_TRACK and hold.where == sector
        ]
        had = [
            hold for hold in before.holds if hold.kind is HoldKind.PERSON_ON_TRACK and hold.where == sector
        ]
        return bool(had) and not kept


@dataclass(slots=True)
class StartedWithPerson:
    """A session is started with somebody on the track or in the pit lane."""

    name: ClassVar[str] = "started-with-person"

    def hear(self, now: Moment) -> Iterator[Finding]:
        """Look around at a start."""
        before, state = now.told.before, now.told.state
        if before is None or state is None or before.phase is not Phase.ARMED:
            return
        if state.phase is Phase.RACING:
            for person, sector in _exposed(now):
                said = f"The session was started with a {person.who} in {now.name(sector)}"
                yield Finding(self.name, (), sector, round(person.at_m, 1), said)


@dataclass(slots=True)
class LetOutWithPerson:
    """A kart is let out with somebody in the pit lane."""

    name: ClassVar[str] = "let-out-with-person"

    def hear(self, now: Moment) -> Iterator[Finding]:
        """Look into the pit lane when a kart is let out."""
        before, state = now.told.before, now.told.state
        inside = [person for person, sector in _exposed(now) if sector == PIT]
        if before is None or state is None or not inside:
            return
        for number, kart in state.karts.items():
            if kart.let_out and number in before.karts and not before.karts[number].let_out:
                said = f"Kart {number} was let out with a {inside[0].who} in the pit lane"
                yield Finding(self.name, (int(number),), PIT, None, said)


RULES: tuple[type[Rule], ...] = (
    Overtaking,
    Contact,
    WrongWay,
    WhiteLine,
    PitSpeed,
    NotSlowed,
    NoWayGiven,
    PersonAtRisk,
)
WATCHES: tuple[type[Watch], ...] = (LiftedWithPerson, StartedWithPerson, LetOutWithPerson)
