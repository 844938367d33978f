"""Wired boxes, watched: what a circuit reads says whether it rests, is pressed, is cut or is shorted.

Either two contacts: `make` closes when the box is pressed, `break` opens; both open is a cut wire or no
supply, both closed a short. Or one `loop` with resistors at its far end, read as a number: each of the
four has its band in the table, and what falls between them is a fault as well. A silent device is a
fault too. On the way over anything may be read for a moment.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from signals.nodes.contact import ContactLogic
from signals.nodes.lease import Lease
from signals.outputs.base import NOT_YET, Output
from signals.venue.wires import Circuit, Wire
from signals.words import InputState

PROVE_MS = 200
"""How long a circuit may read nonsense while a switch moves over; typical, no source."""
MAKE, BREAK, LOOP = "make", "break", "loop"
_TWO = {
    (1, 0): Circuit.ACTIVE,
    (0, 1): Circuit.NORMAL,
    (0, 0): Circuit.OPEN,
    (1, 1): Circuit.SHORT,
}
_SOUND = {Circuit.NORMAL: InputState.NORMAL, Circuit.ACTIVE: InputState.ACTIVE}
log = logging.getLogger(__name__)

Sensed = Mapping[str, int]
"""What a device's inputs read, by ref."""


def reader_of(wires: Iterable[Wire]) -> tuple[tuple[str, ...], Callable[[Sensed], Circuit]]:
    """Give the refs of one input's wires, and what reads its circuit from them."""
    own = {wire.aspect: wire for wire in wires}
    refs = tuple(wire.ref for wire in own.values())
    if LOOP in own:
        return refs, of_loop(own[LOOP].ref, dict(own[LOOP].circuits))
    return refs, of_two(own[MAKE].ref, own[BREAK].ref)


def of_two(make: str, brk: str) -> Callable[[Sensed], Circuit]:
    """Read a circuit of two contacts, named by their refs."""
    return lambda sensed: _TWO[sensed[make], sensed[brk]]


def of_loop(ref: str, bands: Mapping[Circuit, range]) -> Callable[[Sensed], Circuit]:
    """Read a circuit of one loop by its bands."""
    return lambda sensed: next((each for each, band in bands.items() if sensed[ref] in band), Circuit.ODD)


class Watched:
    """What a circuit means in time. Pure: the caller brings the time.

    Active counts at once; what makes no sense only once it has stood for `prove_ms`.

    Attributes:
        state: None while nothing sensible was ever read.
        circuit: what was read last.

    """

    def __init__(self, prove_ms: int = PROVE_MS) -> None:
        self.state: InputState | None = None
        self.circuit = Circuit.NORMAL
        self._prove_ms = prove_ms
        self._odd_since_ms: float | None = None

    def settle(self, circuit: Circuit, now_ms: float) -> InputState | None:
        """Take what the circuit reads now, and give what it means."""
        self.circuit = circuit
        sound = _SOUND.get(circuit)
        if sound is not None:
            self.state, self._odd_since_ms = sound, None
        elif self._odd_since_ms is None:
            self._odd_since_ms = now_ms
        elif now_ms - self._odd_since_ms >= self._prove_ms:
            self.state = InputState.FAULT
        return self.state


@dataclass(frozen=True, slots=True)
class ContactWires:
    """The circuit of one input: which device reads it, at which refs, and what that says."""

    output: Output
    refs: tuple[str, ...]
    read: Callable[[Sensed], Circuit]
    watched: Watched = field(default_factory=Watched)

    def look(self, now_ms: float, lease_ms: int) -> InputState | None:
        """Give the state of the input now; a device that was silent for the lease is a fault."""
        if not self.output.fresh(now_ms / 1000, lease_ms / 1000):
            return InputState.FAULT
        if not self.output.sensed.keys() >= set(self.refs):
            return self.watched.state
        return self.watched.settle(self.read(self.output.sensed), now_ms)

    @property
    def why(self) -> str:
        """Say what is wrong with it, with what it reads."""
        if self.output.lost:
            return f"{self.output.line}: {self.output.lost}"
        reads = " ".join(f"{ref}={self.output.sensed.get(ref)}" for ref in self.refs)
        return f"{self.watched.circuit.means} ({reads})"


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
        changed = super().settle(now_ms, cause_ms) or first
        if changed and state is InputState.FAULT and self._wires.output.lost != NOT_YET:
            log.warning("%s: %s", self.id, self._wires.why)
        return changed
