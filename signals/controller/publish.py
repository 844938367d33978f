"""What goes out: each topic only when its content changed, everything anew for whoever came back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

import msgspec

from signals.controller.messages import (
    aspect_command,
    caps_command,
    group_message,
    limit_command,
    state_message,
)
from signals.core.state import Picture, State
from signals.mqtt import contract
from signals.mqtt.codec import encode, encode_for_node, next_seq
from signals.mqtt.contract import Answer, Beat, ControllerStatus, Message
from signals.mqtt.topics import Topics
from signals.venue.model import Venue
from signals.words import Aspect


class Send(Protocol):
    """A link's `publish`."""

    def __call__(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> bool:
        """Send without waiting; False while the link is down."""


class Addresses(Protocol):
    """Whom a command is for: the incarnation of its node, "" until one is known."""

    def of_head(self, head: str) -> str:
        """Give the incarnation of a head's node."""

    def of_kart(self, kart: int) -> str:
        """Give the incarnation of a kart's node."""


class Publisher:
    """Says things on the topics of one venue; remembers what was said last on each."""

    def __init__(self, venue: Venue, topics: Topics, send: Send, now_ms: Callable[[], int]) -> None:
        self._venue = venue
        self._topics = topics
        self._send = send
        self._now_ms = now_ms
        self._said: dict[str, Message] = {}
        self._seq: dict[str, int] = {}

    def forget(self) -> None:
        """Take nothing as said: the broker may have lost it, so the next `all` says it anew."""
        self._said.clear()

    def status(self, status: ControllerStatus) -> None:
        """Say that the controller is there, or goes."""
        self._send(self._topics.name("controller", "status"), encode(status), qos=1, retain=True)

    def beat(self, beat: Beat) -> None:
        """Send a beat."""
        self._send(self._topics.name("beat"), encode_for_node(self._topics.name("beat"), beat))

    def answer(self, post: str, answer: Answer) -> None:
        """Answer a call."""
        self._send(self._topics.name("answer", post), encode(answer), qos=1)

    def all(
        self, state: State, picture: Picture, addresses: Addresses, shown: Mapping[str, Aspect | None]
    ) -> None:
        """Say what has changed, most urgent first: aspects, limits, then what screens show."""
        for head, due in picture.aspects.items():
            command = aspect_command(state, addresses.of_head(head), due, self._venue.choices)
            self._tell(("head", head, "aspect"), command)
        for number, kart in picture.karts.items():
            inc = addresses.of_kart(number)
            self._tell(("kart", str(number), "limit"), limit_command(state, inc, kart))
            self._tell(
                ("kart", str(number), "caps"), caps_command(self._venue, state.boot, inc, picture.surface)
            )
        self.state(state, picture, shown)
        self._update(("group",), group_message(state, self._venue), encode)

    def state(self, state: State, picture: Picture, shown: Mapping[str, Aspect | None]) -> None:
        """Say the whole picture, if anything in it changed; its `seq` is the state's serial."""
        self._update(("state",), state_message(state, picture, shown), encode, at=self._now_ms())

    def _tell(self, levels: tuple[str, ...], command: Message) -> None:
        topic = self._topics.name(*levels)
        self._update(levels, command, lambda message: encode_for_node(topic, message))

    def _update(
        self,
        levels: tuple[str, ...],
        message: Message,
        write: Callable[[Message], bytes],
        **stamp: Any,
    ) -> None:
        topic = self._topics.name(*levels)
        if self._said.get(topic) == message:
            return
        if not isinstance(message, contract.State):
            stamp["seq"] = self._seq[topic] = next_seq(self._seq.get(topic, 0))
        if self._send(topic, write(msgspec.structs.replace(message, **stamp)), qos=1, retain=True):
            self._said[topic] = message
