"""A device that is not there: for rehearsals, demonstrations and tests.

It drives what it is told at once, its sensors see what is driven, and it keeps a history with
times. It can be made to fail: unreachable, deaf, with a dead lamp or one that flashes by itself, or
wired to the wrong one.

What it does not model: time between a write and light, a watchdog of its own, noise on an input.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping

from signals.flash import lit
from signals.outputs.base import Output, Reading
from signals.outputs.line import Line, OutputLost, Point

BRIDGED_S = 0.65
"""A lamp with a flasher of its own bridges the dark part of the flash it is told."""


class Virtual(Output):
    """A device in memory.

    Attributes:
        lit: what its lamps are, by ref.
        history: every image that differed from the one before, with its loop time in s.
        contacts: what its contacts read, by ref; at rest until set.
        dead: lamps that stay dark though they are driven.
        flashers: lamps that flash by themselves while they are driven, `BRIDGED_S` longer too: period and
            lit part, ms, by ref; both the same for one that stays lit.
        crossed: lamps that light another's lamp instead, ref to ref.
        unreachable: why it cannot be reached, "" if it can.

    """

    waits = False

    def __init__(self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500) -> None:
        super().__init__(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        self.lit: dict[str, int] = {}
        self.history: list[tuple[float, dict[str, int]]] = []
        self.contacts: dict[str, int] = {}
        self.dead: set[str] = set()
        self.flashers: dict[str, tuple[int, int]] = {}
        self._driven_s: dict[str, float] = {}
        self.crossed: dict[str, str] = {}
        self.unreachable = ""
        self.writes = 0

    async def _open(self) -> None:
        self._reach()

    async def _write(self, raw: Mapping[Point, int]) -> None:
        self._reach()
        self.writes += 1
        now_s = asyncio.get_running_loop().time()
        before, self.lit = self.lit, {point.ref: point.level(value) for point, value in raw.items()}
        if self.flashers:
            self._driven_s |= {ref: now_s for ref, level in self.lit.items() if level or before.get(ref)}
        if not self.history or self.history[-1][1] != self.lit:
            self.history.append((now_s, self.lit))

    async def _read(self) -> Reading:
        self._reach()
        sensors = {point.feedback: self._light(point) for point in self.line.outs if point.feedback}
        contacts = {point.ref: point.at_rest for point in self.line.ins} | self.contacts
        return Reading(dict(self.lit), contacts | {ref: at for ref, at in sensors.items() if ref in contacts})

    async def _close(self, *, final: bool) -> None:
        del final

    def _light(self, point: Point) -> int:
        """Tell whether light comes from a lamp's glass: what is wired to it is driven, and alive."""
        drivers = {self.crossed.get(ref, ref): ref for ref in self.lit}
        driver = drivers.get(point.ref)
        if driver is None or point.ref in self.dead:
            return 0
        now_s = asyncio.get_running_loop().time()
        flashes = point.ref in self.flashers and now_s - self._driven_s.get(driver, -1.0) < BRIDGED_S
        return int(lit(now_s * 1000, *self.flashers[point.ref]) if flashes else self.lit[driver] > 0)

    def _reach(self) -> None:
        if self.unreachable:
            raise OutputLost(self.unreachable)


def virtual_output(line: Line, lease_ms: int) -> Virtual:
    """Put a device in memory where a real one would be: on purpose, for a rehearsal."""
    return Virtual(line, lease_ms=lease_ms)
