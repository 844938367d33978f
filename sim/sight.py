"""Which heads a driver sees from where: worked out once, from barriers, beams and the way karts drive."""

from __future__ import annotations

import numpy as np

from signals.venue.geometry import Polyline
from signals.venue.model import Head, Venue
from signals.venue.sight import Floats, Mask, lamps, seen, walls
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
    track, heads = Polyline(venue.centreline_m, closed=True), for_drivers(venue)
    places = np.arange(0.0, int(venue.length_m) + 1, STEP_M)
    eyes = np.array([(*track.point(at), track.heading_deg(at)) for at in places])
    away_m = ahead_m(places, heads, venue.length_m)
    found = seen(eyes, lamps(heads), walls(venue.barriers), among=away_m <= FARTHEST_M)
    return tuple(_first(heads, *each) for each in zip(away_m, found, strict=True))


def for_drivers(venue: Venue) -> list[Head]:
    """Give the heads that speak to drivers on the lap."""
    return [head for head in venue.heads if head.role is not HeadRole.PIT_EXIT]


def ahead_m(places_m: Floats, heads: list[Head], length_m: float) -> Floats:
    """Give how far ahead of each place along the lap each head stands: places by heads."""
    away: Floats = (np.array([head.at_m for head in heads])[None, :] - places_m[:, None]) % length_m
    return away


def _first(heads: list[Head], away_m: Floats, found: Mask) -> tuple[str, ...]:
    if not found.any():
        return ()
    nearest_m = away_m[found].min()
    first = found & (away_m <= nearest_m + PASSED_M)
    return tuple(head.id for head, is_first in zip(heads, first, strict=True) if is_first)
