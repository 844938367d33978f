"""The events a sequence can ask for: what each needs, and whom it is addressed to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from signals.venue.model import Venue

Addressee = Literal["world", "node", "process", "monitor"]
WORLD = "world"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of event: who does it, which keys it needs and which it may have."""

    addressee: Addressee
    needs: frozenset[str] = frozenset()
    may: frozenset[str] = frozenset({"for_ms"})


def _world(*needs: str, may: tuple[str, ...] = ()) -> Kind:
    return Kind("world", frozenset(needs), frozenset({"for_ms", *may}))


def _node(*needs: str, may: tuple[str, ...] = ()) -> Kind:
    return Kind("node", frozenset(needs), frozenset({"for_ms", *may}))


PROCESSES = ("controller", "monitor", "broker", "nodes", "journal")
"""What can be killed and come back; the journal's kill makes its every write fail."""

MONITOR_RESET = "monitor-reset"
"""A person resets the monitor, at the monitor: no call, for the controller has no say in it."""

KINDS: dict[str, Kind] = {
    "spin": _world("kart"),
    "stall": _world("kart"),
    "debris": _world("where"),
    "smoke": _world(may=("where", "kart")),
    "hand-raised": _world("kart"),
    "wrong-way": _world("kart"),
    "kart-enters": _world("kart"),
    "kart-leaves": _world("kart"),
    "kart-button": _world("kart"),
    "kart-pushed": _world("kart"),
    "contact": _world("kart"),
    "driver-out": _world("kart"),
    "overturned": _world("kart"),
    "medical": _world("kart"),
    "child-in-tears": _world("kart"),
    "wet-patch": _world("where"),
    "barrier-moved": _world("where"),
    "shortcut": _world("kart"),
    "slow-kart": _world("kart"),
    "loose-clothing": _world("kart"),
    "ignored-signal": _world("kart"),
    "person-in-pit": _world(),
    "marshal-out": _world(may=("where", "kart")),
    "marshal-back": _world(),
    "kart-free": _world("kart"),
    "swept": _world(may=("where",)),
    "rain": _world(),
    "dries": _world(),
    "head-lost": _node("head"),
    "head-back": _node("head"),
    "wrong-lamp": _node("head", may=("aspect", "lamp")),
    "stuck": _node("head"),
    "slow": _node("head", "for_ms"),
    "slow-flash": _node("head"),
    "no-flash": _node("head"),
    "kart-lost": _node("kart"),
    "kart-back": _node("kart"),
    "limiter-stuck": _node("kart"),
    "reboot": _node(may=("head", "kart", "input")),
    "input-silent": _node("input"),
    "input-active": _node("input"),
    "input-normal": _node("input"),
    "input-fault": _node("input"),
    MONITOR_RESET: Kind("monitor", frozenset({"post", "reason"}), frozenset()),
    **{
        f"{name}-{what}": Kind("process", may=frozenset())
        for name in PROCESSES
        for what in ("killed", "back")
    },
}


def addressee(kind: Kind, venue: Venue, *, head: str | None, kart: int | None, wired: str | None) -> str:
    """Give the addressee of an event: "world", or the id of the node that has the head, kart or input."""
    if kind.addressee != "node":
        return WORLD
    owners = (
        *(each.node for each in venue.heads if each.id == head),
        *(each.node for each in venue.karts if each.number == kart),
        *(each.node for each in venue.inputs if each.id == wired),
    )
    return owners[0]
