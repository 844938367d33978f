"""What drivers see of a venue's heads: nearest head, sight against stopping distance, blind stretches.

A place is *blind* where a driver on any of the three lines sees no head ahead: whatever is called then, he
learns of it only at the stretch's end. It is *late* where he sees heads, but none that speaks for the place
at which he would come to a stand: he cannot be told in time of what happens there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from signals.venue.model import Head, Venue
from signals.venue.sight import Floats, Mask, Walls, lamps, seen, walls
from signals.words import PIT
from sim.ground import Ground
from sim.lines import Lane
from sim.sight import FARTHEST_M, ahead_m, for_drivers
from sim.sightlines.places import karts_ahead, places, speeds_mps
from sim.sightlines.stopping import REACTION_S, Stopping, stopping

EYES_M = (0.7, 0.8)
"""Seated eye heights, low and high; typical, no source."""
NOBODY = -1


@dataclass(frozen=True, slots=True)
class Condition:
    """How it is looked at: the surface, the eye's height, and whether karts drive ahead."""

    wet: bool
    eye_m: float
    traffic: bool = False

    def __str__(self) -> str:
        return f"{self.surface}, eye {self.eye_m:g} m{', karts ahead' if self.traffic else ''}"

    @property
    def surface(self) -> str:
        """The surface's word."""
        return "wet" if self.wet else "dry"


def conditions(eyes_m: Sequence[float] = EYES_M, *, traffic: bool = False) -> list[Condition]:
    """Give every condition that is looked at: dry and wet, each eye height."""
    return [Condition(wet, eye_m, traffic) for wet in (False, True) for eye_m in eyes_m]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the lap in driving order; `from_m > to_m` wraps."""

    from_m: float
    to_m: float
    length_m: float
    seconds: float
    """How long the boldest driver takes for it."""
    sectors: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sighting:
    """How far before a head every driver sees it, without a gap; None where he does not at all."""

    head: str
    at_m: float
    from_m: float | None
    to_m: float | None
    needed_m: float
    """Where the last driver who could still stand before it has to begin."""

    @property
    def in_time(self) -> bool:
        """Whether he sees it there."""
        return self.from_m is not None and self.to_m is not None and self.to_m <= self.needed_m <= self.from_m


@dataclass(frozen=True, slots=True)
class View:
    """What is seen under one condition, place by place and head by head.

    Attributes:
        at_m, v_mps, stopping_m: of each place.
        nearest: number of the nearest head ahead that is seen from the worst line; `NOBODY` where blind.
        sight_m: how far away that is along the lap; NaN where blind.
        blind, late: see the module.

    """

    condition: Condition
    heads: tuple[Head, ...]
    at_m: Floats
    v_mps: Floats
    stopping_m: Floats
    nearest: NDArray[np.int64]
    sight_m: Floats
    blind: Mask
    late: Mask
    blind_stretches: tuple[Stretch, ...]
    late_stretches: tuple[Stretch, ...]
    sightings: tuple[Sighting, ...]

    @property
    def seen_share(self) -> float:
        """The share of the lap from which a head is seen."""
        return float(1.0 - self.blind.mean())

    @property
    def in_time_share(self) -> float:
        """The share of the lap from which a head is seen that speaks for where a kart would stand."""
        return float(1.0 - (self.blind | self.late).mean())

    @property
    def longest_blind_s(self) -> float:
        """The longest time a driver sees none."""
        return max((stretch.seconds for stretch in self.blind_stretches), default=0.0)


class Survey:
    """A venue looked at from every metre of the lines that are driven."""

    def __init__(self, venue: Venue, *, reaction_s: float = REACTION_S) -> None:
        self.venue = venue
        self.ground = Ground(venue)
        self.places = places(self.ground)
        self.walls = walls(venue.barriers)
        self.reaction_s = reaction_s
        self._sectors = [sector.id for sector in venue.sectors]
        self._speeds = {wet: speeds_mps(self.ground, self.places.at_m, wet=wet) for wet in (False, True)}

    def stopping(self, *, wet: bool) -> Stopping:
        """Give what a stop takes."""
        return stopping(self.ground.model, wet=wet, reaction_s=self.reaction_s)

    def stopping_m(self, *, wet: bool) -> Floats:
        """Give the stopping distance at each place."""
        return self.stopping(wet=wet).distance_m(self._speeds[wet])

    def seen(self, heads: Sequence[Head], condition: Condition) -> tuple[Mask, ...]:
        """Tell which heads ahead are seen from each place: for each line, places by heads."""
        near = ahead_m(self.places.at_m, list(heads), self.places.length_m) <= FARTHEST_M
        return tuple(
            seen(
                self.places.eyes[lane],
                lamps(heads),
                self.walls,
                eye_m=condition.eye_m,
                among=near,
                own=self._karts(lane, condition),
            )
            for lane in Lane
        )

    def _karts(self, lane: Lane, condition: Condition) -> Walls | None:
        if not condition.traffic:
            return None
        return karts_ahead(self.ground, self.places, lane, self._speeds[condition.wet])

    def view(self, condition: Condition, heads: Sequence[Head] | None = None) -> View:
        """Look at heads under a condition; at the venue's own where none are given."""
        heads = for_drivers(self.venue) if heads is None else heads
        away_m = ahead_m(self.places.at_m, list(heads), self.places.length_m)
        lines = self.seen(heads, condition)
        nearest, sight_m = _nearest(lines, away_m)
        stopping_m = self.stopping_m(wet=condition.wet)
        blind = nearest == NOBODY
        late = ~blind & ~self._told(lines, heads, stopping_m)
        v_mps = self._speeds[condition.wet]
        return View(
            condition,
            tuple(heads),
            self.places.at_m,
            v_mps,
            stopping_m,
            nearest,
            sight_m,
            blind,
            late,
            self._stretches(blind, v_mps),
            self._stretches(late, v_mps),
            _sightings(heads, np.logical_and.reduce(lines), away_m, stopping_m),
        )

    def _told(self, lines: tuple[Mask, ...], heads: Sequence[Head], stopping_m: Floats) -> Mask:
        """Tell from where every driver sees a head that speaks for the place where he would stand."""
        stands = self.places.at_m + stopping_m
        there = np.array([self._sectors.index(self.ground.track.sector_at(at)) for at in stands])
        protects = np.array([[sector in head.protects for head in heads] for sector in self._sectors], bool)
        speaks = protects.reshape(len(self._sectors), len(heads))[there]
        told: Mask = np.logical_and.reduce([(each & speaks).any(axis=1) for each in lines])
        return told

    def _stretches(self, where: Mask, v_mps: Floats) -> tuple[Stretch, ...]:
        return tuple(self._stretch(first, last, v_mps) for first, last in runs(where))

    def _stretch(self, first: int, count: int, v_mps: Floats) -> Stretch:
        found = self.places
        numbers = np.arange(first, first + count) % len(found.at_m)
        sectors = dict.fromkeys(self.ground.track.sector_at(at) for at in found.at_m[numbers])
        end_m = (found.at_m[first] + count * found.step_m) % found.length_m
        return Stretch(
            round(float(found.at_m[first]), 1),
            round(float(end_m), 1),
            round(count * found.step_m, 1),
            round(float((found.step_m / v_mps[numbers]).sum()), 2),
            tuple(sectors),
        )

    def names(self, sectors: Sequence[str]) -> str:
        """Name sectors as marshals do."""
        return ", ".join(each.name for each in self.venue.sectors if each.id in sectors and each.id != PIT)


