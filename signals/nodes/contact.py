"""A wired input: a call box's button, an alarm, a gate. It reports, it obeys nothing."""

from __future__ import annotations

from signals.mqtt.contract import Inject, InputReport
from signals.nodes.lease import Lease
from signals.nodes.organ import Organ
from signals.words import InputState

_EVENTS = {
    "input-active": InputState.ACTIVE,
    "input-normal": InputState.NORMAL,
    "input-fault": InputState.FAULT,
}


class ContactLogic(Organ):
    """One input of a node; normal until told otherwise. Silent, it says nothing: that is a fault too."""

    faults = frozenset({*_EVENTS, "input-silent"})
    memory = None
    qos = 1
    retain = True

    def __init__(self, input_id: str, lease: Lease) -> None:
        super().__init__(input_id, ("input", input_id, "state"))
        self.state = InputState.NORMAL
        self._lease = lease
        self._said = self.state

    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Tell whether the contact changed."""
        del now_ms, cause_ms
        changed = self.state is not self._said
        self._said = self.state
        return changed

    def say(self, boot: str, seq: int) -> InputReport:
        """Report the contact."""
        return InputReport(boot=boot, seq=seq, beat_seq=self._lease.echo, state=self.state)

    def take_fault(self, fault: Inject, now_ms: float) -> str:
        """Take `input-active`, `input-normal`, `input-fault`, or `input-silent`."""
        del now_ms
        if fault.event == "input-silent":
            self.silent = True
            return f"{self.id} says nothing any more"
        self.silent = False
        self.state = _EVENTS[fault.event]
        return f"{self.id} is {self.state}"

    def mend(self, now_ms: float) -> None:
        """Let it report again; the contact itself stays as it is."""
        del now_ms
        self.silent = False
