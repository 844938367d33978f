"""What heads show and karts may drive, in km/h and words, from a state's facts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from signals.core.ground import Derived, Facts, Ground
from signals.core.state import Beside, Effect, SetLimit, ShowAspect
from signals.words import Aspect, Because

_KEPT = 256
"""Facts vectors whose outputs are remembered; decisions mostly go back and forth between a few."""


@dataclass(frozen=True, slots=True)
class Look:
    """What follows from the facts alone: definitions, timers that run, what heads show, what karts may."""

    derived: Derived
    running: tuple[bool, ...]
    heads: tuple[ShowAspect, ...]
    karts: tuple[SetLimit, ...]


class Outputs:
    """Aspects and limits of one venue."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._layout = ground.layout
        self._aspects = tuple(Aspect)
        self._call, self._place = ground.schema.facts["call"], ground.schema.facts["place"]
        self._entry, self._allowed = ground.schema.facts["entry"].base, ground.schema.facts["allowed"].base
        told = ground.schema.facts["told"]
        self._told, self._untold = told.base, told.domain.members.index("none")
        self._phase, self._surface = ground.index("phase"), ground.index("surface")
        phases = ground.schema.sorts["phase"].members
        self._test, self._racing = phases.index("test"), phases.index("racing")
        self.look = lru_cache(maxsize=_KEPT)(self._look)
        self._limit = lru_cache(maxsize=8192)(self._least)
        self._show = lru_cache(maxsize=8192)(ShowAspect)

    def _look(self, facts: Facts) -> Look:
        derived = self._ground.derive(facts)
        return Look(
            derived,
            self._ground.running(facts, derived),
            self._heads(facts, derived),
            self._karts(facts, derived),
        )

    def heads(self, facts: Facts, beside: Beside) -> tuple[ShowAspect, ...]:
        """Give what every head is to show."""
        shows = self.look(facts).heads
        if facts[self._phase] != self._test or not (beside.lamps or beside.numbers):
            return shows
        told = facts[self._told : self._told + len(shows)]
        return tuple(
            self._tried(show, beside) if aspect != self._untold else show
            for show, aspect in zip(shows, told, strict=True)
        )

    def _tried(self, show: ShowAspect, beside: Beside) -> ShowAspect:
        """Give what a head shows while it is told so in a test: with its single lamp, or with a number."""
        lamp = beside.lamps.get(show.head)
        speaks = show.aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH) and show.head in self._layout.numbers
        number = beside.numbers.get(show.head) if speaks and not lamp else None
        return replace(show, lamp=lamp, number=number)

    def _heads(self, facts: Facts, derived: Derived) -> tuple[ShowAspect, ...]:
        made = []
        for head, number in zip(self._layout.heads, self._ground.aspects(facts, derived), strict=True):
            aspect = self._aspects[number]
            called = aspect is Aspect.NUMBER or aspect is Aspect.BLUE_FLASH
            made.append(self._show(head, aspect, self._number(aspect, facts) if called else None, None))
        return tuple(made)

    def _number(self, aspect: Aspect, facts: Facts) -> int | None:
        """Give the kart a number or blue head speaks to: the lowest number that is called out there."""
        due = self._call.domain.members.index("disqualified" if aspect is Aspect.NUMBER else "move_over")
        off = (len(self._layout.sectors) - 1, self._place.domain.members.index("aside"))
        for number, kart in enumerate(self._layout.karts):
            if facts[self._call.base + number] == due and facts[self._place.base + number] not in off:
                return kart
        return None

    def karts(self, facts: Facts, beside: Beside) -> tuple[SetLimit, ...]:
        """Give every kart's limit, with the reason that won."""
        limits = self.look(facts).karts
        if facts[self._phase] != self._test or not beside.allowed_kmh:
            return limits
        allowed = facts[self._allowed : self._allowed + len(limits)]
        return tuple(
            _within(limit, beside.allowed_kmh[limit.kart])
            if may and limit.kart in beside.allowed_kmh
            else limit
            for limit, may in zip(limits, allowed, strict=True)
        )

    def _karts(self, facts: Facts, derived: Derived) -> tuple[SetLimit, ...]:
        surface, racing = facts[self._surface], facts[self._phase] == self._racing
        entries = facts[self._entry : self._entry + len(self._layout.karts)]
        limit = self._limit
        return tuple(
            limit(kart, mask, entry, surface, racing)
            for kart, mask, entry in zip(
                self._layout.karts, self._ground.caps(facts, derived), entries, strict=True
            )
        )

    def _least(self, kart: int, caps: int, entry: int, surface: int, racing: int) -> SetLimit:
        """Give the least of the caps in a mask; the first of equals is the reason."""
        limits = self._layout.limits_kmh[self._ground.schema.sorts["surface"].members[surface]]
        classes = self._layout.classes
        own = classes[entry] if entry < len(classes) else self._layout.kart_class[kart]
        applying = (cap for bit, cap in enumerate(self._ground.table.caps) if caps >> bit & 1)
        choices = [(limits[own if cap.limit == "class" else cap.limit], cap.because) for cap in applying]
        kmh, reason = min(choices, key=lambda choice: choice[0])
        because = Because(reason)
        boosts = self._layout.boosts if racing and because is Because.CLASS else 0
        return SetLimit(kart, kmh, boosts, because)

    def effects(self, old: tuple[Facts, Beside], new: tuple[Facts, Beside]) -> tuple[Effect, ...]:
        """Give what changed for heads and karts, heads first."""
        before: tuple[Effect, ...] = (*self.heads(*old), *self.karts(*old))
        after: tuple[Effect, ...] = (*self.heads(*new), *self.karts(*new))
        return tuple(a for b, a in zip(before, after, strict=True) if b is not a and b != a)


def _within(limit: SetLimit, allowed_kmh: float) -> SetLimit:
    """Give the limit allowed in a test, never more than what else applies."""
    if allowed_kmh >= limit.limit_kmh:
        return limit
    return replace(limit, limit_kmh=allowed_kmh, because=Because.TEST)
