"""A kart's limiter: the limit it obeys, by the node rules. Nothing but a fresh order raises it."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from typing import Any

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


@dataclass(frozen=True, slots=True)
class Obedience:
    """What a limiter does now: the limit, the order it took it from, how long it has had none."""

    limit_kmh: float = 0.0
    obeyed: LimitCommand | None = None
    alone_since_ms: float | None = None
    falls: Falls = Falls()


class LimiterLogic(Organ):
    """One kart's limiter. `limit_kmh` is the limit it works towards; the ramp is the kart's physics."""

    faults = frozenset({"limiter-stuck"})

    def __init__(self, kart: int, lease: Lease) -> None:
        super().__init__(str(kart), ("kart", str(kart), "taken"))
        self._lease = lease
        self._limits = InEpoch[LimitCommand](lease)
        self._caps = Addressed[CapsCommand](lease)
        self._now = Obedience()
        self._stuck_kmh: float | None = None
        self._said_kmh = 0.0

    @property
    def memory(self) -> Hashable:
        """What it decides by, beside the lease."""
        return self._limits.memory, self._caps.memory, self._now

    @memory.setter
    def memory(self, memory: Any) -> None:
        self._limits.memory, self._caps.memory, self._now = memory

    @property
    def limit_kmh(self) -> float:
        """The limit it works towards."""
        return self._now.limit_kmh

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
        since_ms = self._now.alone_since_ms
        falling = since_ms is not None and self.limit_kmh > self._now.falls.creep_kmh
        return (since_ms or 0.0) + CREEP_AFTER_MS if falling else None

    def hear(self, what: str, payload: bytes) -> None:
        """Take a limit, or the constants for the day."""
        if what == "limit":
            self._limits.take(decode_lenient(LimitCommand, payload))
        else:
            self._caps.take(decode_lenient(CapsCommand, payload))

    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Obey the order that the lease bears out; without one fall, and after a while creep."""
        if caps := self._caps.current():
            self._keep(falls=Falls(caps.stop_kmh, caps.fail_kmh, caps.creep_kmh))
        order = self._limits.current()
        if order is None:
            self._fall(now_ms, cause_ms)
        else:
            self._obey(order)
        if self._lease.stop:
            self._keep(limit_kmh=min(self.limit_kmh, self._now.falls.stop_kmh))
        changed = self.taken_kmh != self._said_kmh
        self._said_kmh = self.taken_kmh
        return changed

    def _obey(self, order: LimitCommand) -> None:
        """Take a limit once: what lowered it since then is not undone by the same order."""
        self._keep(alone_since_ms=None)
        if self._is_fresh(order):
            self._keep(obeyed=order, limit_kmh=order.limit_kmh)

    def _is_fresh(self, order: LimitCommand) -> bool:
        return order != self._now.obeyed

    def _fall(self, now_ms: float, cause_ms: float) -> None:
        since_ms = cause_ms if self._now.alone_since_ms is None else self._now.alone_since_ms
        self._keep(alone_since_ms=since_ms, limit_kmh=self._fallen(self._now.falls.fail_kmh))
        if now_ms >= since_ms + CREEP_AFTER_MS:
            self._keep(limit_kmh=self._fallen(self._now.falls.creep_kmh))

    def _fallen(self, cap_kmh: float) -> float:
        return min(self.limit_kmh, cap_kmh)

    def _keep(self, **changes: Any) -> None:
        self._now = replace(self._now, **changes)

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
