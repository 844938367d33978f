"""What makes a venue that loads doubtful. Each lint yields where, the value, and what would be right."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shapely import LinearRing, Point, STRtree

from signals.venue.approach import reach_of, track_of
from signals.venue.geometry import Polyline
from signals.venue.lines import KeyPath
from signals.venue.model import Head, Sector, Venue
from signals.venue.sight import sees, surface
from signals.words import PIT, HeadRole

Doubt = tuple[KeyPath, str, str]

DOUBLED = (HeadRole.START, HeadRole.PIT_EXIT)
LOOP_AT_LINE_M = 5.0
"""A loop this near the start line counts laps there."""
STRETCH_M = 10.0
"""Pieces in which the track is compared with itself."""
NEIGHBOURS = 2
"""Pieces this near one another touch anyway, in a hairpin too."""


def yellow_is_seen_in_time(venue: Venue) -> Iterator[Doubt]:
    """Warn where no head shows a sector's yellow to a driver who still has the ramp and reaction to it."""
    track, reach_m = track_of(venue), reach_of(venue)
    for index, sector in enumerate(venue.sectors):
        at_m = track.wrap(sector.from_m - reach_m)
        heads = protecting(venue, sector.id)
        if heads and not any(sees(venue, track, head, at_m) for head in heads):
            names = ", ".join(head.id for head in heads)
            right = (
                f"none of {names} is seen from {at_m:.0f} m, {reach_m:.0f} m before it; move, turn or add one"
            )
            yield _sector_path(index, sector), sector.id, right


def protecting(venue: Venue, sector: str) -> list[Head]:
    """Give the heads that speak for a sector to drivers on the track."""
    return [head for head in venue.heads if sector in head.protects and head.role not in DOUBLED]


def _sector_path(index: int, sector: Sector) -> KeyPath:
    return (PIT,) if sector.id == PIT else ("sector", index)


def sectors_have_two_heads(venue: Venue) -> Iterator[Doubt]:
    """Warn where one dead head, or one dead node, leaves a sector without a signal."""
    for index, sector in enumerate(venue.sectors):
        heads = protecting(venue, sector.id)
        if len(heads) < 2:  # noqa: PLR2004 - the lint's own name says it
            found = " and ".join(head.id for head in heads) or "none"
            yield (
                _sector_path(index, sector),
                sector.id,
                f"is protected by {found}; two heads outlast the loss of one",
            )
        elif len({head.node for head in heads}) == 1:
            right = f"all its heads hang on node {heads[0].node}; spread them over two"
            yield _sector_path(index, sector), sector.id, right


def starts_are_doubled(venue: Venue) -> Iterator[Doubt]:
    """Warn of start lamps without a twin: every start lamp is duplicated (STANDARDS S5)."""
    for index, head in enumerate(venue.heads):
        if head.role not in DOUBLED:
            continue
        twins = [each for each in venue.heads if each.id != head.id and _alike(each, head)]
        if not twins:
            right = (
                f"has no twin: a second head with role {head.role} that protects {', '.join(head.protects)}"
            )
            yield ("head", index, "role"), head.role, right
        elif all(twin.node == head.node for twin in twins):
            yield (
                ("head", index),
                head.id,
                f"hangs on the same node as its twin ({head.node}); give each its own",
            )


def _alike(one: Head, other: Head) -> bool:
    return one.role == other.role and set(one.protects) == set(other.protects)


def sectors_have_a_post(venue: Venue) -> Iterator[Doubt]:
    """Warn of sectors that nobody covers."""
    for index, sector in enumerate(venue.sectors):
        if not any(sector.id in post.covers for post in venue.posts):
            yield _sector_path(index, sector), sector.id, "is covered by no post"


def posts_have_somebody(venue: Venue) -> Iterator[Doubt]:
    """Warn of posts where none of the persons may stand."""
    for index, post in enumerate(venue.posts):
        if venue.persons and not any(post.id in person.posts for person in venue.persons):
            yield ("post", index), post.id, "is in no person's posts"


def numbers_can_be_shown(venue: Venue) -> Iterator[Doubt]:
    """Warn of a venue that can call no single kart."""
    if not any(head.number for head in venue.heads):
        yield ("head",), "", "no head has number = true: a call to one kart cannot be shown"


