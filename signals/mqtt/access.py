"""The access list, generated from the venue: who may say and who may read which topics.

A user's name is its client id, or what stands there before a `.` (one post may have several
devices): `controller`, `monitor`, `node-<id>`, `post-<id>`, `gateway`, `world`, `instructor`,
`reader`, `board`. The topic is the identity: a post can call only as itself, a node speak only for what
hangs on it. Anonymous clients of a simulated venue read what `reader` reads; of a venue with real
equipment they read nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

from signals.mqtt.channels import CHANNELS, Channel, Role
from signals.mqtt.topics import Topics, matches
from signals.venue.model import Venue

KEPT_TO_THEIRS = frozenset({Role.NODE, Role.WORLD})
"""Roles that read only what is theirs where a channel names an owner; the others read all of it."""
ONCE = (Role.CONTROLLER, Role.MONITOR, Role.GATEWAY, Role.READER, Role.BOARD)
ONCE_SIMULATED = (Role.WORLD, Role.INSTRUCTOR)


@dataclass(frozen=True, slots=True)
class Grants:
    """What one user may do: filters of topics."""

    publishes: tuple[str, ...]
    reads: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Access:
    """The whole list, by user's name; None is whoever gives no name."""

    grants: Mapping[str | None, Grants]

    def may_publish(self, user: str | None, topic: str) -> bool:
        """Tell whether a message of this user on this topic is passed on."""
        granted = self.grants.get(user)
        return granted is not None and any(matches(f, topic) for f in granted.publishes)

    def may_read(self, user: str | None, topic: str) -> bool:
        """Tell whether a message on this topic is handed to this user."""
        granted = self.grants.get(user)
        return granted is not None and any(matches(f, topic) for f in granted.reads)

    @property
    def users(self) -> tuple[str, ...]:
        """Everyone who needs a password."""
        return tuple(user for user in self.grants if user is not None)


def access_list(venue: Venue) -> Access:
    """Make a venue's access list."""
    grants: dict[str | None, Grants] = {}
    if venue.simulated:
        grants[None] = _grants(venue, Role.READER, "")
    for user, (role, name) in users(venue).items():
        grants[user] = _grants(venue, role, name)
    return Access(grants)


def users(venue: Venue) -> dict[str, tuple[Role, str]]:
    """Give every user of a venue: its name, and the role and id behind it."""
    once = ONCE + ONCE_SIMULATED if venue.simulated else ONCE
    return {
        **{str(role): (role, "") for role in once},
        **{f"{Role.NODE}-{node.id}": (Role.NODE, node.id) for node in venue.nodes},
        **{f"{Role.POST}-{post.id}": (Role.POST, post.id) for post in venue.posts},
    }


def located_by_gateway(venue: Venue) -> frozenset[int]:
    """Give the karts whose place a gateway reports: all where there is one, and simulated ones."""
    nodes = {node.id: node for node in venue.nodes}
    everywhere = any(node.kind == "gateway" for node in venue.nodes)
    return frozenset(
        kart.number
        for kart in venue.karts
        if everywhere or kart.node not in nodes or nodes[kart.node].simulated
    )


def mosquitto_acl(access: Access) -> str:
    """Write the list as mosquitto reads it; what comes before the first user is for anonymous ones."""
    lines: list[str] = []
    for user, granted in access.grants.items():
        lines += [] if user is None else ["", f"user {user}"]
        lines += [f"topic write {f}" for f in granted.publishes]
        lines += [f"topic read {f}" for f in granted.reads]
    return "\n".join(lines) + "\n"


def _grants(venue: Venue, role: Role, name: str) -> Grants:
    """Fill each channel's address with what is the user's own."""
    topics = Topics.of(venue.id, simulated=venue.simulated)
    publishes: list[str] = []
    reads: list[str] = []
    for channel in CHANNELS:
        if channel.simulated_only and not venue.simulated:
            continue
        own = _own(venue, channel, role, name)
        if role in channel.publishers:
            publishes += [topics.name(address) for address in _addresses(channel, own)]
        if role in channel.readers:
            reads += [topics.name(a) for a in _addresses(channel, own if role in KEPT_TO_THEIRS else {})]
    return Grants(tuple(publishes), tuple(reads))


def _addresses(channel: Channel, own: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Every address of a channel for the names one owns; a name nobody owns becomes `+`."""
    choices = product(*(own.get(place, ("+",)) for place in channel.places))
    return [channel.at(dict(zip(channel.places, choice, strict=True))) for choice in choices]


def _own(venue: Venue, channel: Channel, role: Role, name: str) -> dict[str, tuple[str, ...]]:
    """Give the ids a user may speak for on a channel."""
    if role is Role.NODE:
        return _nodes_own(venue, channel, name)
    if role is Role.POST:
        return {"post": (name,)}
    if role is Role.GATEWAY:
        karts = sorted(located_by_gateway(venue))
        return {"kart": tuple(map(str, karts)), "loop": tuple(loop.id for loop in venue.loops)}
    return {"addressee": ("world",)} if role is Role.WORLD else {}


def _nodes_own(venue: Venue, channel: Channel, name: str) -> dict[str, tuple[str, ...]]:
    node = next(node for node in venue.nodes if node.id == name)
    elsewhere = located_by_gateway(venue) if channel.or_publisher is Role.GATEWAY else frozenset()
    return {
        "head": node.heads,
        "kart": tuple(str(kart) for kart in node.karts if kart not in elsewhere),
        "input": node.inputs,
        "node": (name,),
        "addressee": (name,) if node.simulated else (),
    }
