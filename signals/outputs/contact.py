"""Wired contacts, watched: a box has two, so that a cut or shorted wire is not taken for rest.

`make` closes when the box is pressed, `break` opens. Both open is a cut wire or no supply, both
closed a short; a silent device is a fault as well. On the way over both may be open for a moment.
"""

from __future__ import annotations

from dataclasses import dataclass

from signals.nodes.contact import ContactLogic
from signals.nodes.lease import Lease
from signals.outputs.base import Output
from signals.words import InputState

PROVE_MS = 200
"""How long the contacts of a switch may contradict each other while it moves; typical, no source."""
MAKE = "make"
BREAK = "break"
_MEANING = {(1, 0): InputState.ACTIVE, (0, 1): InputState.NORMAL}


class TwoContacts:
    """What two contacts together mean, in time. Pure: the caller brings the time."""

    def __init__(self, prove_ms: int = PROVE_MS) -> None:
        self.state: InputState | None = None
        self._prove_ms = prove_ms
        self._odd_since_ms: float | None = None

    def settle(self, make: int, brk: int, now_ms: float) -> InputState | None:
        """Give the state; None while nothing sensible was ever read. Active counts at once."""
        meaning = _MEANING.get((make, brk))
        if meaning is not None:
            self.state, self._odd_since_ms = meaning, None
        elif self._odd_since_ms is None:
            self._odd_since_ms = now_ms
        elif now_ms - self._odd_since_ms >= self._prove_ms:
            self.state = InputState.FAULT
        return self.state


@dataclass(frozen=True, slots=True)
class ContactWires:
    """Where the two contacts of an input are read."""

    output: Output
    make: str
    brk: str
    contacts: TwoContacts

    def look(self, now_ms: float, lease_ms: int) -> InputState | None:
        """Give the state of the input now; a device that was silent for the lease is a fault."""
        if not self.output.fresh(now_ms / 1000, lease_ms / 1000):
            return InputState.FAULT
        sensed = self.output.sensed
        if self.make not in sensed or self.brk not in sensed:
            return self.contacts.state
        return self.contacts.settle(sensed[self.make], sensed[self.brk], now_ms)


class WiredContact(ContactLogic):
    """An input as its wires have it; it says nothing before they were read once."""

    faults = frozenset()

    def __init__(self, input_id: str, lease: Lease, wires: ContactWires) -> None:
        super().__init__(input_id, lease)
        self.silent = True
        self._wires = wires
        self._lease_ms = lease.lease_ms

    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Read the wires, and tell whether what they mean has changed."""
        state = self._wires.look(now_ms, self._lease_ms)
        first = self.silent and state is not None
        if state is not None:
            self.silent, self.state = False, state
        return super().settle(now_ms, cause_ms) or first
