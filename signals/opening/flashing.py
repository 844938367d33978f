"""How fast a head flashes: what its sensors measured, against the venue's own flash."""

from __future__ import annotations

from dataclasses import dataclass

from msgspec import UNSET, UnsetType

from signals.venue.model import Venue

TOLERANCE = 0.2
"""Share by which a measured rate may miss the venue's own; common practice, no source."""
MINUTE_S = 60


@dataclass(frozen=True, slots=True)
class Rate:
    """A flash rate: how often a second the venue's lamps are to flash, and what was measured.

    `hz` is UNSET where nothing measures it, and then it decides nothing; None where a head that measures
    came to no rate within any time that a flash may take.
    """

    due_hz: float
    hz: float | UnsetType | None

    @classmethod
    def of(cls, venue: Venue, hz: float | UnsetType | None) -> Rate:
        """Hold a measured rate against a venue's own."""
        return cls(1000 / venue.choices.flash_period_ms, hz)

    @property
    def measured(self) -> bool:
        """Whether sensors watch how it flashes."""
        return self.hz is not UNSET

    @property
    def wrong(self) -> bool:
        """Whether it was measured, and does not flash as the venue's lamps are to flash."""
        if isinstance(self.hz, float):
            return abs(self.hz - self.due_hz) > TOLERANCE * self.due_hz
        return self.measured

    @property
    def expected(self) -> str:
        """What is right, as it follows an aspect; nothing where nothing measures it."""
        low, high = (MINUTE_S * self.due_hz * (1 + share) for share in (-TOLERANCE, TOLERANCE))
        return f", {low:.0f} to {high:.0f} flashes a minute" if self.measured else ""

    @property
    def observed(self) -> str:
        """What was measured, as it follows what was seen; nothing where nothing measures it."""
        if isinstance(self.hz, float):
            return (
                f", {MINUTE_S * self.hz:.0f} flashes a minute measured" if self.hz else ", it does not flash"
            )
        return ", no flash rate measured" if self.measured else ""


STEADY = Rate(0.0, UNSET)
"""Of what does not flash: nothing to measure."""
