"""How far before a sector its caution already slows: a driver's reaction, then the limiter's ramp."""

from __future__ import annotations

from signals.venue.geometry import Polyline
from signals.venue.model import Limits, Ramp, Venue

KMH = 3.6
"""km/h in one m/s."""


def reaction_m(from_kmh: float, reaction_ms: float) -> float:
    """Give the metres driven until the driver or the limiter begins to slow."""
    return from_kmh / KMH * reaction_ms / 1000


def ramp_m(from_kmh: float, to_kmh: float, fall_mps2: float) -> float:
    """Give the metres a limiter's ramp takes: 45 to 15 km/h at 2 m/s² takes 34.7."""
    fast, slow = from_kmh / KMH, min(to_kmh, from_kmh) / KMH
    return (fast**2 - slow**2) / (2 * fall_mps2)


def approach_m(limits: Limits, ramp: Ramp, reaction_ms: float) -> float:
    """Give the metres before a sector where its caution already slows, for the fastest class."""
    fastest = max(limits.classes.values())
    return reaction_m(fastest, reaction_ms) + ramp_m(fastest, limits.caution, ramp.fall)


def reach_of(venue: Venue) -> float:
    """Give the same for a venue, the longer of dry and wet."""
    reaction_ms = venue.timing.reaction
    dry = approach_m(venue.limits, venue.ramp, reaction_ms)
    return max(dry, approach_m(venue.limits_wet, venue.ramp_wet, reaction_ms))


def track_of(venue: Venue) -> Polyline:
    """Give the venue's centreline for arithmetic."""
    return Polyline(venue.centreline_m, closed=True)
