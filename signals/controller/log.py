"""What the controller says to people who run it: one line a happening, fields as JSON, no secrets."""

from __future__ import annotations

import json
import logging
from collections import Counter
from typing import Any

KINDS_MAX = 256
"""Different complaints that are told apart; later ones count as "others", so that nobody fills the disk."""

_LOGGER = logging.getLogger("kerblight.controller")


def say(what: str, *, level: int = logging.INFO, **fields: Any) -> None:
    """Log one happening: `what key=value …`."""
    if _LOGGER.isEnabledFor(level):
        tail = "".join(f" {key}={json.dumps(value, default=str)}" for key, value in fields.items())
        _LOGGER.log(level, "%s%s", what, tail, extra={"what": what, "fields": fields})


class Complaints:
    """What was not taken, counted by kind; each kind is logged the first time it comes."""

    def __init__(self) -> None:
        self.counts: Counter[tuple[str, str]] = Counter()

    def take(self, topic: str, reason: str) -> None:
        """Count a message on `topic` that was not taken."""
        kind = (topic, reason)
        if kind not in self.counts and len(self.counts) >= KINDS_MAX:
            kind = ("others", "")
        self.counts[kind] += 1
        if self.counts[kind] == 1:
            say("not-taken", level=logging.WARNING, topic=kind[0][:120], reason=kind[1][:240])

    @property
    def total(self) -> int:
        """How many messages were not taken."""
        return self.counts.total()

    def sum_up(self) -> None:
        """Log how often each kind came in all."""
        for (topic, reason), count in self.counts.items():
            if count > 1:
                say("not-taken-in-all", topic=topic[:120], reason=reason[:240], count=count)
