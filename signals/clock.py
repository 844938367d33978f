"""One clock for decisions and for the record: UTC at boot plus monotonic time since.

A jump of the machine's clock changes nothing within a boot; the next boot takes the new UTC.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable


def _utc_ms() -> int:
    return time.time_ns() // 1_000_000


class Clock:
    """Milliseconds UTC that never jump; follows the running loop's time, virtual or real."""

    def __init__(self, utc_ms: Callable[[], int] = _utc_ms) -> None:
        self._utc_ms = utc_ms
        self._anchor: float | None = None

    def now_ms(self) -> int:
        """Read the clock; the first reading within a loop anchors it."""
        at_s = asyncio.get_running_loop().time()
        if self._anchor is None:
            self._anchor = self._utc_ms() / 1000 - at_s
        return round((self._anchor + at_s) * 1000)
