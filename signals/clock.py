"""One clock for decisions and for the record: UTC at boot plus monotonic time since.

A jump of the machine's clock changes nothing within a boot; the next boot takes the new UTC. That it was
moved can be told (`moved_ms`): what holds "today" does not outlast that.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

JUMP_MS = 60_000
"""A clock that is off by more was moved: steering it slowly takes days for as much (typical, no source)."""


def utc_ms() -> int:
    """Read the machine's clock, which may be moved."""
    return time.time_ns() // 1_000_000


class Clock:
    """Milliseconds UTC that never jump; follows the running loop's time, virtual or real."""

    def __init__(self, utc_ms: Callable[[], int] = utc_ms) -> None:
        self._utc_ms = utc_ms
        self._anchor: float | None = None

    def now_ms(self) -> int:
        """Read the clock; the first reading within a loop anchors it."""
        at_s = asyncio.get_running_loop().time()
        if self._anchor is None:
            self._anchor = self._utc_ms() / 1000 - at_s
        return round((self._anchor + at_s) * 1000)

    def moved_ms(self) -> int:
        """Tell by how much the machine's clock was moved since this one was anchored."""
        return self._utc_ms() - self.now_ms()
