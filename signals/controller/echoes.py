"""Whether a device is heard: it echoes the number of the last beat it heard."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from signals.controller.nodes import Nodes


class Health(Enum):
    """How a device is: unsure until it had time to be heard."""

    WELL = "well"
    ILL = "ill"
    UNSURE = "unsure"


@dataclass(slots=True)
class Echo:
    """The newest beat a device echoed, as the time (loop time, s) that beat was sent."""

    node: str
    lease_s: float
    newest_s: float | None = None

    def hear(self, sent_at_s: float | None) -> None:
        """Take an echo; `sent_at_s` is None for a beat that was never sent, or long ago."""
        if sent_at_s is not None:
            self.newest_s = max(sent_at_s, self.newest_s or sent_at_s)

    def fresh(self, now_s: float) -> bool:
        """Tell whether the newest echoed beat is younger than the lease."""
        return self.newest_s is not None and now_s - self.newest_s <= self.lease_s

    def judge(self, nodes: Nodes, now_s: float, *, settling: bool) -> tuple[Health, str]:
        """Tell how the device is, and why it is not well; while `settling` silence means nothing yet.

        Well means more than heard: it has heard a beat since its incarnation was first addressed.
        """
        since_s = nodes.addressed_since(self.node)
        if trouble := nodes.trouble(self.node):
            return Health.ILL, trouble
        if self.newest_s is None or since_s is None:
            return (Health.UNSURE, "") if settling else (Health.ILL, "not heard since the start")
        if not self.fresh(now_s):
            return Health.ILL, "has not heard the controller for too long"
        return (Health.WELL if self.newest_s >= since_s else Health.UNSURE), ""
