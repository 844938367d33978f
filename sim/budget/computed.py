"""A response budget by arithmetic: what each term takes, from where that is known, and how far a kart goes.

    seen → called → told → shown → in sight → understood → slow

A kart is slowed on two ways at once: by its limiter, which obeys as soon as it is told, and by its driver,
who has to see a head, understand it and brake. On each way it goes

    s = v·t + (v² − w²) / (2·a)

from v to the speed w that counts as slow, after t seconds, at a metres a second each second: the AASHTO sight
distance (TxDOT Roadway Design Manual 4.11) and the worked example of OpenStax College Physics, with w = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from signals.venue.approach import reach_of
from signals.venue.model import Venue
from signals.venue.sight import Floats
from signals.words import HeadRole
from sim.drivers import SPREAD, UNEXPECTED_S
from sim.ground import Ground
from sim.kart import brake_mps2, grips
from sim.sight import STEP_M, Sightlines
from sim.sightlines.places import speeds_mps
from sim.sightlines.stopping import REACTION_S
from sim.study.behind import slow_mps

LATE = 0.95
"""The share of cases that are no later than "late"."""
LATE_SIGMAS = 1.6449
BEAT_S = 0.1
"""Between two looks of whoever is told: limiters, lamps and drivers, each ten times a second."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a budget is made for.

    Attributes:
        stops: red is called; else yellow where it is.
        wet: the surface, and what is declared.
        delay_s: from seeing it until it is called, the median.
        head_s, radio_s: from a decision until a head shows it, until a limiter has taken it.

    """

    stops: bool = False
    wet: bool = False
    delay_s: float = 2.0
    head_s: float = 0.1
    radio_s: float = 0.1


class Term(NamedTuple):
    """A part of the time that passes, typical and late, and where that is known from."""

    name: str
    typical_s: float
    late_s: float
    source: str


class Way(NamedTuple):
    """A kart slowed in one way: seconds and metres from the call until it is slow."""

    typical_s: float
    late_s: float
    typical_m: float
    late_m: float


@dataclass(frozen=True, slots=True)
class Computed:
    """A budget by arithmetic.

    Attributes:
        fastest_mps: the boldest driver's at the quickest place, with a boost where the venue has one.
        slow_mps: the speed that counts as slow.
        terms: in the order of time; the last two are one way each.
        limiter, driver: each alone.
        unaware: the share of drivers within reach who pass no head any more that tells them.
        reach_m: how far before a sector its caution already slows, by the venue.

    """

    asked: Asked
    fastest_mps: float
    slow_mps: float
    fall_mps2: float
    brake_mps2: float
    terms: tuple[Term, ...]
    limiter: Way
    driver: Way
    unaware: float
    reach_m: float

    @property
    def before_call_m(self) -> tuple[float, float]:
        """How far the fastest kart goes before anybody calls, typical and late."""
        called = self.terms[0]
        return self.fastest_mps * called.typical_s, self.fastest_mps * called.late_s

    @property
    def kept(self) -> bool:
        """Whether limiters slow every kart within what the venue's cautions reach back."""
        return self.asked.stops or self.limiter.late_m <= self.reach_m


def slowing_s(v_mps: float, slow_mps: float, mps2: float) -> float:
    """Give the seconds from one speed to a slower one."""
    return max(0.0, v_mps - slow_mps) / mps2


def way_m(v_mps: float, slow_mps: float, seconds: float, mps2: float) -> float:
    """Give the metres driven in some seconds and then while slowing."""
    slow_mps = min(v_mps, slow_mps)
    return v_mps * seconds + (v_mps * v_mps - slow_mps * slow_mps) / (2.0 * mps2)


