"""The ear of a drill: hears what every screen hears, writes it on the tape, asks the equipment for events."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from msgspec import Struct

from signals.mqtt.codec import Malformed, decode, encode
from signals.mqtt.contract import Answer, Call, Group, Inject, Injected, State, WorldView
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue
from signals.words import Word
from sim.drill.tape import SHOWN, TAPED, Tape

CLIENT = "instructor.drill"
WORLD_EVERY_MS = 90
"""Of the world's views so many ms apart are kept: ten a second."""


class Hearing:
    """Hears for a drill. Before `begin` nothing is written: what is retained is heard again then.

    Attributes:
        state, group, view: the latest heard.

    """

    def __init__(self, venue: Venue, make_link: MakeLink, tape: Tape, *, whole: bool) -> None:
        self.state: State | None = None
        self.group: Group | None = None
        self.view = WorldView(at_ms=0, karts=[], incidents=[])
        self.accepted: list[tuple[str, Word]] = []
        """Calls that were accepted since the beginning: post and word."""
        self.up = asyncio.Event()
        self.refused: Callable[[str, str], None] = lambda _, __: None
        """Called with the id of an event that could not be, and why."""
        self.done: Callable[[str], None] = lambda _: None
        """Called with the id of an event that was done."""
        self._tape = tape
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._began_s: float | None = None
        self.thrown: dict[str, Inject] = {}
        """What somebody else asked the world for, until it is known whether it was done."""
        self._calls: dict[str, Word] = {}
        self._latest: dict[str, bytes] = {}
        self._world_ms = -WORLD_EVERY_MS
        filters = (*TAPED, *(SHOWN if whole else ()), "inject/world", "injected/+")
        self._link = make_link(
            CLIENT,
            subscriptions=tuple((self._topics.name(name), 1) for name in filters),
            owner=Owner(on_message=self._take, on_up=self.up.set),
        )

    async def run(self) -> None:
        """Stay connected until cancelled."""
        await self._link.run()

    def begin(self) -> None:
        """Begin to write: first what stands."""
        self._began_s = asyncio.get_running_loop().time()
        for topic, payload in self._latest.items():
            self._tape.add(0, topic, payload)

    def now_ms(self) -> int:
        """Give ms since the beginning."""
        if self._began_s is None:
            return 0
        return round((asyncio.get_running_loop().time() - self._began_s) * 1000)

    def say(self, topic: str, message: Struct) -> None:
        """Write down what the drill says itself."""
        self._tape.say(self.now_ms(), topic, message)

    def ask(self, addressee: str, inject: Inject) -> None:
        """Ask the world or a node for an event."""
        self._link.publish(self._topics.name("inject", addressee), encode(inject), qos=1)

    def _take(self, arrived: Arrived) -> None:
        levels = self._topics.split(arrived.topic)
        try:
            self._note(levels, arrived.payload)
        except Malformed:
            return
        topic = "/".join(levels)
        if levels[0] in ("state", "group", "world", "monitor", "controller", "head"):
            self._latest[topic] = arrived.payload
        if self._began_s is not None and levels[0] not in ("inject", "injected") and self._keeps(topic):
            self._tape.add(self.now_ms(), topic, arrived.payload)

    def _keeps(self, topic: str) -> bool:
        if topic != "world":
            return True
        now_ms = self.now_ms()
        if now_ms - self._world_ms < WORLD_EVERY_MS:
            return False
        self._world_ms = now_ms
        return True

    def _note(self, levels: tuple[str, ...], payload: bytes) -> None:
        match levels:
            case ("state",):
                self.state = decode(State, payload)
            case ("group",):
                self.group = decode(Group, payload)
            case ("world",):
                self.view = decode(WorldView, payload)
            case ("call", _) if self._began_s is not None:
                call = decode(Call, payload)
                self._calls[call.id] = call.call
            case ("answer", post):
                answer = decode(Answer, payload)
                if answer.accepted and answer.id in self._calls:
                    self.accepted.append((post, self._calls.pop(answer.id)))
            case ("inject", "world"):
                inject = decode(Inject, payload)
                self.thrown[inject.id] = inject
            case ("injected", _):
                injected = decode(Injected, payload)
                if injected.done:
                    self.done(injected.id)
                else:
                    self.refused(injected.id, injected.said)
