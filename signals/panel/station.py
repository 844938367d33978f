"""One post's place at the broker: its one connection, what it hears, and the calls it sends.

Every page that is signed in at a post shares its station. Nothing is kept for later: while the link is
down, or the controller's beat has been missing for `LOST_AFTER_S`, a call is not sent at all.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable
from typing import Any

from signals.caller import Caller
from signals.hint import Moment
from signals.mqtt import contract
from signals.mqtt.codec import Malformed, decode
from signals.mqtt.contract import Answer
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.panel.bell import Bell
from signals.part import MakeLink
from signals.picture import Picture
from signals.venue.model import Post, Venue
from signals.words import Phase

LOST_AFTER_S = 0.6
"""Six beats missed; with a page's own patience the marshal is told within a second."""
GAP_SPARE_S = 0.3
"""The gap between two karts runs at the controller: here it is counted a little longer."""
DEVICE = "panel"

log = logging.getLogger(__name__)


class Station:
    """What one post hears and says. `now_s` is a monotonic clock.

    Attributes:
        changed: rings after everything heard that a page may show.
        picture: what the controller last said.

    """

    def __init__(
        self, venue: Venue, post: Post, make_link: MakeLink, now_s: Callable[[], float] = time.monotonic
    ) -> None:
        self.venue = venue
        self.post = post
        self.changed = Bell()
        self.picture = Picture(venue)
        self.trip: contract.Trip | None = None
        self.monitor = "ok"
        self.controller = "ready"
        self._now_s = now_s
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._beat_s = float("-inf")
        self._at_ms = 0
        self._let_out_s = float("-inf")
        name = self._topics.name
        also = (
            (name("beat"), 0),
            (name("group"), 1),
            (name("monitor", "status"), 1),
            (name("monitor", "trip"), 1),
            (name("controller", "status"), 1),
        )
        owner = Owner(on_message=self._hear, on_up=self.changed.ring, on_down=self._on_down)
        self._caller = Caller(self._topics, post.id, make_link, device=DEVICE, also=also, owner=owner)

    async def run(self) -> None:
        """Stay connected until cancelled."""
        await self._caller.run()

    @property
    def lost(self) -> bool:
        """Whether nothing here can be trusted: no link, or no beat for too long."""
        return not self._caller.up or self._now_s() - self._beat_s > LOST_AFTER_S

    @property
    def now_ms(self) -> int:
        """The controller's time, UTC ms: as it last said, and counted on since."""
        since_s = self._now_s() - self._beat_s
        return self._at_ms + round(since_s * 1000) if self._at_ms else round(time.time() * 1000)

    @property
    def moment(self) -> Moment:
        """The picture with what depends on time."""
        timing = self.venue.timing
        gap_left_s = self._let_out_s + timing.gap / 1000 + GAP_SPARE_S - self._now_s()
        left_s = self.picture.left_s(self.now_ms)
        return Moment(self.picture, self.lost, self.trip, left_s, max(0.0, gap_left_s))

    async def ask(self, fields: dict[str, Any]) -> Answer | None:
        """Send a call; None where no answer came in time.

        Raises:
            msgspec.ValidationError: no call of the contract.

        """
        answer = await self._caller.ask(fields)
        if answer is not None and answer.accepted and fields.get("call") == "let-out":
            self._let_out_s = self._now_s()
            self.changed.ring()
        return answer

    def reset_monitor(self, reason: str) -> bool:
        """Ask the monitor to end its trip; False where nothing can go out."""
        return self._caller.reset_monitor(reason)

    def warnings(self) -> list[str]:
        """Give what must be read before anything else, the gravest first."""
        state, lines = self.picture.state, []
        if self.trip is not None and self.trip.tripped:
            trip = self.trip
            lines.append(f"Monitor tripped: {trip.what} at {trip.where}, due {trip.due}, shown {trip.shown}.")
        if self.controller == "gone":
            lines.append("The controller is gone: heads and karts fall to the safe side by themselves.")
        if self.monitor == "lost":
            lines.append("The monitor is gone: yellow everywhere until it is back and somebody lifts it.")
        if state is not None and state.journal == "failed":
            lines.append("The journal fails: only red, yellow and the like are accepted.")
        opening = self.picture.group.opening if self.picture.group else None
        if opening is not None and opening.restriction and self.picture.phase is not Phase.CLOSED:
            lines.append(f"Opened with a restriction: {opening.restriction}")
        return lines + (list(state.faults) if state else [])

    def _on_down(self, _: str) -> None:
        self.changed.ring()

    def _hear(self, arrived: Arrived) -> None:
        levels = self._topics.split(arrived.topic)
        try:
            changed = self._take(levels, arrived.payload)
        except Malformed as mistake:
            log.warning("%s: %s", arrived.topic, mistake)
            return
        if changed:
            self.changed.ring()

    def _take(self, levels: tuple[str, ...], payload: bytes) -> bool:
        """Take a message in; whether it may change a page. The caller has read `state` already."""
        match levels:
            case ("beat",):
                back = self.lost
                self._at_ms, self._beat_s = decode(contract.Beat, payload).at, self._now_s()
                return back
            case ("state",) if self._caller.state is not None:
                self.picture = Picture(self.venue, self._caller.state, self.picture.group)
            case ("group",):
                self.picture = Picture(self.venue, self.picture.state, decode(contract.Group, payload))
            case ("monitor", "trip"):
                self.trip = decode(contract.Trip, payload)
            case ("monitor", "status"):
                self.monitor = decode(contract.MonitorStatus, payload).status
            case ("controller", "status"):
                self.controller = decode(contract.ControllerStatus, payload).status
            case _:
                return False
        return True


class Stations:
    """A station for each post that is signed in, from its first sign-in to its last sign-out."""

    def __init__(self, venue: Venue, make_link: MakeLink) -> None:
        self._posts = {post.id: post for post in venue.posts}
        self._venue = venue
        self._make_link = make_link
        self._live: dict[str, tuple[Station, asyncio.Task[None]]] = {}

    def of(self, post: str) -> Station:
        """Give a post's station, connecting it where it is not yet."""
        if post not in self._live or self._live[post][1].done():
            station = Station(self._venue, self._posts[post], self._make_link)
            self._live[post] = station, asyncio.create_task(station.run(), name=f"station {post}")
        return self._live[post][0]

    @property
    def live(self) -> tuple[Station, ...]:
        """All that are connected, or trying to be."""
        return tuple(station for station, _ in self._live.values())

    async def keep(self, posts: frozenset[str]) -> None:
        """Let go of the stations of all other posts."""
        gone = [self._live.pop(post) for post in list(self._live) if post not in posts]
        for _, task in gone:
            task.cancel()
        ends = await asyncio.gather(*(task for _, task in gone), return_exceptions=True)
        for end in ends:
            if isinstance(end, Exception):
                log.error("a post's connection ended", exc_info=end)
