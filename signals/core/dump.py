"""A state as JSON values, by names, and back: what the journal keeps for a restart."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import compress, count
from operator import ne
from typing import Any

import msgspec

from signals.core.ground import Ground
from signals.core.state import Beside, Hold, Member, Party, State


def dump(ground: Ground, state: State) -> dict[str, Any]:
    """Spell a state out. Facts that have their start value are left out; timers and ids end with a boot."""
    facts: dict[str, dict[str, str]] = {}
    for at in compress(count(), map(ne, state.facts, ground.start)):
        name, key, members = ground.spelled[at]
        facts.setdefault(name, {})[key] = members[state.facts[at]]
    beside = state.beside
    return {
        "facts": facts,
        "notes": {key: [hold.id, hold.reason, hold.since, hold.partner] for key, hold in state.notes.items()},
        "group": _party(beside.group),
        "next": _party(beside.next),
        "barred": sorted(beside.barred),
        "slowed_by": {str(kart): post for kart, post in beside.slowed_by.items()},
        "opening": list(beside.opening) if beside.opening else None,
        "started_at": beside.started_at,
        "serial": state.serial,
        "epoch": state.epoch,
    }


def load(ground: Ground, dumped: Mapping[str, Any], boot: str) -> State:
    """Read a dump back. A name the venue no longer has is skipped unless it held something back.

    Raises ValueError where the dump is no dump, or a standing hold's sector or post is gone.
    """
    try:
        return _load(ground, dumped, boot)
    except (KeyError, TypeError, AttributeError, msgspec.ValidationError) as error:
        raise ValueError(f"the snapshot cannot be read: {error!r}") from error


def _load(ground: Ground, dumped: Mapping[str, Any], boot: str) -> State:
    facts = list(ground.start)
    for name, values in dumped["facts"].items():
        array = ground.schema.facts[name]
        known = {":".join(members): members for members in ground.each(array)}
        for key, member in values.items():
            if key not in known or member not in array.domain.members:
                if name in ("stop", "caution", "phase", "latch", "call", "button"):
                    raise ValueError(f"the snapshot says {name} {key} is {member}, which this venue lacks")
                continue
            facts[ground.index(name, *known[key])] = array.domain.members.index(member)
    notes = {key: Hold(*values) for key, values in dumped["notes"].items()}
    opening = dumped["opening"]
    beside = Beside(
        group=_read(dumped["group"]) or Party(),
        next=_read(dumped["next"]),
        barred=frozenset(dumped["barred"]),
        slowed_by={int(kart): post for kart, post in dumped["slowed_by"].items()},
        opening=(opening[0], opening[1], opening[2], opening[3]) if opening else None,
        started_at=dumped["started_at"],
    )
    serial = int(dumped["serial"]) + 1
    return State(boot, tuple(facts), notes, {}, beside, serial, serial, int(dumped["epoch"]) + 1)


def _party(party: Party | None) -> dict[str, Any] | None:
    if party is None:
        return None
    return {
        "id": party.id,
        "members": [[m.kart, m.driver, m.class_] for m in party.members],
        "confirmed": {item: list(who) for item, who in party.confirmed.items()},
    }


def _read(dumped: Mapping[str, Any] | None) -> Party | None:
    if dumped is None:
        return None
    members = tuple(Member(kart, driver, class_) for kart, driver, class_ in dumped["members"])
    confirmed = {item: (str(by), int(at)) for item, (by, at) in dumped["confirmed"].items()}
    return Party(dumped["id"], members, confirmed)
