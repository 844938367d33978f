"""Signals on a track against published rules; the marks say how each source was read: R in its own text,
Q as quoted by another page.

Not applied, because practice or scope differs: S2 (a yellow that ends only at the next post is every
sector's own here), S6 (laps under a black flag are not counted), and of S4 the lamps' seconds (a start
here is a green, not red going out).
"""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from signals.core.state import Member
from signals.venue import lint
from signals.venue.model import Venue
from signals.words import PIT, Aspect, Condition, HeadRole, Phase
from tests.standards.conftest import Session, core_of, venue_named

ON_TRACK = (HeadRole.TRACK, HeadRole.FINISH)


def last_head_before(venue: Venue, at_m: float) -> str:
    """The post immediately before a spot, by nothing but the distances in the venue's file."""
    heads = [head for head in venue.heads if head.role in ON_TRACK]
    nearest = min((at_m - head.at_m) % venue.length_m for head in heads)
    return next(head.id for head in heads if (at_m - head.at_m) % venue.length_m == nearest)


def spots(venue: Venue) -> list[tuple[str, float]]:
    """Hazards every few metres around the whole track, as (sector, metres along it)."""
    found = []
    for sector in venue.sectors:
        if sector.id != PIT:
            long_m = (sector.to_m - sector.from_m) % venue.length_m
            found += [(sector.id, sector.from_m + ahead) for ahead in range(1, int(long_m), 4)]
    return found


def test_s1_yellow_is_shown_immediately_before_the_hazard(each_venue: Venue) -> None:
    """S1 (Q): FIA International Sporting Code, Appendix H 2.5.5: at the post immediately before it."""
    session = Session(core_of(each_venue.id))
    session.race(1)
    wrong = []
    for sector in (each.id for each in each_venue.sectors if each.id != PIT):
        session.ok("caution", "p1", where=sector)
        aspects = session.picture.aspects
        wrong += [
            (at_m, before)
            for where, at_m in spots(each_venue)
            if where == sector
            for before in [last_head_before(each_venue, at_m)]
            if aspects[before][0] is not Aspect.YELLOW_FLASH
        ]
        session.ok("lift", "p1", hold=f"caution:{sector}:p1", checked=True)
    assert wrong == []


def test_s1_no_overtaking_from_the_first_yellow_until_the_green(session: Session) -> None:
    """S1 (Q): FIA International Sporting Code, Appendix H 2.5.5."""
    session.race(1)
    for sector in ("s1", "s2", "s3"):
        session.equipment("kart-at", kart=1, where=sector)
        session.ok("move-over-one", kart=1)  # clear: a faster kart may be let past
        session.ok("withdraw-one", kart=1)
    session.ok("caution", "p1", where="s2")
    session.ok("caution", "p1", where="s3")
    for sector, head in (("s2", "h2"), ("s3", "h3")):
        session.equipment("kart-at", kart=1, where=sector)
        assert session.picture.aspects[head][0] is Aspect.YELLOW_FLASH
        assert session.refused("move-over-one", kart=1) == {"no-overtaking-here"}
    session.equipment("kart-at", kart=1, where="s4")
    assert session.picture.aspects["h4"][0] is Aspect.GREEN
    session.ok("move-over-one", kart=1)


def test_s1_a_yellow_ends_the_move_over_that_ran(session: Session) -> None:
    """S1 (Q): FIA International Sporting Code, Appendix H 2.5.5."""
    session.race(1)
    session.equipment("kart-at", kart=1, where="s2")
    session.ok("move-over-one", kart=1)
    session.ok("caution", "p1", where="s2")
    assert session.picture.karts[1].call == "none"
    session.ok("stop", "p1")
    assert session.refused("move-over-one", kart=1) == {"no-overtaking-here"}


def shown(session: Session, head: str) -> Aspect:
    aspect: Aspect = session.picture.aspects[head][0]
    return aspect


