"""The sensors of a double's lamps: they see light, and with it how often a second it flashes."""

from __future__ import annotations

from enum import StrEnum

from msgspec import UNSET, UnsetType

from signals.flash import FlashMeter, lit, next_edge_ms
from signals.mqtt.contract import Flash
from signals.nodes.display import Display

SLOWER = 2
"""A flasher that is too slow takes so many times as long."""


class Flasher(StrEnum):
    """What makes lamps flash, and the faults it can have."""

    SOUND = "sound"
    SLOW = "slow"
    STEADY = "steady"


class LampSensor:
    """Sees the lamps of one head; `usual` is the venue's flash.

    Attributes:
        flasher: how the lamps really flash.
        edge_ms: when they light up or go out next; None while none is to flash.

    """

    def __init__(self, usual: Flash) -> None:
        self.flasher = Flasher.SOUND
        self.edge_ms: float | None = None
        self._usual = usual
        self._meter = FlashMeter()
        self._seen: Display | None = None
        self._hz: float | UnsetType | None = UNSET

    def look(self, display: Display, now_ms: float) -> None:
        """Look at the lamps of a display."""
        if display != self._seen:
            self._seen = display
            self._meter.forget()
        flash = display.flash_by(self._usual)
        if flash is None or not display.lamps:
            self._hz, self.edge_ms = UNSET, None
            return
        longer = SLOWER if self.flasher is Flasher.SLOW else 1
        period_ms, lit_ms = flash.period_ms * longer, flash.lit_ms * longer
        bright = self.flasher is Flasher.STEADY or lit(now_ms, period_ms, lit_ms)
        self._meter.see(now_ms, lit=bright)
        self._hz, self.edge_ms = self._meter.hz(now_ms), next_edge_ms(now_ms, period_ms, lit_ms)

    @property
    def flash_hz(self) -> float | UnsetType | None:
        """What it measured, as it stands in `shown`."""
        return round(self._hz, 2) if isinstance(self._hz, float) else self._hz
