"""What arrives: which topics, decoded how, and what is not taken.

The topic is the identity. A payload is decoded strictly; what does not fit is counted and changes
nothing. A retained message is old: only statuses are taken from it.
"""

from __future__ import annotations

from dataclasses import dataclass

from signals.controller.log import Complaints
from signals.mqtt import contract
from signals.mqtt.codec import Malformed, Newest, decode
from signals.mqtt.contract import Message
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.venue.model import Venue


@dataclass(frozen=True, slots=True)
class Route:
    """One kind of topic: its levels ("+" for a name), what it carries, whether a retained one counts."""

    levels: tuple[str, ...]
    carries: type[Message]
    qos: int = 0
    retained: bool = False


ROUTES = (
    Route(("call", "+"), contract.Call, qos=1),
    Route(("head", "+", "shown"), contract.Shown),
    Route(("kart", "+", "taken"), contract.Taken),
    Route(("kart", "+", "where"), contract.Where),
    Route(("loop", "+", "passed"), contract.Passed, qos=1),
    Route(("node", "+", "status"), contract.NodeStatus, qos=1, retained=True),
    Route(("input", "+", "state"), contract.InputReport, qos=1, retained=True),
    Route(("monitor", "status"), contract.MonitorStatus, qos=1, retained=True),
    Route(("monitor", "trip"), contract.Trip, qos=1, retained=True),
    Route(("beat",), contract.Beat),
    Route(("controller", "status"), contract.ControllerStatus, qos=1),
)
_ORDERED = (contract.Shown, contract.Taken, contract.Where, contract.Passed, contract.InputReport)
"""Messages with boot and seq of their own: an older one than the last is dropped."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A message that was taken; `name` is the head, kart, post … of its topic, or ""."""

    name: str
    message: Message


class Intake:
    """Turns arrived payloads into messages, or into a complaint."""

    def __init__(self, venue: Venue, topics: Topics, complaints: Complaints) -> None:
        self._topics = topics
        self._complaints = complaints
        self._names = _names_of(venue)
        self._newest = Newest()

    @property
    def subscriptions(self) -> tuple[tuple[str, int], ...]:
        """Filters and qualities of service of all routes."""
        return tuple((self._topics.name(*route.levels), route.qos) for route in ROUTES)

    def take(self, arrived: Arrived) -> Heard | None:
        """Decode one message; None, and counted, if it is not to be acted on."""
        levels = self._topics.split(arrived.topic)
        route = next((route for route in ROUTES if _fits(route.levels, levels)), None)
        try:
            return self._taken(route, levels, arrived)
        except Malformed as mistake:
            self._complaints.take(arrived.topic, str(mistake))
            return None

    def _taken(self, route: Route | None, levels: tuple[str, ...], arrived: Arrived) -> Heard:
        """Decode, or raise `Malformed`."""
        if route is None:
            raise Malformed("no topic of the contract")
        if "+" in route.levels and levels[1] not in self._names[levels[0]]:
            raise Malformed(f"the venue has no {levels[0]} of this name")
        if arrived.retained and not route.retained:
            raise Malformed("retained: it may be of any age")
        message = decode(route.carries, arrived.payload)
        if isinstance(message, _ORDERED) and not self._newest.accept(
            arrived.topic, message.boot, message.seq
        ):
            raise Malformed("not newer than the last one")
        return Heard(levels[1] if "+" in route.levels else "", message)


def _fits(pattern: tuple[str, ...], levels: tuple[str, ...]) -> bool:
    return len(pattern) == len(levels) and all(
        want in ("+", level) for want, level in zip(pattern, levels, strict=True)
    )


def _names_of(venue: Venue) -> dict[str, frozenset[str]]:
    return {
        "call": frozenset(post.id for post in venue.posts),
        "head": frozenset(head.id for head in venue.heads),
        "kart": frozenset(str(kart.number) for kart in venue.karts),
        "loop": frozenset(loop.id for loop in venue.loops),
        "node": frozenset(node.id for node in venue.nodes),
        "input": frozenset(contact.id for contact in venue.inputs),
    }
