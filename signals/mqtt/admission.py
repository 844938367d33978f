"""What the controller and the screens let in: the right topic, not old, and well-formed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from signals.mqtt.channels import Channel, find
from signals.mqtt.codec import Malformed, decode
from signals.mqtt.contract import Message
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics


@dataclass(frozen=True, slots=True)
class Admitted:
    """A message that may be acted on: its channel, the ids its topic names, and what it says."""

    channel: Channel
    named: Mapping[str, str]
    message: Message


def admit(topics: Topics, arrived: Arrived) -> Admitted:
    """Read a message strictly; `Malformed` says why it is refused. Whether its ids exist is not asked."""
    found = find(topics.split(arrived.topic))
    if found is None:
        raise Malformed(f"no such topic: {arrived.topic[:100]!r}")
    channel, named = found
    if arrived.retained and not channel.retained:
        raise Malformed(f"{channel.address} is never retained: this one is old and not acted on")
    return Admitted(channel, named, decode(channel.message, arrived.payload))
