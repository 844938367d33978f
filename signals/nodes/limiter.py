"""A kart's limiter: the limit it obeys, by the node rules. Nothing but a fresh order raises it."""

from __future__ import annotations

from dataclasses import dataclass

from signals.mqtt.codec import decode_lenient
from signals.mqtt.contract import CapsCommand, Inject, LimitCommand, Taken
from signals.nodes.lease import Addressed, InEpoch, Lease
from signals.nodes.organ import Levels, Organ

CREEP_AFTER_MS = 3_000
"""How long without a valid order until a kart only creeps (RULES: nodes)."""


@dataclass(frozen=True, slots=True)
class Falls:
    """What a limiter falls to by itself, km/h; all 0 until the controller gave the venue's."""

    stop_kmh: float = 0.0
    fail_kmh: float = 0.0
    creep_kmh: float = 0.0


class LimiterLogic(Organ):
    """One kart's limiter. `limit_kmh` is the limit it works towards; the ramp is the kart's physics."""

    faults = frozenset({"limiter-stuck"})

    def __init__(self, kart: int, lease: Lease) -> None:
        super().__init__(str(kart), ("kart", str(kart), "taken"))
        self.limit_kmh = 0.0
        self._lease = lease
        self._limits = InEpoch[LimitCommand](lease)
        self._caps = Addressed[CapsCommand](lease)
        self._falls = Falls()
        self._obeyed: LimitCommand | None = None
        self._alone_since_ms: float | None = None
        self._stuck_kmh: float | None = None
        self._said_kmh = 0.0

    @property
    def taken_kmh(self) -> float:
        """What it really obeys: the limit, unless it is stuck."""
        return self.limit_kmh if self._stuck_kmh is None else self._stuck_kmh

    @property
    def orders(self) -> tuple[Levels, ...]:
        """`kart/<n>/limit` and `kart/<n>/caps`."""
        return (("kart", self.id, "limit"), ("kart", self.id, "caps"))

    @property
    def due_ms(self) -> float | None:
        """When it falls to creep."""
        falling = self._alone_since_ms is not None and self.limit_kmh > self._falls.creep_kmh
        return (self._alone_since_ms or 0.0) + CREEP_AFTER_MS if falling else None

    def hear(self, what: str, payload: bytes) -> None:
        """Take a limit, or the constants for the day."""
        if what == "limit":
            self._limits.take(decode_lenient(LimitCommand, payload))
        else:
            self._caps.take(decode_lenient(CapsCommand, payload))

    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Obey the order that the lease bears out; without one fall, and after a while creep."""
        if caps := self._caps.current():
            self._falls = Falls(caps.stop_kmh, caps.fail_kmh, caps.creep_kmh)
        order = self._limits.current()
        if order is None:
            self._fall(now_ms, cause_ms)
        else:
            self._obey(order)
        if self._lease.stop:
            self.limit_kmh = min(self.limit_kmh, self._falls.stop_kmh)
        changed = self.taken_kmh != self._said_kmh
        self._said_kmh = self.taken_kmh
        return changed

    def _obey(self, order: LimitCommand) -> None:
        """Take a limit once: what lowered it since then is not undone by the same order."""
        self._alone_since_ms = None
        if self._is_fresh(order):
            self._obeyed = order
            self.limit_kmh = order.limit_kmh

    def _is_fresh(self, order: LimitCommand) -> bool:
        return order is not self._obeyed

    def _fall(self, now_ms: float, cause_ms: float) -> None:
        if self._alone_since_ms is None:
            self._alone_since_ms = cause_ms
        self.limit_kmh = self._fallen(self._falls.fail_kmh)
        if now_ms >= self._alone_since_ms + CREEP_AFTER_MS:
            self.limit_kmh = self._fallen(self._falls.creep_kmh)

    def _fallen(self, cap_kmh: float) -> float:
        return min(self.limit_kmh, cap_kmh)

    def say(self, boot: str, seq: int) -> Taken:
        """Report the limit it obeys now."""
        return Taken(boot=boot, seq=seq, beat_seq=self._lease.echo, limit_kmh=self.taken_kmh)

    def take_fault(self, fault: Inject, now_ms: float) -> str:
        """Take `limiter-stuck`: it keeps the limit it has."""
        del fault, now_ms
        self._stuck_kmh = self.taken_kmh
        return f"kart {self.id} keeps {self._stuck_kmh:g} km/h"

    def mend(self, now_ms: float) -> None:
        """Let it take limits again."""
        del now_ms
        self._stuck_kmh = None
