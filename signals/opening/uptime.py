"""Whether somebody moved the machine's clock between two answers: UTC beside the time it has been on."""

from __future__ import annotations

import time
from pathlib import Path

from signals.clock import JUMP_MS

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
Stamp = tuple[str, int]
"""The machine's boot, and UTC less its uptime in ms; the boot is "" where it cannot be told."""


def stamp(utc_ms: int) -> Stamp:
    """Take a stamp now."""
    try:
        boot = BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return "", 0
    return boot, utc_ms - time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000


def moved(before: Stamp, now: Stamp) -> bool:
    """Tell whether the clock was moved between two stamps of one boot; other boots cannot be compared."""
    return before[0] != "" and before[0] == now[0] and abs(now[1] - before[1]) > JUMP_MS
