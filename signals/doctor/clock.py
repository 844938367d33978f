"""The machine's clock and timers: whether it is kept right, and how late a timer comes."""

from __future__ import annotations

import ctypes
import time
from datetime import UTC, datetime

from signals.doctor.seen import Look, Seen

_TIME_ERROR = 5
"""adjtimex(2) gives it while the clock is kept by nobody."""
_TIMEX_BYTES = 512
"""More than any system's struct timex; all zero asks for nothing to be changed."""
FIRST_YEAR = 2026
NAPS, NAP_S = 20, 0.005
LATE_MS = 50.0
"""A tenth of the shortest lease."""


def look() -> list[Seen]:
    """Look at the clock and at timers; takes a tenth of a second."""
    seen = Look("clock")
    now = datetime.now(UTC)
    mend = "set it: sudo timedatectl set-time 'YYYY-MM-DD HH:MM'"
    seen.at("date", now.year >= FIRST_YEAR, f"{now:%Y-%m-%d %H:%M} UTC", mend)
    kept = _kept()
    mend = (
        "let it be kept: sudo apt-get install -y systemd-timesyncd, or chrony with a clock of the venue's own"
    )
    if kept is None:
        seen.at("kept right", False, "this system does not tell", mend, needed=False)
    else:
        said = "kept" if kept else "kept by nobody: the record's times and the certificates' dates drift"
        seen.at("kept right", kept, said, mend, needed=False)
    late_ms = _latest_ms()
    mend = "take work off this machine; under systemd the units ask for more of it"
    seen.at("timers", late_ms < LATE_MS, f"at most {late_ms:.1f} ms late", mend, needed=False)
    return seen.seen


def _kept() -> bool | None:
    """Ask the kernel whether anybody keeps the clock; None where it does not tell."""
    try:
        adjtimex = ctypes.CDLL(None, use_errno=True).adjtimex
    except (OSError, AttributeError):
        return None
    state = int(adjtimex(ctypes.create_string_buffer(_TIMEX_BYTES)))
    return None if state < 0 else state != _TIME_ERROR


def _latest_ms() -> float:
    """Measure by how much the latest of some short sleeps came late."""
    late_s = 0.0
    for _ in range(NAPS):
        due_s = time.monotonic() + NAP_S
        time.sleep(NAP_S)
        late_s = max(late_s, time.monotonic() - due_s)
    return late_s * 1000
