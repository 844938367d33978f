"""What a marshal has seen, and remembers of it: signs, people on foot, places that look empty."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from signals.mqtt.contract import HoldView, WorldKart, WorldPerson
from signals.words import PIT
from sim.drill.lookout import spot_of
from sim.drill.seat import Eyes

NOTICES_S, DECIDES_S = 0.7, 0.5
"""From visible to touched, and on to called; typical of somebody who expects something, no source."""
FORGOTTEN_S = 2.5
"""What was out of sight for longer is a new sight."""
STANDS_KMH = 1.0
DRIVES_ON = frozenset({"slow-kart", "ignored-signal"})
"""What is amiss with a kart that is in nobody's way."""

Key = tuple[str, str]
"""What it is, and of whom or where."""


@dataclass(slots=True)
class Sight:
    """Something seen: since when, where it is, and when it was last seen."""

    event: str
    kart: int | None
    where: str
    since_s: float
    last_s: float
    marked: bool = False
    answered: bool = False


@dataclass(slots=True)
class Memory:
    """What is remembered; `look` takes in what is seen now."""

    skips: frozenset[str] = frozenset()
    sights: dict[Key, Sight] = field(default_factory=dict)
    people: dict[Key, float] = field(default_factory=dict)
    """Since when somebody on foot is seen."""
    clean_s: dict[str, float] = field(default_factory=dict)
    """Since when each sector looks empty."""
    since_s: dict[str, float] = field(default_factory=dict)
    """Since when other things have been so."""
    _tried_s: dict[str, float] = field(default_factory=dict)

    def look(self, eyes: Eyes) -> None:
        """Take in what is seen now."""
        for event, kart, where in (*signs(eyes), *pressed(eyes)):
            if event not in self.skips and ours(eyes, where):
                self._sees(event, kart, where, eyes.now_s)
        walking = {(f"{each.who}", str(each.kart or where)) for each, where in on_foot(eyes)}
        self.people = {key: self.people.get(key, eyes.now_s) for key in walking}
        busy = {sight.where for sight in self.there(eyes) if sight.event not in DRIVES_ON}
        busy |= {where for _, where in on_foot(eyes)}
        for sector in eyes.venue.sectors:
            if sector.id in busy:
                self.clean_s.pop(sector.id, None)
            else:
                self.clean_s.setdefault(sector.id, eyes.now_s)

    def _sees(self, event: str, kart: int | None, where: str, now_s: float) -> None:
        key = (event, where if kart is None else str(kart))
        sight = self.sights.get(key)
        if sight is None or now_s - sight.last_s > FORGOTTEN_S:
            self.sights[key] = Sight(event, kart, where, now_s, now_s)
        else:
            sight.last_s, sight.where = now_s, where

    def there(self, eyes: Eyes) -> list[Sight]:
        """Give what is seen now."""
        return [sight for sight in self.sights.values() if sight.last_s >= eyes.now_s]

    def clean_for(self, where: str, now_s: float) -> float:
        """Give for how long a sector has looked empty, seconds; negative where it does not."""
        return now_s - self.clean_s[where] if where in self.clean_s else -1.0

    def lasting_s(self, what: str, now_s: float, *, holds: bool) -> float:
        """Give for how long something has been so, seconds; 0 where it is not."""
        if not holds:
            self.since_s.pop(what, None)
            return 0.0
        return now_s - self.since_s.setdefault(what, now_s)

    def heard(self, eyes: Eyes, about: str, where: str | None) -> bool:
        """Whether something was said on the radio long enough ago to have been understood."""
        said = any(cue.about == about and (where is None or cue.where in (None, where)) for cue in eyes.radio)
        return self.lasting_s(f"heard-{about}-{where}", eyes.now_s, holds=said) >= NOTICES_S + DECIDES_S

    def may_try(self, what: str, now_s: float, again_s: float) -> bool:
        """Whether something was not tried within `again_s`; notes that it is tried now."""
        if now_s - self._tried_s.get(what, -1e9) < again_s:
            return False
        self._tried_s[what] = now_s
        return True


def signs(eyes: Eyes) -> Iterator[tuple[str, int | None, str]]:
    """Give what is amiss in sight: event, kart, sector."""
    karts = {kart.number: kart for kart in eyes.view.karts}
    for sign in eyes.view.incidents:
        number = sign.get("kart")
        if number in karts:
            yield str(sign["event"]), int(number), place_of(eyes, karts[number])
        elif number is None:
            away = eyes.track.lap.xy - (float(sign["x_m"]), float(sign["y_m"]))
            at_m = float((away * away).sum(axis=1).argmin() / eyes.track.lap.per_m)
            yield str(sign["event"]), None, eyes.track.sector_at(at_m)


def pressed(eyes: Eyes) -> Iterator[tuple[str, int | None, str]]:
    """Give the karts whose button is latched, as the desk shows it."""
    for number, view in (eyes.state.karts if eyes.state else {}).items():
        if view.button and view.place not in (PIT, "aside", "unknown"):
            yield "kart-button", int(number), view.place


def on_foot(eyes: Eyes) -> Iterator[tuple[WorldPerson, str]]:
    """Give everybody on foot who is on the road or on the way to it, with the sector it is about.

    Somebody who went out to a kart is about that kart's sector, until he is off the road again.
    """
    karts = {kart.number: kart for kart in eyes.view.karts}
    for person in eyes.view.people:
        where = PIT if person.who == "visitor" else eyes.track.sector_at(person.at_m)
        there = karts.get(person.kart or 0)
        if person.on_road:
            yield person, where
        elif person.who == "marshal" and there is not None and not there.in_pit and _waits(eyes, there):
            yield person, place_of(eyes, there)


def _waits(eyes: Eyes, kart: WorldKart) -> bool:
    return any(
        sign.get("kart") == kart.number and sign["event"] not in DRIVES_ON for sign in eyes.view.incidents
    )


def place_of(eyes: Eyes, kart: WorldKart) -> str:
    """Give the sector of a kart."""
    return spot_of(eyes.track, kart).sector


def ours(eyes: Eyes, where: str) -> bool:
    """Whether a sector is this post's to look after."""
    return eyes.post.supervisor or where in eyes.post.covers


def own(eyes: Eyes, hold: HoldView) -> bool:
    """Whether this post placed a hold."""
    return hold.post == eyes.post.id
