"""What arrives: the channels the controller reads, and what of them is not taken.

The topic is the identity. What does not fit the contract, names nothing of the venue, is retained
where nothing is, or is not newer than what came before, is counted and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from signals.controller.log import Complaints
from signals.mqtt import contract
from signals.mqtt.admission import admit
from signals.mqtt.channels import CHANNELS
from signals.mqtt.codec import Malformed, Newest
from signals.mqtt.contract import Message
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.venue.model import Venue

READS = (
    contract.Call,
    contract.Shown,
    contract.Taken,
    contract.Where,
    contract.Passed,
    contract.NodeStatus,
    contract.InputReport,
    contract.MonitorStatus,
    contract.Trip,
    contract.Beat,
    contract.ControllerStatus,
)
"""What the controller reads; its own beats tell that it reaches the broker, others' that it is not alone."""

_ORDERED = (contract.Shown, contract.Taken, contract.Where, contract.Passed, contract.InputReport)
"""Messages with a number of their own: one that is not newer than the last is dropped."""


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
        self._newest = Newest()
        self._known = {
            "post": frozenset(post.id for post in venue.posts),
            "head": frozenset(head.id for head in venue.heads),
            "kart": frozenset(str(kart.number) for kart in venue.karts),
            "loop": frozenset(loop.id for loop in venue.loops),
            "node": frozenset(node.id for node in venue.nodes),
            "input": frozenset(contact.id for contact in venue.inputs),
        }

    @property
    def subscriptions(self) -> tuple[tuple[str, int], ...]:
        """Filters and qualities of service of all that is read."""
        read = (channel for channel in CHANNELS if channel.message in READS)
        return tuple((self._topics.name(channel.at({})), channel.qos) for channel in read)

    def take(self, arrived: Arrived) -> Heard | None:
        """Decode one message; None, and counted, if it is not to be acted on."""
        try:
            return self._taken(arrived)
        except Malformed as mistake:
            self._complaints.take(arrived.topic, str(mistake))
            return None

    def _taken(self, arrived: Arrived) -> Heard | None:
        admitted = admit(self._topics, arrived)
        message = admitted.message
        if isinstance(message, contract.ControllerStatus) and arrived.retained:
            return None  # what an earlier boot left behind: only a living one matters
        for place, name in admitted.named.items():
            if name not in self._known[place]:
                raise Malformed(f"the venue has no {place} {name}")
        if isinstance(message, _ORDERED) and not self._newest.accept(
            arrived.topic, message.boot, message.seq
        ):
            raise Malformed("not newer than the last one")
        return Heard(next(iter(admitted.named.values()), ""), message)
