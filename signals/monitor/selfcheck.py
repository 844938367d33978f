"""What the monitor checks of itself before it watches (EN 12675 §4.2 to 4.4: pass, or never begin)."""

from __future__ import annotations

from collections.abc import Iterator

from signals.errors import Unusable
from signals.monitor.patience import LONGEST_S, SHORTEST_S, Conflict, Patience
from signals.monitor.table import NOT_OPEN, RANK, KartSeen, Situation, due_aspect, most_kmh
from signals.venue.model import Venue

OUT = KartSeen("unknown")


def self_check(venue: Venue) -> None:
    """Try the table on every head and kart, and the windows on a planted conflict.

    Raises:
        Unusable: the monitor cannot be relied on for this venue; says why.

    """
    wrong = [*_windows(venue), *_patience(venue), *_aspects(venue), *_limits(venue)]
    if wrong:
        raise Unusable("the monitor failed its self-check and does not watch: " + "; ".join(wrong))


def _windows(venue: Venue) -> Iterator[str]:
    trip_ms = venue.timing.monitor_trip
    if not SHORTEST_S * 1000 <= trip_ms < LONGEST_S * 1000:
        yield f"timing_ms.monitor_trip is {trip_ms}, must be at least 200 and below 450"


def _patience(venue: Venue) -> Iterator[str]:
    window_s = venue.timing.monitor_trip / 1000
    planted = Conflict("planted", "nowhere", "planted", "red", "green", window_s)
    patience = Patience()
    patience.see("nowhere", [planted], 0.0)
    if patience.too_long(SHORTEST_S - 0.001) is not None or patience.too_long(LONGEST_S) is not planted:
        yield "a planted conflict does not trip between 200 and 450 ms"


def _aspects(venue: Venue) -> Iterator[str]:
    karts = {kart.number: KartSeen("pit") for kart in venue.karts}
    stopped = Situation("racing", stop=True, karts=karts)
    recovering = Situation("racing", recovery=True, karts=karts)
    for head in venue.heads:
        cautioned = Situation("racing", cautions=frozenset(head.protects), karts=karts)
        if due_aspect(venue, head, stopped) != "red":
            yield f"head {head.id}: red is not due under a stop"
        for situation in (recovering, cautioned):
            if RANK[due_aspect(venue, head, situation)] > RANK["yellow-flash"]:
                yield f"head {head.id}: less than yellow is due under caution"
        for phase in NOT_OPEN:
            if due_aspect(venue, head, Situation(phase, karts={1: OUT})) != "red":
                yield f"head {head.id}: red is not due in {phase} with karts out"


def _limits(venue: Venue) -> Iterator[str]:
    everywhere = frozenset(sector.id for sector in venue.sectors)
    for kart in venue.karts:
        karts = {kart.number: KartSeen(venue.sectors[0].id)}
        stop, _ = most_kmh(venue, kart, Situation("racing", stop=True, karts=karts))
        caution, _ = most_kmh(venue, kart, Situation("racing", cautions=everywhere, karts=karts))
        if stop > venue.limits.stop or caution > venue.limits.caution:
            yield f"kart {kart.number}: the limit under a stop or caution is not held"
