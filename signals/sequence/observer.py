"""The observer: what a sequence knows of a venue, all of it heard on the published topics."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TypeVar

from signals.mqtt.codec import Malformed, decode, encode
from signals.mqtt.contract import (
    AspectCommand,
    Inject,
    Injected,
    LimitCommand,
    Message,
    Shown,
    State,
    Taken,
)
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue

CLIENT = "instructor.player"
DONE_WITHIN_S = 2.0
M = TypeVar("M", bound=Message)


class Observer:
    """Hear everything there is to expect, and ask the simulated parts for events."""

    def __init__(self, venue: Venue, make_link: MakeLink) -> None:
        self.state: State | None = None
        self.told: dict[str, AspectCommand] = {}
        self.limits: dict[int, LimitCommand] = {}
        self._shown: dict[str, tuple[float, Shown]] = {}
        self._taken: dict[int, tuple[float, Taken]] = {}
        self._venue = venue
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._asked: dict[str, asyncio.Future[Injected]] = {}
        self._listeners: list[Callable[[], None]] = []
        filters = ("state", "head/+/shown", "head/+/aspect", "kart/+/taken", "kart/+/limit", "injected/+")
        self._up = asyncio.Event()
        self._link = make_link(
            CLIENT,
            subscriptions=tuple((self._topics.name(name), 1) for name in filters),
            owner=Owner(on_message=self._take, on_up=self._up.set),
        )

    async def run(self) -> None:
        """Stay connected until cancelled."""
        await self._link.run()

    async def connected(self) -> None:
        """Wait for the first connection."""
        await self._up.wait()

    def listen(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Call `listener` after every message; gives what ends that."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def shown(self, head: str) -> Shown | None:
        """Give what a head reports, None where it was silent for longer than its lease."""
        return _fresh(self._shown.get(head), self._venue.timing.lease_head)

    def taken(self, kart: int) -> Taken | None:
        """Give what a kart obeys, None where it was silent for longer than its lease."""
        return _fresh(self._taken.get(kart), self._venue.timing.lease_kart)

    async def inject(self, addressee: str, inject: Inject) -> Injected | None:
        """Ask a simulated part for an event; None where nobody answers."""
        answer: asyncio.Future[Injected] = asyncio.get_running_loop().create_future()
        self._asked[inject.id] = answer
        try:
            self._link.publish(self._topics.name("inject", addressee), encode(inject), qos=1)
            return await asyncio.wait_for(answer, DONE_WITHIN_S)
        except TimeoutError:
            return None
        finally:
            del self._asked[inject.id]

    def _take(self, arrived: Arrived) -> None:
        try:
            self._note(self._topics.split(arrived.topic), arrived.payload)
        except Malformed:
            return
        for listener in tuple(self._listeners):
            listener()

    def _note(self, levels: tuple[str, ...], payload: bytes) -> None:
        now = asyncio.get_running_loop().time()
        match levels:
            case ("state",):
                self.state = decode(State, payload)
            case ("head", head, "shown"):
                self._shown[head] = now, decode(Shown, payload)
            case ("head", head, "aspect"):
                self.told[head] = decode(AspectCommand, payload)
            case ("kart", number, "taken"):
                self._taken[int(number)] = now, decode(Taken, payload)
            case ("kart", number, "limit"):
                self.limits[int(number)] = decode(LimitCommand, payload)
            case ("injected", _):
                self._settle(decode(Injected, payload))

    def _settle(self, injected: Injected) -> None:
        asked = self._asked.get(injected.id)
        if asked is not None and not asked.done():
            asked.set_result(injected)


def _fresh(heard: tuple[float, M] | None, lease_ms: int) -> M | None:
    if heard is None or asyncio.get_running_loop().time() - heard[0] > lease_ms / 1000:
        return None
    return heard[1]
