"""Whether the controller itself still reaches the broker: it hears its own beats."""

from __future__ import annotations

from collections.abc import Iterator

from signals.core.state import Event


class BrokerWatch:
    """Cut off for longer than the lease, every node has fallen to its fail aspect: that is a stop.

    A connection that still looks whole proves nothing; a beat that came back does.
    """

    def __init__(self, lease_s: float) -> None:
        self._lease_s = lease_s
        self._reached_s: float | None = None
        self._said = False

    def reach(self, at_s: float | None) -> None:
        """Take a proof of the way to the broker and back: connected, or a beat sent at `at_s` (loop time)."""
        if at_s is not None:
            self._reached_s = max(at_s, self._reached_s or at_s)

    def sweep(self, now_s: float) -> Iterator[Event]:
        """Give `broker-lost`, once a loss; before the first connection nothing was lost."""
        lost = self._reached_s is not None and now_s - self._reached_s > self._lease_s
        if lost and not self._said:
            yield Event("broker-lost", fields={"reason": "the controller was cut off from its broker"})
        self._said = lost
