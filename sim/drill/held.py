"""A clock that can be held, and that waits for its own process; a loop that runs by it.

A drill in real time runs by it: nothing in it notices that it stood still, or that another program had
the processor. Leases, ramps and deadlines all go by the same clock.
"""

from __future__ import annotations

import asyncio
import selectors
import time
from collections.abc import AsyncIterator, Coroutine
from contextlib import asynccontextmanager
from typing import Any, TypeVar

T = TypeVar("T")
MOST_S, PULSE_S = 0.04, 0.02
READING_S = 0.002
"""For a loop that has to do with a broker. A turn of it reads one message from each socket, and the busiest
client of a venue hears some 300 a second: while sockets hold more, the clock goes on by so much a turn, and
they never fall behind."""


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

    def keep(self, most_s: float = MOST_S) -> None:
        """Let it go on; for one thread alone, and often.

        By less than `MOST_S` only where no other thread reads it, which would read a moment twice.
        """
        now_s = min(self.now_s(), self.kept_s + most_s)
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
    """Lets a clock go on in each turn of a loop, by `reading_s` at most while there is something to read."""

    def __init__(self, clock: HeldClock, reading_s: float) -> None:
        super().__init__()
        self._clock = clock
        self._reading_s = reading_s

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        """Wait as any selector does."""
        found = super().select(0)
        self._clock.keep(self._reading_s if found else MOST_S)
        if not found and timeout != 0:
            found = super().select(timeout)
            self._clock.keep()
        return found


class HeldLoop(asyncio.SelectorEventLoop):
    """A loop whose time is a `HeldClock`'s, the same all through a turn: no turn comes too late for a lease.

    Something on it has to be due often (`pulsing`).
    """

    def __init__(self, clock: HeldClock, reading_s: float = MOST_S) -> None:
        self._by = clock
        super().__init__(Keeper(clock, reading_s))

    def time(self) -> float:
        """Give the time of this turn."""
        return self._by.kept_s


@asynccontextmanager
async def pulsing() -> AsyncIterator[None]:
    """Let the loop read its clock often, whatever else is due."""
    beating = asyncio.ensure_future(_pulse())
    try:
        yield
    finally:
        beating.cancel()
        await asyncio.gather(beating, return_exceptions=True)


async def _pulse() -> None:
    while True:  # noqa: ASYNC110 - nothing is waited for
        await asyncio.sleep(PULSE_S)


def run(main: Coroutine[Any, Any, T], clock: HeldClock, reading_s: float = MOST_S) -> T:
    """Run something on a loop of its own by a clock, to its end; `reading_s` as `READING_S` says."""

    async def kept() -> T:
        async with pulsing():
            return await main

    with asyncio.Runner(loop_factory=lambda: HeldLoop(clock, reading_s)) as runner:
        return runner.run(kept())
