"""A response budget by simulation: the first kart behind the place of a call, in many seeded sessions.

A post calls though nothing stands on the track, so that nothing but the call slows a kart. It is played three
times: as it is; with drivers who heed no head, so that limiters act alone; with limiters whose ramp does not
fall, so that drivers act alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean
from typing import NamedTuple

import numpy as np

from signals.venue.approach import reach_of
from signals.venue.model import Venue
from sim.budget.computed import LATE, Asked, Computed, slowing_s, way_m
from sim.drivers import UNEXPECTED_S
from sim.sightlines.stopping import REACTION_S
from sim.study.desk import KMH
from sim.study.prepared import People, Prepared, pace_of, plan_of, wires_of
from sim.study.run import MEASURES, Player
from sim.study.variants import with_karts

HERTZ = 60
SETTLED_S, LASTS_S = 15.0, 25.0
"""From the last kart let out until something is seen, and how long is looked on after that."""
HEEDS_NOTHING = -1e9
"""The compliance of drivers who heed no head."""
FLAT_MPS2 = 1e-6
"""The fall of a ramp that does not."""
SURPRISED_S = 1.25
"""Unexpected but common: Green 2000."""
LEAST_MPS = 2.0
"""A kart that is to lose less speed shows nothing of how it slows."""


class Acting(StrEnum):
    """Who slows karts."""

    BOTH = "both"
    LIMITER = "limiter"
    DRIVER = "driver"


Row = dict[str, float]
"""The measures of a session."""


class Spread(NamedTuple):
    """The middle of some values, what 95 in 100 do not exceed, and of how many sessions."""

    median: float
    late: float
    sessions: int


class Check(NamedTuple):
    """What a formula or a source gives for the karts that were played, and what they did."""

    says: str
    unit: str
    computed: float
    simulated: float
    source: str

    @property
    def difference(self) -> float:
        """By which share the simulated is more."""
        return self.simulated / self.computed - 1.0


@dataclass(frozen=True, slots=True)
class Played:
    """What came of the sessions whose first kart behind was within reach of a caution, by who acted."""

    rows: dict[Acting, list[Row]]

    def term(self, name: str) -> Spread | None:
        """Give what a term of the budget took."""
        acting, value = TERMS[name]
        return spread(map(value, self.rows[acting]))

    @property
    def unaware(self) -> float:
        """The share of drivers within reach who came to the place without having seen what was called."""
        return fmean(math.isnan(row["next_seen_s"]) for row in self.rows[Acting.DRIVER])

    def seconds(self, acting: Acting) -> Spread | None:
        """Give the time from the call until the kart was slow."""
        return spread(row["next_slow_s"] for row in self._counted(acting))

    def metres(self, acting: Acting) -> Spread | None:
        """Give how far it went until then."""
        return spread(row["next_m"] for row in self._counted(acting) if _reached(row["next_slow_s"]))

    def _counted(self, acting: Acting) -> list[Row]:
        """Give the sessions that show how it is slowed; of drivers alone, who knew of it."""
        if acting is not Acting.DRIVER:
            return self.rows[acting]
        return [row for row in self.rows[acting] if _reached(row["next_understood_s"])]


TERMS: dict[str, tuple[Acting, Callable[[Row], float]]] = {
    "called": (Acting.BOTH, lambda row: row["called_s"]),
    "told": (Acting.BOTH, lambda row: row["next_told_s"]),
    "shown": (Acting.BOTH, lambda row: row["shown_s"] - row["called_s"]),
    "in sight": (Acting.DRIVER, lambda row: row["next_seen_s"] - (row["shown_s"] - row["called_s"])),
    "understood": (Acting.DRIVER, lambda row: row["next_understood_s"] - row["next_seen_s"]),
    "slowed by the limiter": (Acting.LIMITER, lambda row: row["next_slow_s"] - row["next_told_s"]),
    "slowed by the driver": (Acting.DRIVER, lambda row: row["next_slow_s"] - row["next_understood_s"]),
}
"""Which sessions show a term, and how it follows from their measures."""


def spread(values: Iterable[float]) -> Spread | None:
    """Give median and 95th percentile of the values that were reached; None where none was."""
    reached = [value for value in values if _reached(value)]
    if not reached:
        return None
    middle, late = np.quantile(reached, [0.5, LATE])
    return Spread(float(middle), float(late), len(reached))


def _reached(value: float) -> bool:
    return not math.isnan(value)


# --- played


def play(
    venue: Venue,
    asked: Asked,
    seeds: range,
    karts: int,
    threads: int,
    told: Callable[[], None] = lambda: None,
) -> Played:
    """Play the same seeded sessions three times; `told` hears of each that is over.

    Raises:
        Unusable: the venue has no such class, or a start that is refused.

    """
    reach_m = reach_of(venue)
    rows = {acting: _rows(venue, asked, acting, seeds, karts, threads, told) for acting in Acting}
    return Played({acting: [row for row in rows[acting] if row["next_gap_m"] <= reach_m] for acting in rows})


def _rows(
    venue: Venue,
    asked: Asked,
    acting: Acting,
    seeds: range,
    karts: int,
    threads: int,
    told: Callable[[], None],
) -> Iterator[Row]:
    for outcome in Player(prepare(venue, asked, acting, karts), threads).play_all(seeds):
        told()
        yield dict(zip(MEASURES, outcome.measures, strict=True))


def prepare(venue: Venue, asked: Asked, acting: Acting, karts: int) -> Prepared:
    """Make sessions ready: karts of the fastest class, and a call for nothing that could be seen."""
    class_ = max(venue.limits.classes, key=venue.limits.classes.__getitem__)
    venue = with_karts(venue, karts, class_)
    begins_s = karts * venue.timing.gap / 1000 + SETTLED_S
    plan = plan_of(
        venue, begins_s=begins_s, lasts_s=1e9, delay_s=asked.delay_s, stops=asked.stops, checks_s=5.0,
        finish_s=begins_s + 2 * LASTS_S, spins=False,
    )  # fmt: skip
    wires = wires_of(
        venue, losses_per_hour=0.0, loss_s=0.0, head_s=asked.head_s, radio_s=asked.radio_s, wet=asked.wet
    )
    heeding = HEEDS_NOTHING if acting is Acting.LIMITER else 1.0
    ready = Prepared(
        venue, People(karts, class_, heeding), wet=asked.wet, plan=plan, wires=wires,
        pace=pace_of(HERTZ, begins_s + LASTS_S),
    )  # fmt: skip
    if acting is Acting.DRIVER:
        ready.tables = ready.tables._replace(
            course=ready.tables.course._replace(fall_mps2=FLAT_MPS2),
            wires=ready.tables.wires._replace(fall_mps2=FLAT_MPS2),
        )
    return ready


# --- held against what formulas and sources say


def checks(computed: Computed, played: Played) -> list[Check]:
    """Hold what was simulated against formulas at the speeds that were driven, and against sources."""
    return [*_limiter_checks(computed, played), *_driver_checks(computed, played)]


def _limiter_checks(budget: Computed, played: Played) -> Iterator[Check]:
    rows = _slowed(budget, played.rows[Acting.LIMITER], "next_told_s")
    if not rows:
        return
    fall, slow = budget.fall_mps2, budget.slow_mps
    yield Check(
        "limiter: told → slow", "s",
        fmean(slowing_s(_mps(row), slow, fall) for row in rows),
        fmean(row["next_slow_s"] - row["next_told_s"] for row in rows),
        "K8",
    )  # fmt: skip
    yield Check(
        "limiter alone: call → slow", "m",
        fmean(way_m(_mps(row), slow, row["next_told_s"], fall) for row in rows),
        fmean(row["next_m"] for row in rows),
        "K7, K8",
    )  # fmt: skip


def _driver_checks(budget: Computed, played: Played) -> Iterator[Check]:
    rows = _slowed(budget, played.rows[Acting.DRIVER], "next_understood_s")
    took = played.term("understood")
    if not rows or took is None:
        return
    yield Check("driver: sees → acts, median", "s", UNEXPECTED_S, took.median, "K13")
    yield Check("driver: sees → acts, 95 in 100", "s", REACTION_S, took.late, "K13")
    yield Check("driver: sees → acts, median", "s", SURPRISED_S, took.median, "K12")
    yield Check(
        "driver alone: call → slow", "m",
        fmean(way_m(_mps(row), budget.slow_mps, row["next_understood_s"], budget.brake_mps2) for row in rows),
        fmean(row["next_m"] for row in rows),
        "K7, K8",
    )  # fmt: skip


def _slowed(budget: Computed, rows: list[Row], began: str) -> list[Row]:
    return [
        row for row in rows
        if _reached(row["next_slow_s"]) and _reached(row[began]) and _mps(row) > budget.slow_mps + LEAST_MPS
    ]  # fmt: skip


def _mps(row: Row) -> float:
    return row["next_kmh"] / KMH
