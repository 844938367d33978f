"""Where heads should stand: the best N of some hundred candidates, by how much of the lap sees one.

Choosing N sets that cover the most is the maximal covering location problem (Church & ReVelle 1974, Papers
of the Regional Science Association 32); it is solved to the optimum as a mixed-integer programme by HiGHS.
A place counts once a head is seen from it, and a tenth more where that head stands no farther off than a
kart takes to stop, so that it can speak for where the kart would stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, eye_array, hstack
from shapely import Polygon, contains_xy, union_all

from signals.errors import Unusable
from signals.venue.approach import track_of
from signals.venue.build import VERGE_M
from signals.venue.geometry import Polyline
from signals.venue.model import Head, Venue
from signals.venue.sight import Mask, surface
from signals.words import PIT, HeadRole
from sim.sight import ahead_m, for_drivers
from sim.sightlines.survey import Condition, Survey, View

PITCH_M = 2.0
"""Between two places where a head may stand."""
HEIGHT_M = 2.5
IN_TIME = 0.1
EVERY = 2
"""Heads are chosen by every second place with the one after it, and then looked at from each."""
AIM_M = 30.0
"""A head points against the driving direction, or at drivers so far before it."""
LEAST_CORNERS = 4


@dataclass(frozen=True, slots=True)
class Proposal:
    """Heads that were chosen, and what would be seen of them.

    Attributes:
        kept: the heads that stay.
        heads: the new ones, in driving order.
        candidates: among how many they were chosen.
        proposed, even, present: what is seen with them, with as many spaced evenly, and as it is.

    """

    kept: tuple[Head, ...]
    heads: tuple[Head, ...]
    candidates: int
    proposed: View
    even: View
    present: View


def propose(survey: Survey, number: int, condition: Condition, *, keep: bool = False) -> Proposal:
    """Choose where `number` heads should stand: alone, or beside those that stand there already.

    Raises:
        Unusable: there are fewer candidates.

    """
    kept = tuple(for_drivers(survey.venue)) if keep else ()
    found, covers = _better_aimed(survey, candidates(survey.venue), condition)
    if number > len(found):
        raise Unusable(f"only {len(found)} places for heads are free; ask for no more")
    standing = _everyone(survey, kept, condition)
    near = [_near_enough(survey, heads, condition) for heads in (found, kept)]
    open_rows = [
        (each & np.roll(each, -1, axis=0))[~there.any(axis=1)][::EVERY]
        for each, there in ((covers, standing), (covers & near[0], standing & near[1]))
    ]
    chosen = [found[each] for each in best(open_rows, (1.0, IN_TIME), number)]
    heads = spoken_for(survey, kept, chosen)
    even = spoken_for(survey, kept, evenly(survey.venue, number))
    return Proposal(
        kept,
        heads,
        len(found),
        proposed=survey.view(condition, [*kept, *heads]),
        even=survey.view(condition, [*kept, *even]),
        present=survey.view(condition),
    )


def _everyone(survey: Survey, heads: Sequence[Head], condition: Condition) -> Mask:
    """Tell which heads are seen from each place by drivers on every line."""
    everyone: Mask = np.logical_and.reduce(survey.seen(heads, condition))
    return everyone


def _better_aimed(survey: Survey, heads: Sequence[Head], condition: Condition) -> tuple[list[Head], Mask]:
    """Keep, of heads at one place that differ in where they point, the one seen from more of the lap."""
    covers = _everyone(survey, heads, condition)
    best_of: dict[tuple[float, str], int] = {}
    for number, head in enumerate(heads):
        kept = best_of.setdefault((head.at_m, head.side), number)
        if covers[:, number].sum() > covers[:, kept].sum():
            best_of[head.at_m, head.side] = number
    numbers = list(best_of.values())
    return [heads[number] for number in numbers], covers[:, numbers]


def _near_enough(survey: Survey, heads: Sequence[Head], condition: Condition) -> Mask:
    """Tell which heads stand no farther ahead of each place than a kart takes to stop there."""
    away_m = ahead_m(survey.places.at_m, list(heads), survey.places.length_m)
    near: Mask = away_m <= survey.stopping_m(wet=condition.wet)[:, None]
    return near


def best(layers: Sequence[Mask], worth: Sequence[float], number: int) -> list[int]:
    """Choose columns that cover the most.

    Args:
        layers: rows by columns, what each column covers; all of the same columns.
        worth: of a covered row of each layer.
        number: how many columns.

    Raises:
        Unusable: the solver found no choice.

    """
    covers = np.concatenate(layers)
    rows, columns = covers.shape
    worths = np.concatenate([np.full(len(each), worthy) for each, worthy in zip(layers, worth, strict=True)])
    reached = hstack([csr_array(covers.astype(float)), -eye_array(rows)]).tocsr()
    exactly = np.concatenate([np.ones(columns), np.zeros(rows)])[None, :]
    found = milp(
        -np.concatenate([np.zeros(columns), worths]),
        constraints=[LinearConstraint(reached, 0.0, np.inf), LinearConstraint(exactly, number, number)],
        integrality=np.concatenate([np.ones(columns), np.zeros(rows)]),
        bounds=Bounds(0.0, 1.0),
    )
    if found.x is None:
        raise Unusable(f"no choice of {number} heads was found: {found.message}")
    return [int(each) for each in np.flatnonzero(found.x[:columns] > 0.5)]  # noqa: PLR2004 - chosen or not


# --- where heads may stand


def candidates(venue: Venue) -> list[Head]:
    """Give every place where a head may stand: along both edges, off the track and what stands there."""
    track = track_of(venue)
    places = np.arange(0.0, track.length_m - PITCH_M / 2, PITCH_M)
    heads = [
        _head(track, float(at_m), side, facing_deg)
        for at_m in places
        for side in (1, -1)
        for facing_deg in _facings(track, float(at_m), side)
    ]
    solid = [
        Polygon(each.points_m)
        for each in venue.barriers
        if len(each.points_m) >= LEAST_CORNERS and each.points_m[0] == each.points_m[-1]
    ]
    taken = union_all([surface(track, 0.0, track.length_m), *solid])
    free = ~contains_xy(taken, [head.x_m for head in heads], [head.y_m for head in heads])
    return [head for head, is_free in zip(heads, free, strict=True) if is_free]


def _facings(track: Polyline, at_m: float, side: int) -> tuple[float, float]:
    against = (track.heading_deg(at_m) + 180.0) % 360.0
    x, y = _spot(track, at_m, side)
    aim_x, aim_y = track.point(at_m - AIM_M)
    return against, float(np.degrees(np.arctan2(aim_y - y, aim_x - x)) % 360.0)


def _spot(track: Polyline, at_m: float, side: int) -> tuple[float, float]:
    return track.point(at_m, side * _offset_m(track, at_m, side))


def _offset_m(track: Polyline, at_m: float, side: int) -> float:
    right_m, left_m = track.reach_m(at_m)
    return (left_m if side > 0 else right_m) + VERGE_M


def _head(track: Polyline, at_m: float, side: int, facing_deg: float) -> Head:
    x_m, y_m = _spot(track, at_m, side)
    return Head(
        id=f"{at_m:g}",
        at_m=round(at_m, 1),
        side="left" if side > 0 else "right",
        offset_m=round(_offset_m(track, at_m, side), 2),
        height_m=HEIGHT_M,
        facing_deg=round(facing_deg, 1),
        protects=(),
        role=HeadRole.TRACK,
        aspects={},
        number=False,
        before="",
        node="",
        x_m=x_m,
        y_m=y_m,
    )


def evenly(venue: Venue, number: int) -> list[Head]:
    """Give the naive layout: as many heads, evenly spaced on the left, against the driving direction."""
    track = track_of(venue)
    places = [track.length_m * index / number for index in range(number)]
    return [_head(track, at_m, 1, (track.heading_deg(at_m) + 180.0) % 360.0) for at_m in places]


# --- what they speak for


def spoken_for(survey: Survey, kept: Sequence[Head], heads: Sequence[Head]) -> tuple[Head, ...]:
    """Let each new head speak for what lies between it and the next, and a stopping distance beyond."""
    beyond_m = float(survey.stopping_m(wet=True).max())
    ordered = sorted(heads, key=lambda head: head.at_m)
    standing = sorted({head.at_m for head in (*kept, *ordered)})
    taken = {head.id for head in survey.venue.heads}
    names = (name for number in count(1) if (name := f"n{number}") not in taken)
    return tuple(
        _named(survey.venue, head, name, _next_m(standing, head.at_m, survey.venue.length_m) + beyond_m)
        for head, name in zip(ordered, names, strict=False)
    )


def _next_m(standing: list[float], at_m: float, length_m: float) -> float:
    """Give how far ahead of a place the next head stands."""
    return min(((other - at_m) % length_m for other in standing if other != at_m), default=length_m)


def _named(venue: Venue, head: Head, name: str, reach_m: float) -> Head:
    track = track_of(venue)
    sectors = [sector for sector in venue.sectors if sector.id != PIT]
    ends = {sector.id: track.ahead(sector.from_m, sector.to_m) or track.length_m for sector in sectors}
    inside = [s.id for s in sectors if track.ahead(s.from_m, head.at_m) < ends[s.id]]
    ahead = sorted(sectors, key=lambda sector: track.ahead(head.at_m, sector.from_m))
    reached = [s.id for s in ahead if track.ahead(head.at_m, s.from_m) < reach_m]
    protects = tuple(dict.fromkeys((*inside, *reached)))
    return Head(
        **{each: getattr(head, each) for each in head.__struct_fields__} | {"id": name, "protects": protects}
    )


def as_toml(heads: Sequence[Head]) -> str:
    """Write heads as they stand in a venue file."""
    return "\n".join(
        f'[[head]]\nid = "{head.id}"\nat_m = {head.at_m:g}\nside = "{head.side}"\n'
        f"height_m = {head.height_m:g}\nfacing_deg = {head.facing_deg:g}\n"
        f"protects = [{_quoted(head.protects)}]\n"
        for head in heads
    )


def _quoted(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)
