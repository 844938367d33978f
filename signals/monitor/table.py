"""The monitor's own table: what is due at a head, and the most a kart may be allowed.

Written by hand from the rules, in words of its own, so that a wrong rule in the controller's
table is not wrong here too. Pure: a `Situation` in, an aspect or a limit out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from signals.venue.model import Head, Kart, Limits, Venue

RANK = {
    aspect: rank
    for rank, aspect in enumerate(
        ("red", "yellow-flash", "yellow", "red-yellow", "number", "blue-flash", "dark", "green")
    )
}
"""Aspects, the most restrictive first. Dark is never clear, yet it holds nobody back: next to green."""

NOT_OPEN = frozenset({"closed", "staging", "armed"})
"""Phases in which nobody should be on the track."""
OFF = frozenset({"pit", "aside"})
"""Places that are not on the track."""
LEAVING = frozenset({"start", "pit-exit"})
"""Roles of heads that send karts out."""


@dataclass(frozen=True, slots=True)
class KartSeen:
    """What `state` says of one kart, as far as its limit depends on it."""

    place: str
    call: str = "none"
    slowed: str = "none"
    let_out: bool = True
    button: bool = False


@dataclass(frozen=True, slots=True)
class Situation:
    """What counts, gathered from `state`, the beat, and what was asked and accepted."""

    phase: str
    stop: bool = False
    urgent: bool = False
    """A stop for fire or a casualty: karts stand, whatever the venue's stop limit."""
    recovery: bool = False
    cautions: frozenset[str] = frozenset()
    persons: frozenset[str] = frozenset()
    """Sectors with a person on the track."""
    wet: bool = False
    karts: Mapping[int, KartSeen] = field(default_factory=dict)

    @property
    def unknown(self) -> bool:
        """Whether some kart may be anywhere."""
        return any(kart.place == "unknown" for kart in self.karts.values())

    @property
    def empty(self) -> bool:
        """Whether every kart is known to be off the track."""
        return all(kart.place in OFF for kart in self.karts.values())

    def cautioned(self, sector: str) -> bool:
        """Whether drivers must be slowed in a sector."""
        return self.recovery or self.unknown or sector in self.cautions


def less(shown: str, due: str) -> bool:
    """Whether `shown` is less restrictive than `due`."""
    return RANK[shown] > RANK[due]


def due_aspect(venue: Venue, head: Head, now: Situation) -> str:
    """Give what a head must show at least."""
    return _due_leaving(head, now) if head.role in LEAVING else _due_on_track(venue, head, now)


def _due_leaving(head: Head, now: Situation) -> str:
    if now.phase != "racing" or now.stop or now.recovery:
        return "red"
    return "yellow-flash" if now.cautioned(head.protects[0]) else "green"


def _due_on_track(venue: Venue, head: Head, now: Situation) -> str:
    if now.stop or (now.phase in NOT_OPEN and not now.empty):
        return "red"
    if any(now.cautioned(sector) for sector in head.protects):
        return "yellow-flash"
    by_phase = {"finishing": str(venue.choices.finish_aspect), "racing": "green"}
    return by_phase.get(now.phase, "dark")


def most_kmh(venue: Venue, kart: Kart, now: Situation) -> tuple[float, str]:
    """Give the most a kart may be allowed (km/h) and why; the least of all that applies."""
    limits = venue.limits_wet if now.wet else venue.limits
    seen = now.karts.get(kart.number, KartSeen("unknown"))
    own_class = (limits.classes[kart.class_], f"class {kart.class_}")
    return min(
        [
            own_class,
            *_session_caps(venue, seen, limits, now),
            *_own_caps(seen, limits),
            *_place_caps(venue, seen, limits, now),
        ]
    )


def _session_caps(venue: Venue, seen: KartSeen, limits: Limits, now: Situation) -> list[tuple[float, str]]:
    at_once = venue.choices.finish_slow == "all-at-once"
    rows = [
        (now.stop, limits.stop, "stop"),
        (now.stop and now.urgent, 0.0, "fire or medical"),
        (now.recovery, limits.return_, "recovery"),
        (now.phase in NOT_OPEN and seen.place not in OFF, limits.return_, "session not open"),
        (now.phase in NOT_OPEN and seen.place == "pit", 0.0, "session not open"),
        (now.phase == "finishing" and at_once and seen.place not in OFF, limits.finish, "finish"),
    ]
    return [(cap, why) for applies, cap, why in rows if applies]


def _own_caps(seen: KartSeen, limits: Limits) -> list[tuple[float, str]]:
    rows = [
        (seen.call == "disqualified", limits.disqualified, "disqualified"),
        (seen.slowed == "slow", limits.caution, "slowed"),
        (seen.slowed == "stop", 0.0, "stopped"),
        (seen.button, 0.0, "its button was pressed"),
        (seen.place == "aside", 0.0, "set aside"),
        (seen.place == "pit", limits.pit, "pit lane"),
        (seen.place == "pit" and not seen.let_out, 0.0, "not let out"),
    ]
    return [(cap, why) for applies, cap, why in rows if applies]


def _place_caps(venue: Venue, seen: KartSeen, limits: Limits, now: Situation) -> list[tuple[float, str]]:
    caps = []
    for sector in venue.sectors:
        reached = seen.place in (sector.id, "unknown") or seen.place in sector.approach
        if reached and sector.id in now.persons:
            caps.append((limits.creep, f"a person on the track in {sector.id}"))
        if reached and sector.id in now.cautions:
            caps.append((limits.caution, f"caution in {sector.id}"))
    return caps
