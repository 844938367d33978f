"""What the controller says, as messages of the contract, made of the core's picture of its state.

Each is made with `seq` 1 and `at` 0, so that two of the same content are equal; the publisher
stamps them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from signals.core.state import KartPicture, Member, Party, Picture, StandingHold, State
from signals.mqtt import contract
from signals.mqtt.contract import (
    AspectCommand,
    CapsCommand,
    Confirmation,
    Entry,
    Flash,
    Group,
    HeadView,
    HoldView,
    KartView,
    LimitCommand,
    NextGroup,
    Opening,
)
from signals.venue.model import Choices, Venue
from signals.words import Aspect, HoldKind, Verdict

_FLASHING = (Aspect.YELLOW_FLASH, Aspect.BLUE_FLASH)


def aspect_command(
    state: State, inc: str, due: tuple[Aspect, int | None, str | None], choices: Choices
) -> AspectCommand:
    """Tell a head, at the incarnation `inc`, what it is to show: (aspect, number, lamp)."""
    aspect, number, lamp = due
    flash = Flash(period_ms=choices.flash_period_ms, lit_ms=choices.flash_lit_ms)
    return AspectCommand(
        boot=state.boot,
        seq=1,
        epoch=state.epoch,
        inc=inc,
        aspect=aspect,
        flash=flash if aspect in _FLASHING else None,
        number=number,
        lamps=[lamp] if lamp else None,
    )


def limit_command(state: State, inc: str, kart: KartPicture) -> LimitCommand:
    """Tell a kart, at the incarnation `inc`, the limit it is to obey."""
    return LimitCommand(
        boot=state.boot,
        seq=1,
        epoch=state.epoch,
        inc=inc,
        limit_kmh=kart.limit_kmh,
        boosts=kart.boosts,
        because=kart.because,
    )


def caps_command(venue: Venue, boot: str, inc: str, surface: str, seq: int = 1) -> CapsCommand:
    """Tell a kart the constants its limiter keeps, dry or wet."""
    limits, ramp = (venue.limits_wet, venue.ramp_wet) if surface == "wet" else (venue.limits, venue.ramp)
    return CapsCommand(
        boot=boot,
        seq=seq,
        inc=inc,
        fall_mps2=ramp.fall,
        rise_mps2=ramp.rise,
        stop_kmh=limits.stop,
        fail_kmh=limits.caution,
        creep_kmh=limits.creep,
        reverse_kmh=limits.reverse,
        boost_kmh=limits.boost,
    )


def state_message(state: State, picture: Picture, shown: Mapping[str, Aspect | None]) -> contract.State:
    """Spell out the whole picture; `shown` is what each head last said it shows."""
    return contract.State(
        boot=state.boot,
        seq=state.serial,
        epoch=state.epoch,
        at=0,
        phase=picture.phase,
        condition=picture.condition,
        surface=_word(picture.surface),
        monitor=_word(picture.monitor),
        journal=_word(picture.journal),
        ready=picture.ready,
        sectors=dict(picture.sectors),
        holds=[_hold(hold) for hold in picture.holds],
        karts={str(number): _kart(kart) for number, kart in picture.karts.items()},
        heads={head: _head(head, picture, shown[head]) for head in picture.aspects},
        faults=list(picture.faults),
    )


def group_message(state: State, venue: Venue) -> Group:
    """Tell who drives, what is confirmed, and what comes next; names of persons are only here."""
    beside = state.beside
    verdict, restriction, until, simulated = beside.opening or (None, None, None, False)
    following = beside.next
    return Group(
        boot=state.boot,
        seq=1,
        id=beside.group.id,
        karts=_entries(beside.group),
        checklist=_checklist(beside.group, venue),
        opening=Opening(
            verdict=None if verdict is None else Verdict(verdict),
            restriction=restriction,
            until=until,
            simulated=simulated or (verdict is not None and venue.simulated),
        ),
        started_at=beside.started_at,
        planned_s=venue.timing.session // 1000,
        next=None
        if following is None
        else NextGroup(id=following.id, karts=_entries(following), checklist=_checklist(following, venue)),
    )


def _word(word: str) -> Any:
    """Give a word of the core where the contract lists the words it knows (the tests hold them equal)."""
    return word


def _hold(standing: StandingHold) -> HoldView:
    return HoldView(
        what=_word(standing.what),
        where=standing.where,
        kind=None if standing.kind is None else HoldKind(standing.kind),
        post=standing.post,
        reason=standing.hold.reason,
        since=standing.hold.since,
        id=standing.hold.id,
        partner=standing.hold.partner,
    )


def _kart(kart: KartPicture) -> KartView:
    return KartView(
        place=kart.place,
        call=_word(kart.call),
        slowed=_word(kart.slowed),
        limit_kmh=kart.limit_kmh,
        because=kart.because,
        link=kart.link,
        let_out=kart.let_out,
        button=kart.button,
    )


def _head(head: str, picture: Picture, shown: Aspect | None) -> HeadView:
    aspect, number, _ = picture.aspects[head]
    health = _word(picture.heads[head])
    return HeadView(aspect=aspect, shown=shown, health=health, number=number)


def _entries(party: Party) -> list[Entry]:
    return [_entry(member) for member in party.members]


def _entry(member: Member) -> Entry:
    return Entry(number=member.kart, driver=member.driver, class_=member.class_)


def _checklist(party: Party, venue: Venue) -> dict[str, Confirmation | None]:
    done = {item: Confirmation(by=by, at=at) for item, (by, at) in party.confirmed.items()}
    return {item.id: done.get(item.id) for item in venue.checklist}