def heads_stand_before_what_they_protect(venue: Venue) -> Iterator[Doubt]:
    """Warn of heads that a driver passes only after the sector."""
    track = track_of(venue)
    sectors = {sector.id: sector for sector in venue.sectors if sector.id != PIT}
    for index, head in enumerate(venue.heads):
        if head.role in DOUBLED:
            continue
        for place, id_ in enumerate(head.protects):
            if id_ in sectors and _is_past(track, head, sectors[id_]):
                right = f"{head.id} stands at {head.at_m:g} m, past its end at {sectors[id_].to_m:g} m"
                yield ("head", index, "protects", place), id_, right


def _is_past(track: Polyline, head: Head, sector: Sector) -> bool:
    """Whether a head is not in a sector, and nearer after its end than before its start."""
    inside = track.ahead(sector.from_m, head.at_m) < (
        track.ahead(sector.from_m, sector.to_m) or track.length_m
    )
    return not inside and track.ahead(sector.to_m, head.at_m) < track.ahead(head.at_m, sector.from_m)


def heads_stand_beside_the_track(venue: Venue) -> Iterator[Doubt]:
    """Warn of heads on the track's surface, on any stretch of it."""
    track = track_of(venue)
    ground = surface(track, 0, track.length_m)
    for index, head in enumerate(venue.heads):
        if head.side != "above" and ground.contains(Point(head.x_m, head.y_m)):
            yield ("head", index), head.id, f"stands on the track at ({head.x_m:.1f}, {head.y_m:.1f})"


def track_keeps_to_itself(venue: Venue) -> Iterator[Doubt]:
    """Warn of a track that crosses or touches itself: right only with a bridge."""
    if not LinearRing([row[:2] for row in venue.centreline_m]).is_simple:
        yield ("track",), "", "its centreline crosses itself; only a bridge makes that right"
        return
    track = track_of(venue)
    count = max(3, round(track.length_m / STRETCH_M))
    ends = [track.length_m * index / count for index in range(count + 1)]
    pieces = [surface(track, ends[index], ends[index + 1]) for index in range(count)]
    for one, other in STRtree(pieces).query(pieces, predicate="intersects").T:
        apart = abs(int(one) - int(other))
        if min(apart, count - apart) > NEIGHBOURS:
            first, second = (
                f"{ends[piece]:.0f} to {ends[piece + 1]:.0f} m" for piece in sorted((one, other))
            )
            yield ("track",), "", f"overlaps itself: {first} and {second}"
            return


def line_is_timed(venue: Venue) -> Iterator[Doubt]:
    """Warn of a finish at the line where nothing tells who crossed it."""
    track = track_of(venue)
    near = (
        min(track.ahead(venue.start_line_m, loop.at_m), track.ahead(loop.at_m, venue.start_line_m))
        for loop in venue.loops
    )
    if venue.choices.finish_slow == "at-line" and not any(m <= LOOP_AT_LINE_M for m in near):
        yield (
            ("choices", "finish_slow"),
            "at-line",
            f"needs a loop within {LOOP_AT_LINE_M:g} m of the start line",
        )


def equipment_is_all_real_or_all_simulated(venue: Venue) -> Iterator[Doubt]:
    """Warn of a mixture: one simulated node puts real equipment under the simulated root too."""
    simulated = [node.simulated for node in venue.nodes]
    if any(simulated) and not all(simulated):
        first = simulated.index(True)
        right = "puts every real node under the simulated root too, and no check opens a real track"
        yield ("node", first, "simulated"), "true", right


CARRIES = {"heads": "heads", "kart": "karts", "call-box": "inputs"}
"""What a node of a kind is there for."""


def nodes_carry_something(venue: Venue) -> Iterator[Doubt]:
    """Warn of nodes that would be watched for nothing."""
    for index, node in enumerate(venue.nodes):
        wanted = CARRIES.get(node.kind)
        if wanted and not getattr(node, wanted):
            yield ("node", index), node.id, f"is of the kind {node.kind} and has no {wanted}"


LINTS: tuple[Callable[[Venue], Iterator[Doubt]], ...] = (
    yellow_is_seen_in_time,
    sectors_have_two_heads,
    starts_are_doubled,
    sectors_have_a_post,
    posts_have_somebody,
    numbers_can_be_shown,
    heads_stand_before_what_they_protect,
    heads_stand_beside_the_track,
    track_keeps_to_itself,
    line_is_timed,
    equipment_is_all_real_or_all_simulated,
    nodes_carry_something,
)
