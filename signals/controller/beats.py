"""The heartbeat: what is in it, and when each was sent, so that an echo tells its age."""

from __future__ import annotations

from collections import deque

from signals.mqtt.codec import next_seq
from signals.mqtt.contract import Beat

REMEMBERED_S = 10.0
"""An echo of an older beat counts as no echo."""


class Beats:
    """Makes the beats of one boot and remembers when (loop time, s) they were sent."""

    def __init__(self, boot: str) -> None:
        self.boot = boot
        self._seq = 0
        self._sent: dict[int, float] = {}
        self._order: deque[int] = deque()

    def make(self, epoch: int, now_s: float, at_ms: int, *, stop: bool, test: bool) -> Beat:
        """Make the next beat: its stop flag is the fast path to every head and kart."""
        self._seq = next_seq(self._seq)
        self._sent[self._seq] = now_s
        self._order.append(self._seq)
        while self._sent[self._order[0]] < now_s - REMEMBERED_S:
            del self._sent[self._order.popleft()]
        return Beat(
            boot=self.boot,
            seq=self._seq,
            epoch=epoch,
            stop=stop,
            test=test,
            at=at_ms,
        )

    def sent_at(self, seq: int) -> float | None:
        """When the beat of this number was sent; None for one never sent or long ago."""
        return self._sent.get(seq)
