"""A venue as the core sees it."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from signals import say
from signals.core.state import Layout
from signals.venue.model import Limits, Sector, Venue
from signals.words import PIT


def layout_of(venue: Venue, now_ms: int | None = None) -> Layout:
    """Give the core's view of a venue; `now_ms` (UTC, default: now) fixes the clock times of sentences."""
    heads, posts, karts = venue.heads, venue.posts, venue.karts
    choices, timing = venue.choices, venue.timing
    return Layout(
        sectors=tuple(sector.id for sector in venue.sectors),
        sector_names={sector.id: sector.name for sector in venue.sectors},
        approach={sector.id: sector.approach for sector in venue.sectors},
        after_pit=sector_at(venue, venue.pit_exit_m),
        heads=tuple(head.id for head in heads),
        roles={head.id: head.role for head in heads},
        protects={head.id: head.protects for head in heads},
        before={head.id: head.before for head in heads},
        numbers=frozenset(head.id for head in heads if head.number),
        posts=tuple(post.id for post in posts),
        post_names={post.id: say.spoken(post) for post in posts},
        covers={post.id: post.covers for post in posts},
        supervisors=frozenset(post.id for post in posts if post.supervisor),
        may={post.id: frozenset(post.may) for post in posts},
        karts=tuple(kart.number for kart in karts),
        kart_class={kart.number: kart.class_ for kart in karts},
        classes=tuple(venue.limits.classes),
        inputs=tuple(contact.id for contact in venue.inputs),
        input_kind={contact.id: contact.kind for contact in venue.inputs},
        input_sector={contact.id: contact.sector for contact in venue.inputs if contact.sector},
        checklist=tuple(item.id for item in venue.checklist),
        limits_kmh={"dry": _caps(venue.limits), "wet": _caps(venue.limits_wet)},
        boosts=choices.boosts,
        fail_aspect=choices.fail_aspect,
        finish_aspect=choices.finish_aspect,
        grid_start=choices.start == "grid",
        finish_at_line=choices.finish_slow == "at-line",
        mixed_classes=choices.mixed_classes,
        armed_ms=timing.armed,
        gap_ms=timing.gap,
        move_over_ms=timing.move_over,
        show_ms=timing.show,
        stood_ms=timing.stood,
        utc_offset_min=_utc_offset_min(venue.operating.timezone, now_ms),
    )


def sector_at(venue: Venue, at_m: float) -> str:
    """Give the track sector that a point of the centreline lies in."""
    track = [sector for sector in venue.sectors if sector.id != PIT]
    return next((sector.id for sector in track if _holds(sector, at_m)), track[0].id)


def _holds(sector: Sector, at_m: float) -> bool:
    if sector.from_m < sector.to_m:
        return sector.from_m <= at_m < sector.to_m
    return at_m >= sector.from_m or at_m < sector.to_m


def _caps(limits: Limits) -> dict[str, float]:
    caps = {
        "zero": 0.0,
        "stop": limits.stop,
        "creep": limits.creep,
        "return": limits.return_,
        "disqualified": limits.disqualified,
        "caution": limits.caution,
        "finish": limits.finish,
        "pit": limits.pit,
    }
    return caps | limits.classes


def _utc_offset_min(timezone: str, now_ms: int | None) -> int:
    now = datetime.now(UTC) if now_ms is None else datetime.fromtimestamp(now_ms / 1000, UTC)
    offset = now.astimezone(ZoneInfo(timezone)).utcoffset()
    return round(offset.total_seconds() / 60) if offset else 0
