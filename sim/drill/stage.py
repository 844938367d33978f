"""The venue of a drill on one loop: everything that really runs but the broker's process.

In a window it keeps the venue's own times. Without one (`lean`) beats are a second apart and leases
four: the rules, the ramps and every answer are the same, only what nobody waits for is said more
seldom, so that many drills can be played in virtual time.
"""

from __future__ import annotations

from collections import deque

from msgspec.structs import replace

from signals.clock import Clock
from signals.core.machine import Core
from signals.core.state import Layout
from signals.part import MakeLink
from signals.sequence.stage import Stage
from signals.venue.model import Venue
from sim.drill.world import DrillWorld
from sim.several import Several, SeveralCompiled
from sim.world import Pace

LEAN_BEAT_MS, LEAN_LEASE_MS, LEAN_SETTLE_MS = 1_000, 4_000, 1_500
"""The controller looks at heads once a beat: they have longer than one to obey."""
LEAN_PACE = Pace(steps_a_wake=6, where_every=10)
"""Ten views a second, a report of every kart once a second."""
BLINK_MS = 100
"""The gap between karts let out, in drills that do not train it."""
CORES_KEPT = 4
LEAN_FROM_MS = 1_800_000_000_000
"""When a drill without a window takes place (UTC): the same for all, so that a seed gives the same."""
_CORES: deque[Core] = deque(maxlen=CORES_KEPT)


def core_of(layout: Layout) -> Core:
    """Give the rules compiled for a layout; the last few are kept, for a core is pure."""
    known = next((core for core in _CORES if core.layout == layout), None)
    if known is None:
        known = Core(layout)
        _CORES.append(known)
    return known


def paced(venue: Venue, *, gap: bool, lean: bool) -> Venue:
    """Give the venue as a drill runs it."""
    timing = venue.timing if gap else replace(venue.timing, gap=BLINK_MS)
    if not lean:
        return replace(venue, timing=timing)
    timing = replace(
        timing,
        beat=LEAN_BEAT_MS,
        lease_head=LEAN_LEASE_MS,
        lease_kart=LEAN_LEASE_MS,
        lease_controller=LEAN_LEASE_MS,
        settle=LEAN_SETTLE_MS,
    )
    nodes = tuple(replace(node, lease_ms=LEAN_LEASE_MS) for node in venue.nodes)
    return replace(venue, timing=timing, nodes=nodes)


class DrillStage(Stage):
    """A venue's parts, as a context. `world` is there once it is entered.

    `compiled` moves karts compiled where it is lean: the same to the last bit, quicker where many are played.
    """

    def __init__(self, venue: Venue, *, seed: int, lean: bool, compiled: bool = False) -> None:
        super().__init__(
            venue,
            seed=seed,
            world=self._world,
            clock=Clock(lambda: LEAN_FROM_MS) if lean else Clock(),
            make_core=core_of,
            at_once=True,
        )
        self.world: DrillWorld
        self._pace = LEAN_PACE if lean else Pace()
        self._several: type[Several] | None = None
        if lean:
            self._several = SeveralCompiled if compiled else Several

    def _world(self, venue: Venue, make_link: MakeLink, *, seed: int, clock: Clock) -> DrillWorld:
        self.world = DrillWorld(venue, make_link, seed=seed, clock=clock, pace=self._pace)
        if self._several is not None:
            self.world.several = self._several(self.world.ground)
        return self.world
