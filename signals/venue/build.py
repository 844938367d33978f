"""A checked draft → `Venue`: defaults filled in, derived relations computed."""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec
from msgspec import Struct

from signals.venue import form, model
from signals.venue.approach import approach_m
from signals.venue.defaults import (
    CLASS,
    FlatLimits,
    aspects_of,
    classes_in,
    dry_limits,
    fail_aspects,
    wet_limits,
    wet_ramp,
)
from signals.venue.draft import Draft
from signals.venue.geometry import Polyline
from signals.words import PIT, Aspect, HeadRole, InputKind

M = TypeVar("M", bound=Struct)
SAME_PLACE_M = 0.5
"""Heads nearer than this along the track stand at the same place: twins, not one before the other."""
VERGE_M = 1.0
"""From the track's edge to a head whose offset is not given."""


def build(draft: Draft) -> model.Venue:
    """Build the venue of a draft without mistakes."""
    file, track, pit = draft.form, draft.track, draft.pit
    if track is None or pit is None:
        raise AssertionError("a draft without mistakes has both centrelines")
    flat = dry_limits(file)
    limits, wet = _limits(flat), _limits(wet_limits(file, flat))
    ramp = _like(model.Ramp, file.ramp_mps2)
    ramp_wet = model.Ramp(**wet_ramp(file))
    reaction_ms = file.timing_ms.reaction
    reach_m = max(approach_m(limits, ramp, reaction_ms), approach_m(wet, ramp_wet, reaction_ms))
    return model.Venue(
        id=file.venue.id,
        name=file.venue.name,
        direction=file.venue.direction,
        path=draft.path,
        digest=draft.digest(),
        length_m=track.length_m,
        start_line_m=file.track.start_line_m,
        centreline_m=track.rows,
        pit_entry_m=file.pit.entry_m,
        pit_exit_m=file.pit.exit_m,
        pit_centreline_m=pit.rows,
        sectors=_sectors(file, track, reach_m),
        posts=tuple(_post(post) for post in file.post),
        persons=tuple(_like(model.Person, person) for person in file.person),
        nodes=tuple(_node(node, file.timing_ms) for node in file.node),
        inputs=tuple(_input(each, file) for each in file.input),
        loops=tuple(_loop(loop, file, track) for loop in file.loop),
        heads=_heads(file, track),
        barriers=tuple(_barrier(barrier) for barrier in file.barrier),
        karts=tuple(_kart(kart, file) for kart in file.kart),
        check_items=tuple(_like(model.CheckItem, item) for item in file.check_item),
        checklist=tuple(_like(model.ChecklistItem, item) for item in file.checklist.item),
        limits=limits,
        limits_wet=wet,
        ramp=ramp,
        ramp_wet=ramp_wet,
        kart_model=_like(model.KartModel, file.kart_model),
        timing=_like(model.Timing, file.timing_ms),
        choices=_choices(file),
        operating=_like(model.Operating, file.operating),
        wiring=draft.path.parent / file.wiring.table if file.wiring.table else None,
        wires=draft.wires,
    )


def _like(kind: type[M], table: Struct, **changed: Any) -> M:
    """Copy a table of the file into the model's struct of the same fields."""
    return kind(**{**msgspec.structs.asdict(table), **changed})


def _limits(flat: FlatLimits) -> model.Limits:
    classes = {name: flat[CLASS + name] for name in classes_in(flat)}
    single = {key: limit for key, limit in flat.items() if not key.startswith(CLASS)}
    return_ = single.pop("return")
    return model.Limits(classes=classes, return_=return_, **single)


def _choices(file: form.File) -> model.Choices:
    aspect = Aspect(file.choices.finish_aspect)
    return _like(model.Choices, file.choices, finish_aspect=aspect, fail_aspect=fail_aspects(file))


def _sectors(file: form.File, track: Polyline, reach_m: float) -> tuple[model.Sector, ...]:
    """Build the track's sectors in driving order, then the pit lane."""
    spans = [(each.id, each.name, each.from_m, each.to_m) for each in file.sector]
    spans.append((PIT, "Pit lane", file.pit.entry_m, file.pit.exit_m))
    return tuple(
        model.Sector(
            id=id_, name=name, from_m=start, to_m=end, approach=_approach(file, track, id_, start, reach_m)
        )
        for id_, name, start, end in spans
    )


