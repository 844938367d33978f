"""How often a place may try a password: failures are counted by network address, over a while.

Counted by address and not by post, so that nobody can keep a marshal out of his post by guessing at it.
"""

from __future__ import annotations

import ipaddress
from collections import OrderedDict, deque
from collections.abc import Callable

FAILURES_MAX = 8
WITHIN_S = 300.0
PLACES_MAX = 4096
NETWORK_BITS = 64
"""Whoever has one IPv6 address has its whole network."""


class Tries:
    """Failures of the last `WITHIN_S`, by place. `now_s` is a monotonic clock."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._failed: OrderedDict[str, deque[float]] = OrderedDict()

    def wait_s(self, address: str) -> float:
        """Give how long a place must wait until it may try again; 0 where it may now."""
        failed = self._recent(place_of(address))
        if len(failed) < FAILURES_MAX:
            return 0.0
        return max(0.0, failed[0] + WITHIN_S - self._now_s())

    def failed(self, address: str) -> None:
        """Count a failure."""
        place = place_of(address)
        failed = self._recent(place)
        failed.append(self._now_s())
        self._failed[place] = failed
        self._failed.move_to_end(place)
        if len(self._failed) > PLACES_MAX:
            self._failed.popitem(last=False)

    def passed(self, address: str) -> None:
        """Forget a place's failures: somebody there knows a password."""
        self._failed.pop(place_of(address), None)

    def _recent(self, place: str) -> deque[float]:
        failed = self._failed.get(place, deque(maxlen=FAILURES_MAX))
        while failed and failed[0] + WITHIN_S <= self._now_s():
            failed.popleft()
        return failed


def place_of(address: str) -> str:
    """Give what counts as one place: an IPv4 address, an IPv6 network, or the text itself."""
    try:
        known = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(known, ipaddress.IPv6Address):
        return str(ipaddress.ip_network((known, NETWORK_BITS), strict=False))
    return str(known)
