"""`Core`: one venue's decisions. The public face of this package.

    core = Core(layout)
    state = core.begin(boot)                 # closed, empty, everything healthy
    decision = core.step(state, event, now_ms)
    core.picture(decision.state)             # aspects, limits, holds, spelled out
    core.next_deadline(decision.state)       # ms, or None
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from signals.core.state import Decision, Event, Layout, Picture, State


class Core:
    """Decide for one venue. Pure: the same arguments give the same answer, and nothing else happens."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout

    def begin(self, boot: str) -> State:
        """Give the state of a venue that was never run: closed, every kart in the pit, all healthy."""
        raise NotImplementedError

    def step(self, state: State, event: Event, now_ms: int) -> Decision:
        """Act on what is due, then on `event`. Total: never raises for any event."""
        raise NotImplementedError

    def next_deadline(self, state: State) -> int | None:
        """When `step` wants to be called with TICK at the latest, in the terms of `now_ms`."""
        raise NotImplementedError

    def picture(self, state: State) -> Picture:
        """Spell a state out: conditions, aspects, limits with the reason that won, holds, faults."""
        raise NotImplementedError

    def dump(self, state: State) -> dict[str, Any]:
        """Spell a state out as JSON values, by names, for the journal's snapshots."""
        raise NotImplementedError

    def load(self, dumped: Mapping[str, Any], boot: str) -> State:
        """Read a snapshot back under a new boot (step a `restart` event next); raises ValueError."""
        raise NotImplementedError
