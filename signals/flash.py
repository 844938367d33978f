"""Flashing: when a lamp is lit, what makes a flash pattern fit to be shown, how fast a lamp really flashes.

All flashing lamps of a venue follow one phase, so that together they make one flash, never a
flicker. The checks hold values from outside; each names its source.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence

MINUTE_MS = 60_000
SECOND_MS = 1_000

RATE_PER_MINUTE = (50.0, 60.0)
"""Flashes a minute (MUTCD 11th ed. section 4G.01, as quoted)."""
LIT_SHARE = (1 / 2, 2 / 3)
"""The lit part of a cycle (same)."""
TOLERANCE = 0.005
"""Share by which a measured cycle may miss a bound, or differ from its neighbours."""
FLASHES_PER_SECOND = 3
"""General flashes in any one second, all lamps together (WCAG 2.2, success criterion 2.3.1)."""
SATURATED_RED = 0.8
"""R / (R + G + B) from which a red counts as saturated (WCAG 2.2, red flash threshold)."""
EDGES_KEPT = 6
"""Rising edges that a rate is measured over: five flashes."""
EDGES_NEEDED = 3
"""With fewer nothing is said: a sensor read every 100 ms may be wrong by that once."""
QUIET_MS = 6_000
"""A lamp that did not light up anew for so long does not flash: the slowest flash there is lasts 5 s."""
HIGHEST_HZ = 50.0
"""Told of anything faster: what flickers like this is noise."""


def lit(now_ms: float, period_ms: float, lit_ms: float) -> bool:
    """Tell whether a flashing lamp is lit: for the first `lit_ms` of every `period_ms` of the clock."""
    return now_ms % period_ms < lit_ms


def next_edge_ms(now_ms: float, period_ms: float, lit_ms: float) -> float:
    """Give when a flashing lamp next lights up or goes out."""
    at_ms = now_ms % period_ms
    rest_ms = lit_ms - at_ms if at_ms < lit_ms else period_ms - at_ms
    return now_ms + max(1.0, rest_ms)


class FlashMeter:
    """How often a second a lamp flashes, by what its sensor saw: the time between its rising edges.

    Pure: the caller brings what is seen, and when.
    """

    def __init__(self) -> None:
        self._edges_ms: deque[float] = deque(maxlen=EDGES_KEPT)
        self._lit: bool | None = None
        self._quiet_since_ms = 0.0

    def forget(self) -> None:
        """Begin anew: what was seen so far was another display, or was not seen without a gap."""
        self._edges_ms.clear()
        self._lit = None

    def see(self, now_ms: float, *, lit: bool) -> None:
        """Take what the sensor sees now."""
        if self._lit is None:
            self._quiet_since_ms = now_ms
        elif lit and not self._lit:
            if now_ms - self._quiet_since_ms > QUIET_MS:
                self._edges_ms.clear()
            self._edges_ms.append(now_ms)
            self._quiet_since_ms = now_ms
        self._lit = lit

    def hz(self, now_ms: float) -> float | None:
        """Give flashes a second, the mean of the last five; 0 for a lamp that stays lit or dark.

        None until it was watched for long enough. A flash that lasts longer than those before it counts
        while it lasts.
        """
        if self._lit is None:
            return None
        if now_ms - self._quiet_since_ms > QUIET_MS:
            return 0.0
        if len(self._edges_ms) < EDGES_NEEDED:
            return None
        flashes, first_ms, last_ms = len(self._edges_ms) - 1, self._edges_ms[0], self._edges_ms[-1]
        whole_s = max(last_ms - first_ms, 1.0) / SECOND_MS
        so_far_s = max(now_ms - first_ms, 1.0) / SECOND_MS
        return min(flashes / whole_s, (flashes + 1) / so_far_s, HIGHEST_HZ)


def check_pattern(
    on_off_ms: Sequence[tuple[float, float]], *, per_minute: tuple[float, float] = RATE_PER_MINUTE
) -> list[str]:
    """Say what is wrong with a pattern of (lit, unlit) durations in ms; empty if it is good.

    Every cycle counts for itself: the rate must be constant, and an average hides that it is not
    (FHWA interpretation 4(09)-64).
    """
    found = [
        said
        for number, (on, off) in enumerate(on_off_ms, 1)
        for said in _check_cycle(number, on, off, per_minute)
    ]
    lengths = [on + off for on, off in on_off_ms]
    if lengths and max(lengths) > min(lengths) * (1 + TOLERANCE):
        found.append(f"the rate is not constant: cycles of {min(lengths):g} to {max(lengths):g} ms")
    return found


def _check_cycle(number: int, on_ms: float, off_ms: float, per_minute: tuple[float, float]) -> list[str]:
    if on_ms <= 0 or off_ms <= 0:
        return [f"cycle {number} does not flash: lit {on_ms:g} ms, unlit {off_ms:g} ms"]
    rate, share = MINUTE_MS / (on_ms + off_ms), on_ms / (on_ms + off_ms)
    found = []
    if not _within(rate, per_minute):
        found.append(
            f"cycle {number} makes {rate:.1f} flashes a minute, not {per_minute[0]:g} to {per_minute[1]:g}"
        )
    if not _within(share, LIT_SHARE):
        found.append(
            f"cycle {number} is lit for {share:.3f} of it, not {LIT_SHARE[0]:.3f} to {LIT_SHARE[1]:.3f}"
        )
    return found


def _within(value: float, bounds: tuple[float, float]) -> bool:
    low, high = bounds
    return low * (1 - TOLERANCE) <= value <= high * (1 + TOLERANCE)


def most_in_a_second(onsets_ms: Iterable[float]) -> int:
    """Count the most flashes that begin within any one second; lamps that light up together count once."""
    at_ms = sorted(set(onsets_ms))
    most = first = 0
    for last, now_ms in enumerate(at_ms):
        while at_ms[first] <= now_ms - SECOND_MS:
            first += 1
        most = max(most, last - first + 1)
    return most


def is_saturated_red(red: float, green: float, blue: float) -> bool:
    """Tell whether a colour's red is one that must not flash (components on one scale)."""
    total = red + green + blue
    return total > 0 and red / total >= SATURATED_RED
