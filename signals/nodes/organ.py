"""What a node is made of: heads, limiters, contacts share one shape towards their node."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Hashable

from signals.mqtt.contract import Inject, Message

Levels = tuple[str, ...]
"""A topic's levels below the root."""


class Rejected(ValueError):
    """An order or a fault that this node cannot take, with the reason; nothing has changed."""


class Organ(ABC):
    """One head, limiter or contact of a node: what it is told, what it does, what it reports.

    Pure: the node brings messages and the time. `report` is the topic it reports on, `qos` and
    `retain` how; `faults` are the events it can be asked for. `memory` is what it decides by beside
    its node's lease, as one value that can be kept and put back; faults are not in it.
    """

    memory: Hashable
    faults: frozenset[str]
    qos = 0
    retain = False

    def __init__(self, organ_id: str, report: Levels) -> None:
        self.id = organ_id
        self.report = report
        self.silent = False

    @property
    def orders(self) -> tuple[Levels, ...]:
        """The topics it takes orders on."""
        return ()

    def hear(self, what: str, payload: bytes) -> None:
        """Take an order that came on its topic ending in `what`; raises `Rejected` or `Malformed`."""
        del payload
        raise Rejected(f"takes no {what}")

    def hear_trip(self, *, tripped: bool) -> None:
        """Take the conflict monitor's word; only heads act on it."""
        del tripped

    @abstractmethod
    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Do what is due now because of what happened at `cause_ms`; True if its report changed."""

    def look(self, now_ms: float) -> bool:
        """Look at what its equipment made of what was settled; True if its report changed."""
        del now_ms
        return False

    @property
    def due_ms(self) -> float | None:
        """When it must settle next even if nothing is heard."""
        return None

    @abstractmethod
    def say(self, boot: str, seq: int) -> Message:
        """Write its report."""

    @abstractmethod
    def take_fault(self, fault: Inject, now_ms: float) -> str:
        """Take a fault on command and say what it does now; raises `Rejected` if it cannot."""

    @abstractmethod
    def mend(self, now_ms: float) -> None:
        """End every fault it was given."""
