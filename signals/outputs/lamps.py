"""A head's lamps on their wires: what each is told, what drives it, what proves it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from msgspec import UNSET, UnsetType

from signals.flash import FlashMeter, lit
from signals.mqtt.contract import Flash
from signals.nodes.display import Display
from signals.outputs.base import POLL_MS, Output
from signals.words import Aspect

PROVE_MS = 300
"""How long a lamp's sensor may lag behind it where the table does not say; typical, no source."""
RANK = {aspect: rank for rank, aspect in enumerate(Aspect)}
"""Aspects, the most restrictive first."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What the wires say of a head: the display its devices have, and which lamps really follow it.

    `flash_hz` as in `shown`; it wavers a little with every flash, which is no change of what is seen.
    """

    display: Display
    driven: tuple[str, ...]
    proven: tuple[str, ...] | None
    flash_hz: float | UnsetType | None = field(default=UNSET, compare=False)

    @property
    def lit(self) -> frozenset[str]:
        """The lamps that burn: as proven where every lamp has a sensor, else as driven."""
        return frozenset(self.driven if self.proven is None else self.proven)

    def looks_like(self, aspects: Mapping[Aspect, tuple[str, ...]]) -> Aspect:
        """Give the aspect these lamps make; where they make several, the least restrictive of them."""
        if self.lit == frozenset(self.display.lamps):
            return self.display.aspect
        alike = [aspect for aspect, lamps in aspects.items() if lamps and self.lit.issuperset(lamps)]
        return max(alike, key=RANK.__getitem__, default=Aspect.DARK)


class Sensor:
    """A lamp's sensor beside its driver, in time: it may lag, and then it is believed.

    What it contradicts is kept for on and for off apart: a dead lamp that flashes agrees in every
    dark half, and is still dead. `meter` is told what it sees, and nothing of what is driven.
    """

    def __init__(self, prove_ms: int) -> None:
        self.meter = FlashMeter()
        self._patience_ms = prove_ms + POLL_MS
        self._apart: tuple[int, float] | None = None
        self._contradicts = {0: False, 1: False}

    def settle(self, driven: int, sensed: int, now_ms: float) -> None:
        """Take what is driven and what is sensed now."""
        level = int(driven > 0)
        if level == int(sensed > 0):
            self._apart, self._contradicts[level] = None, False
        elif self._apart is None or self._apart[0] != level:
            self._apart = (level, now_ms)
        elif now_ms - self._apart[1] >= self._patience_ms:
            self._contradicts[level] = True

    @property
    def stays_dark(self) -> bool:
        """Whether there was no light when it was driven last."""
        return self._contradicts[1]

    @property
    def stays_lit(self) -> bool:
        """Whether there was light when it was not driven last."""
        return self._contradicts[0]


@dataclass(frozen=True, slots=True)
class LampWire:
    """One lamp: the point that drives it, and the one that senses it where there is one."""

    lamp: str
    ref: str
    output: Output
    number: bool = False
    sensed_by: tuple[Output, str] | None = None
    sensor: Sensor = field(default_factory=lambda: Sensor(PROVE_MS))

    def level(self, display: Display, *, bright: bool) -> int:
        """Give what it is to be: a number, or lit while the flash is bright."""
        if self.number:
            return display.number or 0
        return int(bright and self.lamp in display.lamps)

    def is_driven(self, display: Display) -> bool:
        """Tell whether its output stage drives it as part of a display; between flashes too."""
        driven = self.output.driven.get(self.ref, 0)
        if driven == self.output.asked.get(self.ref, 0):  # a newer image was not read back yet
            return self.lamp in display.lamps
        return driven > 0

    def is_proven(self, display: Display, now_ms: float) -> bool | None:
        """Tell the same by its sensor; None where it has none."""
        if self.sensed_by is None:
            return None
        output, ref = self.sensed_by
        if ref in output.sensed:
            self.sensor.meter.see(now_ms, lit=output.sensed[ref] > 0)
        else:
            self.sensor.meter.forget()
        self.sensor.settle(self.output.driven.get(self.ref, 0), output.sensed.get(ref, 0), now_ms)
        return not self.sensor.stays_dark if self.is_driven(display) else self.sensor.stays_lit


class HeadWires:
    """All lamps of a head.

    `flash` is the venue's pattern, for a flashing aspect that nobody ordered. Devices take images
    later than they are told: `note` keeps which display went with which mark, `look` finds the one
    that all of them have.
    """

    def __init__(self, wires: Iterable[LampWire], flash: Flash) -> None:
        self.wires = tuple(wires)
        self.outputs = tuple(dict.fromkeys(wire.output for wire in self.wires))
        self._flash = flash
        self._told: list[tuple[int, Display]] = []
        self._watched: Display | None = None

    def flash_of(self, display: Display) -> Flash | None:
        """Give the pattern a display flashes with; None where it is steady."""
        return display.flash_by(self._flash)

    def levels(self, display: Display, now_ms: float) -> Iterator[tuple[LampWire, int]]:
        """Give every lamp with its level now."""
        flash = self.flash_of(display)
        bright = flash is None or lit(now_ms, flash.period_ms, flash.lit_ms)
        return ((wire, wire.level(display, bright=bright)) for wire in self.wires)

    def note(self, mark: int, display: Display) -> None:
        """Keep which display the image of this mark carries."""
        if not self._told or self._told[-1][1] != display:
            self._told.append((mark, display))
        done = min(output.done for output in self.outputs)
        while len(self._told) > 1 and self._told[1][0] <= done:
            del self._told[0]

    def look(self, now_ms: float, lease_ms: float) -> Seen | None:
        """Give what the wires say; None while a device was not heard for the lease, or has nothing yet."""
        display = self._had(now_ms, lease_ms)
        self._watch(display)
        if display is None:
            return None
        proofs = {wire.lamp: wire.is_proven(display, now_ms) for wire in self.wires}
        driven = tuple(wire.lamp for wire in self.wires if wire.is_driven(display))
        known = None not in proofs.values()
        proven = tuple(lamp for lamp, lit in proofs.items() if lit) if known else None
        return Seen(display, driven, proven, self._flash_hz(display, now_ms))

    def _had(self, now_ms: float, lease_ms: float) -> Display | None:
        """Give the newest display that all devices have."""
        if not all(output.fresh(now_ms / 1000, lease_ms / 1000) for output in self.outputs):
            return None
        done = min(output.done for output in self.outputs)
        has = (display for mark, display in reversed(self._told) if mark <= done)
        return next(has, None) if done else None

    def _watch(self, display: Display | None) -> None:
        """Measure each display for itself: what flashed under another, or before a gap, says nothing."""
        if display != self._watched:
            self._watched = display
            for wire in self.wires:
                wire.sensor.meter.forget()

    def _flash_hz(self, display: Display, now_ms: float) -> float | UnsetType | None:
        """Give how often a second the lamps of a flashing display light up, the slowest of them."""
        flashing = [wire for wire in self.wires if wire.lamp in display.lamps and not wire.number]
        if not flashing or self.flash_of(display) is None or any(w.sensed_by is None for w in flashing):
            return UNSET
        measured = [wire.sensor.meter.hz(now_ms) for wire in flashing]
        known = [hz for hz in measured if hz is not None]
        return round(min(known), 2) if len(known) == len(measured) else None
