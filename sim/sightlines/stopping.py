"""How far a kart goes from the moment its driver could see a signal until it stands.

    s = v·t + v²/(2·b)

as in the AASHTO sight distance (TxDOT Roadway Design Manual 4.11) and in OpenStax College Physics. The
reaction is the 95th percentile of drivers who expect nothing (Olson & Sivak 1986, through Green 2000); the
brakes are the venue's kart model's, on a straight: in a bend tyres have less left.
"""

from __future__ import annotations

from dataclasses import dataclass

from signals.venue.model import KartModel
from signals.venue.sight import Floats
from sim.kart import brake_mps2, grips

REACTION_S = 1.6


@dataclass(frozen=True, slots=True)
class Stopping:
    """What a stop takes: seconds until the brakes bite, and how hard they do."""

    reaction_s: float
    brake_mps2: float

    def distance_m(self, v_mps: Floats) -> Floats:
        """Give the metres to a stand from each speed."""
        metres: Floats = v_mps * self.reaction_s + v_mps * v_mps / (2.0 * self.brake_mps2)
        return metres


def stopping(model: KartModel, *, wet: bool, reaction_s: float = REACTION_S) -> Stopping:
    """Give what a stop takes with a venue's karts."""
    return Stopping(reaction_s, brake_mps2(model, grips(model, wet=wet)[0]))
