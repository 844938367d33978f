"""What heads show and karts may drive, in km/h and words, from a state's facts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from signals.core.ground import Derived, Facts, Ground
from signals.core.state import Beside, Effect, SetLimit, ShowAspect
from signals.words import Aspect, Because

_KEPT = 256
"""Facts vectors whose outputs are remembered; decisions mostly go back and forth between a few."""


@dataclass(frozen=True, slots=True)
class Look:
    """What follows from the facts alone: definitions, aspects (integers), caps (bit masks), timers."""

    derived: Derived
    aspects: tuple[int, ...]
    caps: tuple[int, ...]
    running: tuple[bool, ...]


class Outputs:
    """Aspects and limits of one venue."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._layout = ground.layout
        self._aspects = tuple(Aspect)
        self._fact = {
            name: ground.schema.facts[name] for name in ("call", "place", "entry", "surface", "allowed")
        }
        self._testing = ground.index("phase")
        self._test = ground.schema.sorts["phase"].members.index("test")
        self._racing = ground.schema.sorts["phase"].members.index("racing")
        self.look = lru_cache(maxsize=_KEPT)(self._look)
        self.limit = lru_cache(maxsize=4096)(self._limit)

    def _look(self, facts: Facts) -> Look:
        derived = self._ground.derive(facts)
        return Look(
            derived,
            self._ground.aspects(facts, derived),
            self._ground.caps(facts, derived),
            self._ground.running(facts, derived),
        )

    def heads(self, facts: Facts, beside: Beside) -> tuple[ShowAspect, ...]:
        """Give what every head is to show."""
        testing = facts[self._testing] == self._test
        look = self.look(facts)
        return tuple(
            ShowAspect(head, aspect, self._number(aspect, facts), beside.lamps.get(head) if testing else None)
            for head, aspect in zip(
                self._layout.heads, map(self._aspects.__getitem__, look.aspects), strict=True
            )
        )

    def _number(self, aspect: Aspect, facts: Facts) -> int | None:
        """Give the kart a number or blue head speaks to: the lowest number that is called."""
        if aspect not in (Aspect.NUMBER, Aspect.BLUE_FLASH):
            return None
        call, place = self._fact["call"], self._fact["place"]
        due = call.domain.members.index("disqualified" if aspect is Aspect.NUMBER else "move_over")
        off = (len(self._layout.sectors) - 1, place.domain.members.index("aside"))
        for number, kart in enumerate(self._layout.karts):
            if facts[call.base + number] == due and facts[place.base + number] not in off:
                return kart
        return None

    def karts(self, facts: Facts, beside: Beside) -> tuple[SetLimit, ...]:
        """Give every kart's limit, with the reason that won."""
        look = self.look(facts)
        testing = facts[self._testing] == self._test
        racing = facts[self._testing] == self._racing
        entry, allowed = self._fact["entry"].base, self._fact["allowed"].base
        surface = self._fact["surface"].domain.members[facts[self._fact["surface"].base]]
        made = []
        for number, kart in enumerate(self._layout.karts):
            allowance = beside.allowed_kmh.get(kart) if testing and facts[allowed + number] else None
            kmh, because = self.limit(kart, look.caps[number], facts[entry + number], surface, allowance)
            boosts = self._layout.boosts if racing and because is Because.CLASS else 0
            made.append(SetLimit(kart, kmh, boosts, because))
        return tuple(made)

    def _limit(
        self, kart: int, caps: int, entry: int, surface: str, allowance: float | None
    ) -> tuple[float, Because]:
        limits, classes = self._layout.limits_kmh[surface], self._layout.classes
        own = classes[entry] if entry < len(classes) else self._layout.kart_class[kart]
        applying = [cap for bit, cap in enumerate(self._ground.table.caps) if caps >> bit & 1]
        choices = [
            (limits[own if cap.limit == "class" else cap.limit], Because(cap.because)) for cap in applying
        ]
        if allowance is not None:
            choices.append((allowance, Because.TEST))
        return min(choices, key=lambda choice: choice[0])

    def effects(self, old: tuple[Facts, Beside], new: tuple[Facts, Beside]) -> tuple[Effect, ...]:
        """Give what changed for heads and karts, heads first."""
        pairs = [*zip(self.heads(*old), self.heads(*new), strict=True)]
        moves = [*zip(self.karts(*old), self.karts(*new), strict=True)]
        heads: list[Effect] = [after for before, after in pairs if before != after]
        return (*heads, *[after for before, after in moves if before != after])