def test_s1_overtaking_is_back_with_the_green_after_the_incident_and_no_sooner(session: Session) -> None:
    """S1 (Q): FIA International Sporting Code, Appendix H 2.5.5: through stop, lift and recovery to green."""
    session.race(1)
    session.ok("stop", "p1")
    session.equipment("kart-stands", kart=1)
    assert session.refused("move-over-one", kart=1) == {"no-overtaking-here"}
    session.ok("lift", "p1", hold="stop:p1")
    assert shown(session, "h1") is Aspect.YELLOW_FLASH
    assert session.refused("move-over-one", kart=1) == {"no-overtaking-here"}
    session.ok("clear", checked=True)
    assert shown(session, "h1") is Aspect.GREEN
    session.ok("move-over-one", kart=1)


@pytest.mark.parametrize("phase", ["racing", "finishing"])
@pytest.mark.parametrize("where", ["s1", "s6", "lost"])
def test_s3_the_next_group_waits_until_every_kart_is_off(session: Session, phase: str, where: str) -> None:
    """S3 (R): a national kart federation's start procedure (New Zealand)."""
    session.race(1, 2)
    following = (Member(3, "next driver", "adult"),)
    session.ok("prepare", entries=following)
    session.equipment("kart-at", kart=1, where=PIT)
    if where == "lost":
        session.equipment("kart-lost", kart=2)
    else:
        session.equipment("kart-at", kart=2, where=where)
    if phase == "finishing":
        session.ok("finish")
        assert session.refused("stage") == {"track-occupied"}
    else:
        assert session.refused("stage") == {"track-occupied", "wrong-phase"}
    assert session.state.beside.next is not None


def test_s3_the_start_itself_asks_again(session: Session) -> None:
    """S3 (R): a national kart federation's start procedure (New Zealand)."""
    session.stage(1)
    session.ok("arm")
    session.equipment("kart-at", kart=7, where="s4")  # of nobody's group, and yet out there
    assert session.picture.phase is Phase.STAGING
    assert "track-occupied" in session.refused("arm")


@pytest.mark.parametrize("trouble", ["caution", "stop", "head-lost", "kart-lost"])
def test_s4_a_yellow_during_the_start_aborts_it_and_red_is_lit(trouble: str) -> None:
    """S4 (Q): a national kart federation's circuit rules (Sweden). On the grid start's venue."""
    venue = venue_named("quarry-ring")
    session = Session(core_of(venue.id))
    session.stage(1)
    session.ok("arm")
    targets: dict[str, dict[str, Any]] = {"head-lost": {"head": "fin1"}, "kart-lost": {"kart": 1}}
    if trouble in targets:
        session.equipment(trouble, **targets[trouble])
    else:
        session.ok(trouble, "p1", **({"where": "s1"} if trouble == "caution" else {}))
    assert session.picture.phase is Phase.STAGING
    lit = {session.picture.aspects[head.id][0] for head in venue.heads if head.role is HeadRole.START}
    assert lit == {Aspect.RED}
    assert "wrong-phase" in session.refused("start")


def test_s5_every_start_lamp_is_doubled(each_venue: Venue) -> None:
    """S5 (Q): a national kart federation's circuit rules (Sweden)."""
    lets_go = [head for head in each_venue.heads if head.role in (HeadRole.START, HeadRole.PIT_EXIT)]
    for head in lets_go:
        twins = [h for h in lets_go if h.role is head.role and h.protects == head.protects and h is not head]
        assert twins
        assert all(twin.node != head.node for twin in twins), "one dead node would darken both"


def test_s5_a_start_lamp_without_a_twin_is_warned_of(venue: Venue) -> None:
    """S5 (Q): a national kart federation's circuit rules (Sweden)."""
    alone = replace(venue, heads=tuple(head for head in venue.heads if head.id != "px2"))
    assert any("has no twin" in found.right for found in lint(alone))
    assert not any("has no twin" in found.right for found in lint(venue))


def test_dark_never_means_clear(session: Session) -> None:
    """S7: common practice, no source; it disagrees on red-out against green-lit. Clear is always a green."""
    session.race(1)
    assert session.picture.condition is Condition.CLEAR
    assert Aspect.DARK not in {shown[0] for shown in session.picture.aspects.values()}