def compute(venue: Venue, asked: Asked, ground: Ground | None = None) -> Computed:
    """Work out a venue's budget."""
    ground = ground or Ground(venue)
    limits, ramp = (venue.limits_wet, venue.ramp_wet) if asked.wet else (venue.limits, venue.ramp)
    places = np.arange(0.0, int(venue.length_m) + 1, STEP_M)
    speeds = speeds_mps(ground, places, wet=asked.wet)
    fastest, slow = float(speeds.max()), slow_mps(limits.stop if asked.stops else limits.caution)
    brakes = brake_mps2(ground.model, grips(ground.model, wet=asked.wet)[0])
    ramp_s, brake_s = (slowing_s(fastest, slow, each) for each in (ramp.fall, brakes))
    sight, unaware = _in_sight(ground, speeds, reach_of(venue), everywhere=asked.stops)
    terms = _terms(asked, sight, (ramp_s, brake_s), (ramp.fall, brakes))
    by_name = {term.name: term for term in terms}
    told = [by_name["told"]]
    seen = [by_name[name] for name in ("shown", "in sight", "understood")]
    return Computed(
        asked, fastest, slow, ramp.fall, brakes, terms,
        limiter=_way(fastest, slow, told, ramp.fall),
        driver=_way(fastest, slow, seen, brakes),
        unaware=unaware,
        reach_m=reach_of(venue),
    )  # fmt: skip


def _way(v_mps: float, slow_mps: float, before: list[Term], mps2: float) -> Way:
    typical_s, late_s = sum(term.typical_s for term in before), sum(term.late_s for term in before)
    slows_s = slowing_s(v_mps, slow_mps, mps2)
    return Way(
        typical_s + slows_s,
        late_s + slows_s,
        way_m(v_mps, slow_mps, typical_s, mps2),
        way_m(v_mps, slow_mps, late_s, mps2),
    )


def _terms(
    asked: Asked,
    sight_s: tuple[float, float],
    slows_s: tuple[float, float],
    slows_mps2: tuple[float, float],
) -> tuple[Term, ...]:
    late = math.exp(LATE_SIGMAS * SPREAD)
    ramp, brakes = (f"K8 (OpenStax): (v − w)/a, {each:.2f} m/s²" for each in slows_mps2)
    return (
        Term("called", asked.delay_s, asked.delay_s * late, "assumed (--delay-s); spread as K13's"),
        Term("told", asked.radio_s, asked.radio_s + BEAT_S, "assumed (--radio-s); then the next beat"),
        Term("shown", asked.head_s, asked.head_s + BEAT_S, "assumed (--head-s); then the next beat"),
        Term("in sight", *sight_s, "geometry of the venue file"),
        Term(
            "understood", UNEXPECTED_S, REACTION_S,
            "K13: Olson & Sivak 1986; K12: Green 2000 has 1.25 s as common",
        ),
        Term("slowed by the limiter", slows_s[0], slows_s[0], f"{ramp}, its ramp"),
        Term("slowed by the driver", slows_s[1], slows_s[1], f"{brakes}, its brakes"),
    )  # fmt: skip


def _in_sight(
    ground: Ground, speeds_mps: Floats, reach_m: float, *, everywhere: bool
) -> tuple[tuple[float, float], float]:
    """Give how long a driver takes to come into sight of a head that speaks for a place ahead of him.

    For every place of the lap, and every place up to `reach_m` before it where he may be then: the median,
    and what 95 in 100 do not exceed, of those who do; and the share of those who get there without.
    """
    seen, steps_s = ground.seen, STEP_M / speeds_mps
    told = {
        sector.id: _tells(ground.venue, seen, sector.id, everywhere=everywhere)
        for sector in ground.venue.sectors
    }
    took = np.array(
        [
            _until(told[ground.track.sector_at(place * STEP_M)], steps_s, place - back, back)
            for place in range(len(seen))
            for back in range(1, int(reach_m // STEP_M) + 1)
        ]
    )
    unaware = np.isnan(took)
    if unaware.all():
        return (0.0, 0.0), 1.0
    middle, late = np.quantile(took[~unaware], [0.5, LATE])
    return (float(middle), float(late)), float(unaware.mean())


def _tells(venue: Venue, seen: Sightlines, sector: str, *, everywhere: bool) -> list[bool]:
    """Tell from which places a head that a driver goes by speaks for a sector; under red, every one does."""
    speaks = {
        head.id for head in venue.heads
        if everywhere or (sector in head.protects and head.role in (HeadRole.TRACK, HeadRole.FINISH))
    }  # fmt: skip
    return [not speaks.isdisjoint(each) for each in seen]


def _until(told: list[bool], steps_s: Floats, first: int, most: int) -> float:
    """Give how long it takes from a place until one where a driver is told; NaN where none is so near."""
    took_s = 0.0
    for step in range(most):
        place = (first + step) % len(told)
        if told[place]:
            return took_s
        took_s += float(steps_s[place])
    return math.nan
