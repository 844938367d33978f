"""What stands beside the facts: groups, barred drivers, ids, the opening verdict; changed with each event."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from signals.core.binding import Bound, fingerprint
from signals.core.state import Beside, Event, Member, Party, Refusal
from signals.words import Word

KEPT_IDS = 512
"""How many calls are remembered by id; far more than can be under way at once."""

Change = Callable[[Beside, Event, Bound, int], Beside]


def _stage(beside: Beside, _: Event, bound: Bound, __: int) -> Beside:
    party = bound.party or Party()
    rest = None if beside.next is party else beside.next
    return replace(beside, group=party, next=rest, started_at=None, slowed_by={})


def _prepare(beside: Beside, _: Event, bound: Bound, __: int) -> Beside:
    return replace(beside, next=bound.party)


def _confirm(beside: Beside, event: Event, bound: Bound, now_ms: int) -> Beside:
    if bound.party is None:
        return beside
    item = str(event.fields.get("item"))
    by, _ = bound.party.confirmed[item]
    party = replace(bound.party, confirmed={**bound.party.confirmed, item: (by, now_ms)})
    return replace(beside, next=party) if event.fields.get("to") == "next" else replace(beside, group=party)


def _start(beside: Beside, _: Event, __: Bound, now_ms: int) -> Beside:
    return replace(beside, started_at=now_ms)


def _close(beside: Beside, _: Event, __: Bound, ___: int) -> Beside:
    return replace(beside, group=Party(), started_at=None)


def _join(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    members = (*beside.group.members, event.fields["entries"][0])
    return replace(beside, group=replace(beside.group, members=members, confirmed={}))


def _swap(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    kart, to = event.fields["kart"], int(event.fields["to"])

    def moved(member: Member) -> Member:
        return replace(member, kart=to) if member.kart == kart else member

    members = tuple(moved(member) for member in beside.group.members)
    slowed = {to if number == kart else number: post for number, post in beside.slowed_by.items()}
    return replace(beside, group=replace(beside.group, members=members), slowed_by=slowed)


def _slow(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    return replace(beside, slowed_by={**beside.slowed_by, event.fields["kart"]: event.post})


def _withdraw(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    rest = {kart: post for kart, post in beside.slowed_by.items() if kart != event.fields["kart"]}
    return replace(beside, slowed_by=rest)


def _disqualify(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    drivers = {member.driver for member in beside.group.members if member.kart == event.fields["kart"]}
    return replace(beside, barred=beside.barred | drivers)


def _allow(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    allowed = {**beside.allowed_kmh, event.fields["kart"]: float(event.fields["limit_kmh"])}
    return replace(beside, allowed_kmh=allowed)


def _show(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    head, lamp, number = (event.fields.get(name) for name in ("head", "lamp", "kart"))
    lamps = {name: one for name, one in beside.lamps.items() if name != head}
    numbers = {name: one for name, one in beside.numbers.items() if name != head}
    if lamp:
        lamps[str(head)] = lamp
    elif number:
        numbers[str(head)] = number
    return replace(beside, lamps=lamps, numbers=numbers)


def _verdict(beside: Beside, event: Event, _: Bound, __: int) -> Beside:
    simulated = event.fields.get("simulated") is True
    until = int(event.fields.get("until") or 0)
    return replace(beside, opening=(event.fields["verdict"], event.fields.get("reason"), until, simulated))


def _day_ended(beside: Beside, _: Event, __: Bound, ___: int) -> Beside:
    return replace(beside, opening=None, barred=frozenset())


_CHANGES: dict[str, Change] = {
    Word.PREPARE: _prepare,
    Word.STAGE: _stage,
    Word.CONFIRM: _confirm,
    Word.START: _start,
    Word.CLOSE: _close,
    Word.JOIN: _join,
    Word.SWAP: _swap,
    Word.SLOW_ONE: _slow,
    Word.STOP_ONE: _slow,
    Word.WITHDRAW_ONE: _withdraw,
    Word.DISQUALIFY_ONE: _disqualify,
    Word.ALLOW: _allow,
    Word.SHOW: _show,
    Word.VERDICT: _verdict,
    "opening-set": _verdict,
    "day-ended": _day_ended,
}


def settle(beside: Beside, event: Event, bound: Bound, now_ms: int) -> Beside:
    """Give what stands beside the facts after an accepted event."""
    change = _CHANGES.get(event.word)
    return change(beside, event, bound, now_ms) if change else beside


def remember(beside: Beside, event: Event, refusals: tuple[Refusal, ...]) -> Beside:
    """Remember a call by its id, with what it was answered."""
    if not event.id or event.word in (Word.STOP, Word.CAUTION):
        return beside
    ids = dict(beside.ids)
    ids[f"{event.post}/{event.id}"] = (fingerprint(event), refusals)
    if len(ids) > KEPT_IDS:
        del ids[next(iter(ids))]
    return replace(beside, ids=ids)
