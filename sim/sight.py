"""Which heads a driver sees from where: worked out once, from barriers, beams and the way karts drive."""

from __future__ import annotations

from signals.venue.geometry import Polyline
from signals.venue.model import Head, Venue
from signals.venue.sight import sees
from signals.words import HeadRole

FARTHEST_M = 80.0
"""From farther away nobody tells a lamp's colour for sure; typical, no source."""
PASSED_M = 1.0
STEP_M = 2
"""Metres of track between two places that are looked from."""

Sightlines = tuple[tuple[str, ...], ...]


def sightlines(venue: Venue) -> Sightlines:
    """Give the heads seen from each `STEP_M` metres of the lap: those of the nearest place ahead, with twins.

    A driver who sees several heads one behind the other drives by the first.
    """
    track = Polyline(venue.centreline_m, closed=True)
    heads = [head for head in venue.heads if head.role is not HeadRole.PIT_EXIT]
    places = range(0, int(venue.length_m) + 1, STEP_M)
    seen = ([head for head in heads if _sees(venue, track, head, along)] for along in places)
    return tuple(_first(track, along, here) for along, here in zip(places, seen, strict=True))


def _sees(venue: Venue, track: Polyline, head: Head, along_m: float) -> bool:
    return track.ahead(along_m, head.at_m) <= FARTHEST_M and sees(venue, track, head, along_m)


def _first(track: Polyline, along_m: float, seen: list[Head]) -> tuple[str, ...]:
    if not seen:
        return ()
    nearest_m = min(track.ahead(along_m, head.at_m) for head in seen)
    return tuple(head.id for head in seen if track.ahead(along_m, head.at_m) <= nearest_m + PASSED_M)
