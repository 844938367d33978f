"""The booth: one drill running in real time on a thread, for a window; it can be paused.

Everything runs on one loop whose clock stops while it is paused: karts, leases, deadlines and the
drill's own clock stand still together, and nothing notices. The window's side is an inbox, `publish`,
and what a trainee does that is no call.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from collections import deque
from collections.abc import Iterable

from signals.mqtt.link import Arrived, Owner
from signals.venue.model import Venue
from sim.drill import held
from sim.drill.cast import Cast
from sim.drill.deeds import Deed
from sim.drill.play import Performance
from sim.drill.seat import Eyes
from sim.drill.stage import DrillStage, paced
from sim.drill.tape import Cue, Head, Tape

STOPPED_WITHIN_S = 5.0
log = logging.getLogger(__name__)


class Sitting:
    """Whoever sits at the window: does what the window hands over."""

    def __init__(self) -> None:
        self._deeds: deque[Deed] = deque()
        self.done: list[Deed] = []
        """All of it, with its time."""

    def does(self, deed: Deed) -> None:
        """Hand over something done; from any thread."""
        self._deeds.append(deed)

    def look(self, eyes: Eyes) -> Iterable[Deed]:
        """Do what was handed over."""
        del eyes
        while self._deeds:
            yield self._deeds.popleft()


class Booth:
    """One drill, played from a window by one person at one post.

    Attributes:
        inbox: (the booth's seconds, an arrived message or a cue), oldest first.
        began_s: when the drill began, by the booth's clock; None before.
        tape: what was written down; whole once `over` is set.
        failure: why it ended early, where it did.

    """

    def __init__(
        self, cast: Cast, venue: Venue, seat: str, who: str, subscriptions: tuple[tuple[str, int], ...]
    ) -> None:
        self.cast = cast
        self.seat = seat
        self.inbox: deque[tuple[float, Arrived | Cue]] = deque()
        self.clock = held.HeldClock()
        self.over = threading.Event()
        self.began_s: float | None = None
        self.failure: BaseException | None = None
        self.device = True
        """Whether the trainee's own device works."""
        self.tape = Tape(
            Head(
                drill=cast.drill.name,
                venue=venue.id,
                seed=cast.seed,
                seats={seat: who},
                lean=False,
                began_ms=round(time.time() * 1000),
            )
        )
        self._venue = paced(venue, gap=cast.drill.file.start.gap, lean=False)
        self._subscriptions = subscriptions
        self._sitting = Sitting()
        self._go = threading.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._link_up = False
        self._ends = False
        self._thread = threading.Thread(target=self._work, name="booth", daemon=True)

    def start(self) -> None:
        """Start it; what arrives comes to the inbox."""
        self._thread.start()

    def now_s(self) -> float:
        """Read the booth's clock."""
        return self.clock.now_s()

    def publish(self, topic: str, payload: bytes) -> bool:
        """Send a call, from the window's thread; False while the device is dead or all is paused."""
        loop = self._loop
        if loop is None or not self._link_up or not self.device or self.clock.held:
            return False
        loop.call_soon_threadsafe(lambda: self._link.publish(topic, payload, qos=1))
        return True

    def does(self, deed: Deed) -> None:
        """Do what is no call: touch, walk, press a box."""
        self._sitting.does(deed)

    def pause(self) -> None:
        """Let everything stand still."""
        if self._loop is not None and not self.clock.held:
            self._go.clear()
            self.clock.hold()
            self._loop.call_soon_threadsafe(self._go.wait)

    def go_on(self) -> None:
        """Let everything go on."""
        self.clock.go_on()
        self._go.set()

    def end(self) -> None:
        """End the drill now; what was done so far is scored."""
        self._ends = True
        self.go_on()

    def stop(self) -> None:
        """End it and wait for the thread."""
        self.end()
        self._thread.join(STOPPED_WITHIN_S)

    def _work(self) -> None:
        try:
            held.run(self._run(), self.clock)
        except Exception as error:
            log.exception("the drill ended early")
            self.failure = error
        finally:
            self.over.set()

    async def _run(self) -> None:
        loop = asyncio.get_running_loop()
        async with DrillStage(self._venue, seed=self.cast.seed, lean=False) as stage:
            self._link = stage.link(
                f"post-{self.seat}.window",
                subscriptions=self._subscriptions,
                owner=Owner(on_message=self._put, on_up=self._came_up),
            )
            performance = Performance(self.cast, stage, {self.seat: self._sitting}, self.tape)
            performance.began = self._began
            performance.cued = self._cued
            performance.ends = lambda: self._ends
            link = asyncio.ensure_future(self._link.run())
            self._loop = loop
            try:
                await performance.run()
            finally:
                link.cancel()
                await asyncio.gather(link, return_exceptions=True)

    def _came_up(self) -> None:
        self._link_up = True

    def _put(self, arrived: Arrived) -> None:
        if self.device:
            self.inbox.append((self.now_s(), arrived))

    def _began(self) -> None:
        self.began_s = self.now_s()

    def _cued(self, cue: Cue) -> None:
        if cue.event in ("device-dead", "device-back"):
            self.device = cue.event == "device-back"
        self.inbox.append((self.now_s(), cue))
