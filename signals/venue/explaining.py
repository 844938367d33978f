"""`explain`: what a venue is and what its choices mean, in sentences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from signals.venue.approach import KMH, ramp_m, reach_of, reaction_m, track_of
from signals.venue.form import GRANTABLE
from signals.venue.model import Head, Limits, Post, Ramp, Sector, Venue
from signals.words import PIT, HeadRole


def explain(venue: Venue) -> dict[str, list[str]]:
    """Give sentences by heading, in reading order."""
    return {
        "Venue": list(_venue(venue)),
        "Sectors": [_sector(venue, sector) for sector in venue.sectors],
        "Approach": list(_approach(venue)),
        "Heads": [_head(head) for head in _in_driving_order(venue)],
        "Limits": list(_limits(venue)),
        "People": list(_people(venue)),
        "Equipment": list(_equipment(venue)),
        "Choices": list(_choices(venue)),
        "Before every group": [f"{item.text} ({item.key})." for item in venue.checklist],
        "Before opening": [
            f"{item.text}{EACH[item.each]}: {EFFECTS[item.effect]}." for item in venue.check_items
        ],
    }


EFFECTS = {
    "blocks": "if not, the track stays closed",
    "restricts": "if not, it opens with a restriction",
    "notes": "if not, it is noted",
}
EACH = {"venue": "", "kart": " (every kart)", "head": " (every head)"}


def _and(names: Iterable[object]) -> str:
    *first, last = [str(name) for name in names] or ["nothing"]
    return f"{', '.join(first)} and {last}" if first else last


def _seconds(ms: int) -> str:
    return f"{ms / 1000:g} s"


def _venue(venue: Venue) -> Iterator[str]:
    yield f"{venue.name} ({venue.id}) is {venue.length_m:.0f} m around, driven {venue.direction}."
    yield (
        f"The pit lane leaves the track at {venue.pit_entry_m:g} m and joins it at {venue.pit_exit_m:g} m; "
        f"laps are counted at {venue.start_line_m:g} m."
    )
    if venue.simulated:
        share = "All" if all(node.simulated for node in venue.nodes) else "Some"
        yield f"{share} of its equipment is simulated, so it runs as a simulation and opens no real track."
    day = venue.operating
    yield f"Groups run from {day.opens} to {day.closes} ({day.timezone}); the day ends at {day.day_ends}."


def _sector(venue: Venue, sector: Sector) -> str:
    track = track_of(venue)
    length_m = track.ahead(sector.from_m, sector.to_m) or track.length_m
    where = f"{sector.from_m:g} to {sector.to_m:g} m"
    if sector.id == PIT:
        return f"{sector.name} ({sector.id}): leaves at {sector.from_m:g} m, joins at {sector.to_m:g} m."
    wraps = ", across the first point" if sector.from_m > sector.to_m else ""
    return f"{sector.name} ({sector.id}): {where}{wraps}, {length_m:.0f} m."


def _approach(venue: Venue) -> Iterator[str]:
    yield _reach_sum("dry", venue.limits, venue.ramp, venue.timing.reaction)
    yield _reach_sum("wet", venue.limits_wet, venue.ramp_wet, venue.timing.reaction)
    yield f"So a caution also slows what lies within {reach_of(venue):.1f} m before its sector:"
    for sector in venue.sectors:
        yield f"a caution in {sector.name} slows {_and(sector.approach)} too."


def _reach_sum(surface: str, limits: Limits, ramp: Ramp, reaction_ms: int) -> str:
    """Spell the arithmetic of an approach out."""
    fast, slow = max(limits.classes.values()), limits.caution
    reaction, braking = reaction_m(fast, reaction_ms), ramp_m(fast, slow, ramp.fall)
    squares = f"({fast / KMH:.2f}² - {min(fast, slow) / KMH:.2f}²) / (2 x {ramp.fall:g})"
    return (
        f"In the {surface}, from {fast:g} to {slow:g} km/h: {_seconds(reaction_ms)} of reaction at "
        f"{fast / KMH:.2f} m/s is {reaction:.1f} m, the ramp {squares} is {braking:.1f} m, "
        f"together {reaction + braking:.1f} m."
    )


def _in_driving_order(venue: Venue) -> list[Head]:
    return sorted(venue.heads, key=lambda head: (head.at_m, head.id))


ROLES = {
    HeadRole.TRACK: "track head",
    HeadRole.START: "start lamp",
    HeadRole.FINISH: "finish-line head",
    HeadRole.PIT_EXIT: "pit exit",
}


def _head(head: Head) -> str:
    number = " with a number display" if head.number else ""
    return (
        f"{head.id}, {ROLES[head.role]}{number} at {head.at_m:g} m ({head.side}, node {head.node}), protects "
        f"{_and(head.protects)}; if it is lost, caution also stands on what {head.before} protects."
    )


def _limits(venue: Venue) -> Iterator[str]:
    """Give a table, one row a limit, dry beside wet."""
    dry, wet = _flat(venue.limits), _flat(venue.limits_wet)
    yield f"{'km/h':<20}{'dry':>6}{'wet':>6}"
    for name, limit in dry.items():
        yield f"{name:<20}{limit:>6g}{wet[name]:>6g}"
    yield f"{'falls, m/s²':<20}{venue.ramp.fall:>6g}{venue.ramp_wet.fall:>6g}"
    yield f"{'rises, m/s²':<20}{venue.ramp.rise:>6g}{venue.ramp_wet.rise:>6g}"


def _flat(limits: Limits) -> dict[str, float]:
    return {
        **{f"class {name}": limit for name, limit in reversed(limits.classes.items())},
        "after the finish": limits.finish,
        "caution": limits.caution,
        "disqualified": limits.disqualified,
        "return": limits.return_,
        "pit lane": limits.pit,
        "person on the track": limits.creep,
        "stop": limits.stop,
        "reverse": limits.reverse,
        "boost adds": limits.boost,
    }


def _people(venue: Venue) -> Iterator[str]:
    for post in venue.posts:
        names = [person.name for person in venue.persons if post.id in person.posts]
        rank = ", a supervisor," if post.supervisor else ""
        yield f"{post.name} ({post.id}){rank} covers {_and(post.covers)}: {_and(names or ['nobody named'])}."
        yield f"It may stop and caution, and {_authority(post)}."


def _authority(post: Post) -> str:
    if set(post.may) == set(GRANTABLE):
        return "everything else"
    return _and(post.may) if post.may else "nothing else"


def _equipment(venue: Venue) -> Iterator[str]:
    by_class = groupby(sorted(venue.karts, key=lambda kart: kart.class_), key=lambda kart: kart.class_)
    fleet = [f"{len(list(karts))} {name}" for name, karts in by_class]
    yield f"{len(venue.karts)} karts: {_and(fleet)}; without a beat they slow within their node's lease."
    yield f"{len(venue.heads)} heads, {len(venue.nodes)} nodes, {len(venue.loops)} timing loops."
    if venue.simulated:
        yield _kart_model(venue)
    for each in venue.inputs:
        where = f" in {each.sector}" if each.sector else ""
        yield f"Input {each.id} on node {each.node}: {each.kind}{where}."


def _kart_model(venue: Venue) -> str:
    kart = venue.kart_model
    return (
        f"A simulated kart weighs {kart.mass_kg:g} kg with its driver, has {kart.power_kw:g} kW, and grips "
        f"{kart.grip:g} of its weight in the dry, {kart.grip_wet:g} in the wet."
    )


def _choices(venue: Venue) -> Iterator[str]:
    choices, timing = venue.choices, venue.timing
    if choices.start == "grid":
        yield "Grid start: karts stand on their places, and the start lets all out at once."
    else:
        yield f"One-by-one start: karts leave the pit lane singly, {_seconds(timing.gap)} apart at least."
    at_once = choices.finish_slow == "all-at-once"
    how = "all karts slow at once" if at_once else "each kart slows as it crosses the line"
    yield f"At the finish {how}; the chequered signal is {choices.finish_aspect}."
    stop = f"may go {venue.limits.stop:g} km/h" if venue.limits.stop else "stand"
    yield f"Under red karts {stop}; under fire and medical stops they stand."
    flash = f"{60_000 / choices.flash_period_ms:g} times a minute, lit {choices.flash_lit_ms}"
    why = f" ({choices.flash_because})" if choices.flash_because else ""
    yield f"Lamps flash {flash} of {choices.flash_period_ms} ms{why}."
    fails = (f"a {ROLES[role]} {aspect}" for role, aspect in choices.fail_aspect.items())
    yield f"Left alone, {_and(fails)}."
    mixed = "may drive together, at the slower limit" if choices.mixed_classes else "never drive together"
    yield f"Different classes {mixed}."
    boost = f"{choices.boosts} a lap, {venue.limits.boost:g} km/h more for {_seconds(timing.boost)}"
    yield f"Boosts: {boost if choices.boosts else 'none'}."
