"""A venue with other choices: what a study compares."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from signals.errors import Unusable
from signals.venue.approach import reach_of, track_of
from signals.venue.model import Head, Kart, Limits, Node, Venue
from signals.words import PIT, HeadRole
from sim.sightlines.propose import evenly, propose, spoken_for
from sim.sightlines.survey import Condition, Survey

WET_SHARE = 0.7
"""Of a dry ramp, as a venue file has it by default."""
AS_IT_STANDS = "as-it-stands"


def with_ramp(venue: Venue, fall_mps2: float) -> Venue:
    """Give a venue whose limiters fall so steeply; wet as much less as before."""
    share = venue.ramp_wet.fall / venue.ramp.fall
    return _approached(
        replace(
            venue,
            ramp=replace(venue.ramp, fall=fall_mps2),
            ramp_wet=replace(venue.ramp_wet, fall=fall_mps2 * share),
        )
    )


def with_caution(venue: Venue, caution_kmh: float) -> Venue:
    """Give a venue whose karts drive so fast under yellow; finish no slower, what is slower no faster."""
    return _approached(
        replace(
            venue,
            limits=_cautious(venue.limits, caution_kmh),
            limits_wet=_cautious(venue.limits_wet, caution_kmh),
        )
    )


def _cautious(limits: Limits, caution_kmh: float) -> Limits:
    if caution_kmh > min(limits.classes.values()):
        slowest = min(limits.classes.values())
        raise Unusable(
            f"a caution limit of {caution_kmh:g} km/h is above the slowest class, {slowest:g} km/h"
        )
    below = {
        name: min(getattr(limits, name), caution_kmh) for name in ("creep", "return_", "disqualified", "pit")
    }
    return replace(limits, caution=caution_kmh, finish=max(limits.finish, caution_kmh), **below)


def with_karts(venue: Venue, count: int, class_: str) -> Venue:
    """Give a venue with so many karts of one class."""
    if class_ not in venue.limits.classes:
        raise Unusable(f"there is no class {class_!r}; there are {', '.join(venue.limits.classes)}")
    numbers = range(1, count + 1)
    karts = tuple(Kart(number=number, class_=class_, node=f"k{number}") for number in numbers)
    lease_ms = venue.timing.lease_kart
    nodes = tuple(
        Node(
            id=f"k{number}",
            kind="kart",
            simulated=True,
            heads=(),
            karts=(number,),
            inputs=(),
            lease_ms=lease_ms,
        )
        for number in numbers
    )
    return replace(venue, karts=karts, nodes=(*(node for node in venue.nodes if not node.karts), *nodes))


def with_heads(venue: Venue, layout: str) -> Venue:
    """Give a venue whose track heads stand otherwise: "as-it-stands", "even-N" or "best-N".

    Start and pit-exit heads stay.
    """
    if layout == AS_IT_STANDS:
        return venue
    way, _, number = layout.partition("-")
    if way not in ("even", "best") or not number.isdigit() or not int(number):
        raise Unusable(f"heads {layout!r}: one of {AS_IT_STANDS}, even-N and best-N, N how many")
    survey, condition = Survey(venue), Condition(wet=False, eye_m=0.7)
    if way == "best":
        heads = propose(survey, int(number), condition).heads
    else:
        heads = spoken_for(survey, (), evenly(venue, int(number)))
    return _with(venue, heads)


def _with(venue: Venue, heads: Sequence[Head]) -> Venue:
    stay = [head for head in venue.heads if head.role in (HeadRole.START, HeadRole.PIT_EXIT)]
    pattern = next(head for head in venue.heads if head.role is HeadRole.TRACK)
    placed = sorted(heads, key=lambda head: head.at_m)
    made = [
        replace(
            head,
            aspects=pattern.aspects,
            before=placed[index - 1].id,
            node=f"v{index}",
            protects=_with_pit(venue, head),
        )
        for index, head in enumerate(placed)
    ]
    nodes = tuple(
        Node(id=head.node, kind="heads", simulated=True, heads=(head.id,), karts=(), inputs=(),
             lease_ms=venue.timing.lease_head)
        for head in made
    )  # fmt: skip
    kept = tuple(
        replace(node, heads=tuple(head.id for head in stay if head.node == node.id)) for node in venue.nodes
    )
    behind = tuple(replace(head, before=_before(venue, made, head)) for head in stay)
    return replace(venue, heads=(*made, *behind), nodes=(*kept, *nodes))


def _before(venue: Venue, heads: Sequence[Head], head: Head) -> str:
    """Give the head that a driver passes before another."""
    return min(heads, key=lambda each: (head.at_m - each.at_m) % venue.length_m).id


def _with_pit(venue: Venue, head: Head) -> tuple[str, ...]:
    """Let a head before the pit entry speak for the pit lane too."""
    entry = next(
        sector.id for sector in venue.sectors
        if sector.id != PIT and _holds(venue, sector.from_m, sector.to_m, venue.pit_entry_m)
    )  # fmt: skip
    return (*head.protects, PIT) if entry in head.protects else head.protects


def _holds(venue: Venue, from_m: float, to_m: float, at_m: float) -> bool:
    length_m = venue.length_m
    return (at_m - from_m) % length_m < ((to_m - from_m) % length_m or length_m)


def _approached(venue: Venue) -> Venue:
    """Work out anew which sectors a caution reaches back into: see `signals.venue.build`."""
    track, reach_m = track_of(venue), reach_of(venue)
    laps = [sector for sector in venue.sectors if sector.id != PIT]
    into = next(each.id for each in laps if _holds(venue, each.from_m, each.to_m, venue.pit_exit_m))

    def approach(of: str, start_m: float) -> tuple[str, ...]:
        before = tuple(
            each.id
            for each in laps
            if each.id != of
            and (_holds(venue, each.from_m, each.to_m, start_m) or track.ahead(each.to_m, start_m) < reach_m)
        )
        return (*before, PIT) if of == into else before

    return replace(
        venue,
        sectors=tuple(
            replace(sector, approach=approach(sector.id, sector.from_m)) for sector in venue.sectors
        ),
    )