def _nearest(lines: tuple[Mask, ...], away_m: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Give the nearest head seen from the line that sees the least: the farthest of the lines' nearest."""
    seen_m = np.stack([np.where(each, away_m, np.inf) for each in lines])
    if not seen_m.shape[2]:
        return np.full(len(away_m), NOBODY), np.full(len(away_m), np.nan)
    worst = seen_m.min(axis=2).argmax(axis=0)
    rows = seen_m[worst, np.arange(len(worst))]
    sight_m = rows.min(axis=1)
    blind = np.isinf(sight_m)
    return np.where(blind, NOBODY, rows.argmin(axis=1)), np.where(blind, np.nan, sight_m)


def runs(where: Mask) -> list[tuple[int, int]]:
    """Give the runs of a ring's marked places: first place, and how many."""
    count = len(where)
    if where.all():
        return [(0, count)] if count else []
    starts = np.flatnonzero(where & ~np.roll(where, 1))
    ends = np.flatnonzero(where & ~np.roll(where, -1))
    if len(starts) and ends[0] < starts[0]:
        ends = np.roll(ends, -1)
    return [(int(start), int((end - start) % count) + 1) for start, end in zip(starts, ends, strict=True)]


def _sightings(
    heads: Sequence[Head], everyone: Mask, away_m: Floats, stopping_m: Floats
) -> tuple[Sighting, ...]:
    return tuple(
        _sighting(head, everyone[:, number], away_m[:, number], stopping_m)
        for number, head in enumerate(heads)
    )


def _sighting(head: Head, found: Mask, away_m: Floats, stopping_m: Floats) -> Sighting:
    """Follow a head back from itself as long as every driver sees it."""
    enough = away_m >= stopping_m
    needed_m = round(float(away_m[enough].min()), 1) if enough.any() else float("inf")
    order = np.argsort(away_m)
    visible = found[order]
    if not visible.any():
        return Sighting(head.id, head.at_m, None, None, needed_m)
    first = int(visible.argmax())
    rest = visible[first:]
    last = first + (len(rest) if rest.all() else int(rest.argmin())) - 1
    near_m, far_m = (round(float(away_m[order[each]]), 1) for each in (first, last))
    return Sighting(head.id, head.at_m, far_m, near_m, needed_m)
