"""The booth: one drill running in real time on a thread, for a window; it can be paused.

Everything runs on one loop whose clock stops while it is paused: karts, leases, deadlines and the
drill's own clock stand still together, and nothing notices. The window's side is an inbox, `publish`,
and what a trainee does that is no call.
"""

from __future__ import annotations

import asyncio
import logging
import selectors
import threading
import time
from collections import deque
from collections.abc import Iterable

from signals.mqtt.link import Arrived, Owner
from signals.venue.model import Venue
from sim.drill.cast import Cast
from sim.drill.deeds import Deed
from sim.drill.play import Performance
from sim.drill.seat import Eyes
from sim.drill.stage import DrillStage, paced
from sim.drill.tape import Cue, Head, Tape

STOPPED_WITHIN_S = 5.0
MOST_S, PULSE_S = 0.04, 0.02
log = logging.getLogger(__name__)


class HeldClock:
    """Monotonic seconds that stand still while held, and wait for whoever keeps it where he comes late.

    From one `keep` to the next it goes on by `MOST_S` at most: a lease does not lapse because another program
    had the processor.
    """

    def __init__(self) -> None:
        self._held_s = 0.0
        self._since_s: float | None = None
        self.kept_s = time.monotonic()
        """As it was when it was kept last."""

    def now_s(self) -> float:
        """Read it, from any thread."""
        return min(self._real_s() - self._held_s, self.kept_s + MOST_S)

    def keep(self) -> None:
        """Let it go on; for one thread alone, and often."""
        now_s = self.now_s()
        self._held_s, self.kept_s = self._real_s() - now_s, now_s

    def _real_s(self) -> float:
        since_s = self._since_s
        return time.monotonic() if since_s is None else since_s

    @property
    def held(self) -> bool:
        """Whether it stands still."""
        return self._since_s is not None

    def hold(self) -> None:
        """Stand still."""
        if self._since_s is None:
            self._since_s = time.monotonic()

    def go_on(self) -> None:
        """Run on from where it stood."""
        if self._since_s is not None:
            self._held_s += time.monotonic() - self._since_s
            self._since_s = None


class Keeper(selectors.DefaultSelector):
    """Lets a clock go on once in each turn of a loop."""

    def __init__(self, clock: HeldClock) -> None:
        super().__init__()
        self._clock = clock

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        """Wait as any selector does."""
        found = super().select(timeout)
        self._clock.keep()
        return found


class HeldLoop(asyncio.SelectorEventLoop):
    """A loop whose time is a `HeldClock`'s, the same all through a turn: no turn comes too late for a lease.

    Something on it has to be due often (`pulse`).
    """

    def __init__(self, clock: HeldClock) -> None:
        self._by = clock
        super().__init__(Keeper(clock))

    def time(self) -> float:
        """Give the time of this turn."""
        return self._by.kept_s


async def pulse() -> None:
    """Let a loop read its clock often, whatever else is due."""
    while True:  # noqa: ASYNC110 - nothing is waited for
        await asyncio.sleep(PULSE_S)


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
        self.clock = HeldClock()
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
        self._loop: HeldLoop | None = None
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
            with asyncio.Runner(loop_factory=lambda: HeldLoop(self.clock)) as runner:
                runner.run(self._run())
        except Exception as error:
            log.exception("the drill ended early")
            self.failure = error
        finally:
            self.over.set()

    async def _run(self) -> None:
        loop = asyncio.get_running_loop()
        assert isinstance(loop, HeldLoop)  # noqa: S101 - made by our own factory
        beating = asyncio.ensure_future(pulse())
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
                for task in (link, beating):
                    task.cancel()
                await asyncio.gather(link, beating, return_exceptions=True)

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