def _approach(file: form.File, track: Polyline, of: str, start_m: float, reach_m: float) -> tuple[str, ...]:
    """Give the sectors any part of which lies within reach before a sector's start.

    The pit lane is on the approach of the sector it leads into, wherever in it that is.
    """
    before = [
        each.id
        for each in file.sector
        if each.id != of and (holds(each, start_m, track) or track.ahead(each.to_m, start_m) < reach_m)
    ]
    into = [each.id for each in file.sector if holds(each, file.pit.exit_m, track)]
    return (*before, PIT) if of in into else tuple(before)


def holds(sector: form.SectorTable, along_m: float, track: Polyline) -> bool:
    """Whether a place lies in a sector, its start included."""
    return track.ahead(sector.from_m, along_m) < (track.ahead(sector.from_m, sector.to_m) or track.length_m)


def sector_at(file: form.File, along_m: float, track: Polyline) -> str:
    """Give the track's sector that holds a place."""
    return next(each.id for each in file.sector if holds(each, along_m, track))


def _post(post: form.PostTable) -> model.Post:
    words = form.GRANTABLE if form.EVERYTHING in post.may else post.may
    return _like(model.Post, post, name=post.name or post.id, may=tuple(words))


def _node(node: form.NodeTable, timing: form.TimingTable) -> model.Node:
    usual = timing.lease_kart if node.kind == "kart" else timing.lease_head
    return _like(model.Node, node, lease_ms=node.lease_ms or usual)


def _input(each: form.InputTable, file: form.File) -> model.Input:
    node = next(node.id for node in file.node if each.id in node.inputs)
    sector = each.sector or (PIT if each.kind is InputKind.GATE else None)
    return model.Input(id=each.id, kind=each.kind, sector=sector, node=node)


def _loop(loop: form.LoopTable, file: form.File, track: Polyline) -> model.Loop:
    return model.Loop(id=loop.id, at_m=loop.at_m, sector=loop.sector or sector_at(file, loop.at_m, track))


def _kart(kart: form.KartTable, file: form.File) -> model.Kart:
    node = next(node.id for node in file.node if kart.number in node.karts)
    return model.Kart(number=kart.number, class_=kart.class_, node=node)


def _barrier(barrier: form.BarrierTable) -> model.Barrier:
    return model.Barrier(points_m=tuple((x, y) for x, y in barrier.points_m), height_m=barrier.height_m)


def _heads(file: form.File, track: Polyline) -> tuple[model.Head, ...]:
    return tuple(_head(head, file, track) for head in file.head)


def _head(head: form.HeadTable, file: form.File, track: Polyline) -> model.Head:
    right, left = track.reach_m(head.at_m)
    usual = {"right": right + VERGE_M, "left": left + VERGE_M, "above": 0.0}[head.side]
    offset_m = usual if head.offset_m is None else head.offset_m
    x_m, y_m = track.point(head.at_m, offset_m if head.side == "left" else -offset_m)
    facing = (track.heading_deg(head.at_m) + 180) % 360 if head.facing_deg is None else head.facing_deg % 360
    return _like(
        model.Head,
        head,
        offset_m=offset_m,
        facing_deg=facing,
        aspects=aspects_of(head, file),
        before=_before(head, file, track),
        node=next(node.id for node in file.node if head.id in node.heads),
        x_m=x_m,
        y_m=y_m,
    )


def _before(head: form.HeadTable, file: form.File, track: Polyline) -> str:
    """Give the head a driver passes before this one: the last on the track that is no twin of it.

    When this one is dark, that one must warn. A venue with one place for heads has none: itself.
    """
    behind = {
        each.id: track.ahead(each.at_m, head.at_m)
        for each in file.head
        if each.role in (HeadRole.TRACK, HeadRole.FINISH)
        and SAME_PLACE_M < track.ahead(each.at_m, head.at_m) < track.length_m - SAME_PLACE_M
    }
    return min(behind, key=behind.__getitem__, default=head.id)
