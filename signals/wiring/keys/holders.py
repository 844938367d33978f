"""Who holds keys at a venue: one holder a machine or process, with the users it speaks as.

No key is ever shared: the same user on two machines has a certificate on each, so that one that is lost
is revoked alone.
"""

from __future__ import annotations

from dataclasses import dataclass

from signals.mqtt.access import users
from signals.mqtt.channels import Role
from signals.outputs.plant import wired_nodes
from signals.venue.model import Venue

BROKER = "broker"
PANEL = "panel"


@dataclass(frozen=True, slots=True)
class Holder:
    """A folder of keys: the users it speaks as, and whether it serves others under its own name."""

    name: str
    users: tuple[str, ...] = ()
    serves: bool = False

    @property
    def certificates(self) -> tuple[str, ...]:
        """The names of the certificates in its folder."""
        return (*((self.name,) if self.serves else ()), *self.users)


def holders(venue: Venue) -> tuple[Holder, ...]:
    """Give all holders of a venue, in the order in which they are told."""
    known = users(venue)
    posts = _of(known, Role.POST)
    wired = tuple(f"{Role.NODE}-{node.id}" for node in wired_nodes(venue))
    simulated = tuple(f"{Role.NODE}-{node.id}" for node in venue.nodes if node.simulated)
    alone = (user for user in (*_of(known, Role.NODE), *posts) if user not in (*wired, *simulated))
    found = (
        Holder(BROKER, serves=True),
        Holder("controller", (Role.CONTROLLER,)),
        Holder("monitor", (Role.MONITOR,)),
        Holder(PANEL, (Role.BOARD, *_once(known, Role.INSTRUCTOR), *posts), serves=True),
        Holder("outputs", wired),
        Holder("nodes", simulated),
        Holder("sim", (*_once(known, Role.WORLD, Role.GATEWAY, Role.INSTRUCTOR, Role.READER), *posts)),
        Holder("gateway", (Role.GATEWAY,)),
        Holder("reader", (Role.READER,)),
        *(Holder(user, (user,)) for user in alone),
    )
    return tuple(holder for holder in found if holder.certificates)


def _of(known: dict[str, tuple[Role, str]], role: Role) -> tuple[str, ...]:
    return tuple(user for user, (its, _) in known.items() if its is role)


def _once(known: dict[str, tuple[Role, str]], *roles: Role) -> tuple[str, ...]:
    """Give those of these users that the venue has: one with real equipment alone has no world."""
    return tuple(str(role) for role in roles if role in known)
