"""The observer: what a sequence knows of a venue, all of it heard on the published topics."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TypeVar

from signals.mqtt.codec import Malformed, decode, encode
from signals.mqtt.contract import (
    AspectCommand,
    Group,
    Inject,
    Injected,
    InputReport,
    LimitCommand,
    Message,
    NodeStatus,
    Passed,
    Shown,
    State,
    Taken,
    Where,
)
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue

CLIENT = "instructor.player"
FILTERS = ("state", "head/+/shown", "head/+/aspect", "kart/+/taken", "kart/+/limit", "injected/+")
ALL = (*FILTERS, "group", "input/+/state", "node/+/status", "kart/+/where", "loop/+/passed")
DONE_WITHIN_S = 2.0
M = TypeVar("M", bound=Message)


class Observer:
    """Hear everything there is to expect, and ask the simulated parts for events.

    `client` is who listens, `filters` the topics; only an instructor can ask for events.
    """

    def __init__(
        self, venue: Venue, make_link: MakeLink, *, client: str = CLIENT, filters: tuple[str, ...] = FILTERS
    ) -> None:
        self.state: State | None = None
        self.group: Group | None = None
        self.told: dict[str, AspectCommand] = {}
        self.limits: dict[int, LimitCommand] = {}
        self.inputs: dict[str, InputReport] = {}
        self.nodes: dict[str, NodeStatus] = {}
        self.where: dict[int, Where] = {}
        self.passed: dict[str, Passed] = {}
        self._shown: dict[str, tuple[float, Shown]] = {}
        self._since_s: dict[str, float] = {}
        self._taken: dict[int, tuple[float, Taken]] = {}
        self._venue = venue
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._asked: dict[str, asyncio.Future[Injected]] = {}
        self._listeners: list[Callable[[], None]] = []
        self._up = asyncio.Event()
        self._link = make_link(
            client,
            subscriptions=tuple((self._topics.name(name), 1) for name in filters),
            owner=Owner(on_message=self._take, on_up=self._up.set),
        )

    async def run(self) -> None:
        """Stay connected until cancelled."""
        await self._link.run()

    async def connected(self) -> None:
        """Wait for the first connection."""
        await self._up.wait()

    async def complete(self) -> None:
        """Wait until the venue's picture and its group were heard, on a connection that asks for both."""
        await self.connected()
        heard = asyncio.Event()
        ignore = self.listen(heard.set)
        while self.state is None or self.group is None:
            heard.clear()
            await heard.wait()
        ignore()

    def listen(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Call `listener` after every message; gives what ends that."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def shown(self, head: str) -> Shown | None:
        """Give what a head reports, None where it was silent for longer than its lease."""
        return _fresh(self._shown.get(head), self._venue.timing.lease_head)

    def shown_since_s(self, head: str) -> float | None:
        """Give since when (loop time, s) a head has shown the same as now; None if it was never heard."""
        return self._since_s.get(head)

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
                self._note_shown(head, decode(Shown, payload), now)
            case ("head", head, "aspect"):
                self.told[head] = decode(AspectCommand, payload)
            case ("kart", number, "taken"):
                self._taken[int(number)] = now, decode(Taken, payload)
            case ("kart", number, "limit"):
                self.limits[int(number)] = decode(LimitCommand, payload)
            case ("injected", _):
                self._settle(decode(Injected, payload))
            case ("group",):
                self.group = decode(Group, payload)
            case ("input", name, "state"):
                self.inputs[name] = decode(InputReport, payload)
            case ("node", node, "status"):
                self.nodes[node] = decode(NodeStatus, payload)
            case ("kart", number, "where"):
                self.where[int(number)] = decode(Where, payload)
            case ("loop", loop, "passed"):
                self.passed[loop] = decode(Passed, payload)

    def _note_shown(self, head: str, shown: Shown, now_s: float) -> None:
        before = self._shown.get(head)
        if before is None or _light(before[1]) != _light(shown):
            self._since_s[head] = now_s
        self._shown[head] = now_s, shown

    def _settle(self, injected: Injected) -> None:
        asked = self._asked.get(injected.id)
        if asked is not None and not asked.done():
            asked.set_result(injected)


def _light(shown: Shown) -> tuple[object, ...]:
    return shown.aspect, None if shown.proven is None else frozenset(shown.proven)


def _fresh(heard: tuple[float, M] | None, lease_ms: int) -> M | None:
    if heard is None or asyncio.get_running_loop().time() - heard[0] > lease_ms / 1000:
        return None
    return heard[1]
