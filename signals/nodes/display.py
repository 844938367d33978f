"""What a head shows, in terms of its lamps."""

from __future__ import annotations

from dataclasses import dataclass

from signals.mqtt.contract import Flash
from signals.words import Aspect


@dataclass(frozen=True, slots=True)
class Display:
    """What a head shows: the aspect, and the lamps that are driven for it (steady or flashing).

    `flash` and `number` as ordered; without an order a flashing aspect flashes as the venue chose.
    """

    aspect: Aspect
    lamps: tuple[str, ...]
    flash: Flash | None = None
    number: int | None = None

    def flash_by(self, usual: Flash) -> Flash | None:
        """Give the pattern its lamps flash with, where nobody ordered one the usual; None where steady."""
        if self.flash is not None:
            return self.flash
        return usual if self.aspect.endswith("-flash") else None
