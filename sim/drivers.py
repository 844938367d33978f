"""Who drives: skill, nerve, reaction and obedience, drawn once for each kart from the seed.

Reaction times are lognormal. Their spread is that of Olson & Sivak 1986 (median 1.1 s, 95th percentile
1.6 s: sigma = ln(1.6 / 1.1) / 1.645), their medians those of somebody who expects a signal (Green 2000,
Transportation Human Factors 2(3): 0.70 to 0.75 s) and of somebody who does not (Olson & Sivak's 1.1 s;
Green gives 1.25 s as common). One part of the spread lies between drivers, the rest within each.
"""

from __future__ import annotations

import math

from sim.chance import Purpose, normal, uniform, within
from sim.scene import Driver
from sim.speeds import both

SKILLS = tuple(0.38 + 0.035 * rung for rung in range(13))
"""Shares of the grip that drivers dare to use in a bend, from shy to bold; typical, no source."""
MIDDLE, RUNGS_A_SIGMA = 6, 2.5
SPREAD = math.log(1.6 / 1.1) / 1.6449
BETWEEN = 0.15
WITHIN = math.sqrt(SPREAD * SPREAD - BETWEEN * BETWEEN)
EXPECTED_S = 0.725
UNEXPECTED_S = 1.1
LEAST_COMPLIANCE = 0.97
"""Of those least inclined to heed a signal; typical, no source. Whatever they do, their limiter obeys."""
UNEVEN = 0.02
"""How much a driver's pace differs from one stretch to the next, as a share; typical, no source."""
BOOSTERS = 0.5
"""Share of drivers who use their boost."""
STRETCHES = 8
"""Of a lap: a driver keeps his pace for one of them."""


Drawn = tuple[int, float, float, float, float, float, bool]
"""A driver's traits, in the order of `scene.Driver`."""


@both
def traits(seed: int, kart: int) -> Drawn:
    """Draw what the driver of a kart is like."""
    skill = MIDDLE + RUNGS_A_SIGMA * within(normal(seed, kart, Purpose.SKILL), 2.4)
    nerve = within(normal(seed, kart, Purpose.NERVE), 2.0)
    return (
        min(max(round(skill), 0), len(SKILLS) - 1),
        0.75 - 0.12 * nerve,
        1.4 - 0.2 * nerve,
        3.2 + 0.4 * nerve,
        math.exp(BETWEEN * normal(seed, kart, Purpose.REACTS)),
        LEAST_COMPLIANCE + (1.0 - LEAST_COMPLIANCE) * uniform(seed, kart, Purpose.COMPLIANCE),
        uniform(seed, kart, Purpose.BOOST) < BOOSTERS,
    )


def driver_of(drawn: Drawn) -> Driver:
    """Give the driver with such traits."""
    return Driver(**dict(zip(Driver.__struct_fields__, drawn, strict=True)))  # type: ignore[arg-type]


def draw(seed: int, kart: int) -> Driver:
    """Draw the driver of a kart."""
    return driver_of(traits(seed, kart))


@both
def reaction_s(seed: int, kart: int, driver: Driver, counter: int, expected: bool) -> float:  # noqa: FBT001
    """Draw how long a driver takes from seeing a signal to acting on it."""
    median_s = EXPECTED_S if expected else UNEXPECTED_S
    return median_s * driver.reaction * math.exp(WITHIN * normal(seed, kart, Purpose.REACTION, counter))


@both
def heeds(seed: int, kart: int, driver: Driver, counter: int) -> bool:
    """Draw whether a driver heeds a signal he sees."""
    return uniform(seed, kart, Purpose.HEED, counter) < driver.compliance


@both
def pace(seed: int, kart: int, lap: int, stretch: int) -> float:
    """Give the share of his speed that a driver keeps on a stretch of a lap: nobody drives two laps alike."""
    return 1.0 - UNEVEN * uniform(seed, kart, Purpose.PACE, lap * STRETCHES + stretch)
