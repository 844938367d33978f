"""The world of a drill: the simulated world, with karts put around the track, not let out one by one."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from signals.words import Aspect
from sim.chance import Purpose, uniform
from sim.ground import Ground
from sim.lines import PROFILE_EVERY, Lane
from sim.scene import Doing, Kart, Mind
from sim.several import Several
from sim.world import World

UNEVEN = 0.3
"""How far karts stand from even spacing at most, as a share of it."""
SETTLED = 0.9
"""Share of the speed he dares that a driver begins with."""
NOTHING_BEFORE = -1


class DrillWorld(World):
    """A world that can be begun in the middle of a session. `several` takes the steps of a wake at once."""

    several: Several | None = None

    def _move(self) -> None:
        if self.several is None:
            super()._move()
            return
        before = self.scene
        self.scene = self.several.step(before, self._heard, self._paced.steps_a_wake)
        self._loops(before)

    def spread(self, karts: Sequence[int], turn: float) -> None:
        """Put karts around the lap, driving; the first at `turn`, a share of the lap."""
        places = {
            number: place_m(self.ground, self.scene.seed, index, len(karts), turn)
            for index, number in enumerate(karts)
        }
        put = (
            driving(self.ground, kart, places[kart.number], wet=self.scene.wet)
            if kart.number in places
            else kart
            for kart in self.scene.karts
        )
        self.scene = replace(self.scene, karts=tuple(put))


def place_m(ground: Ground, seed: int, index: int, count: int, turn: float) -> float:
    """Give where on the lap one of several karts begins: about evenly spaced."""
    aside = UNEVEN * (uniform(seed, index, Purpose.DRILL, NOTHING_BEFORE) - 0.5)
    return (turn + (index + aside) / count) % 1.0 * ground.track.length_m


def driving(ground: Ground, kart: Kart, at_m: float, *, wet: bool) -> Kart:
    """Give a kart on the racing line at about the speed its driver dares there, under green."""
    sample = ground.track.lap.sample(at_m)
    dares_mps = ground.speeds(kart.driver.skill, Lane.RACING, wet=wet)[sample // PROFILE_EVERY]
    limit_mps = max(ground.venue.limits.classes.values()) / 3.6
    line = ground.lanes[Lane.RACING]
    return replace(
        kart,
        at_m=at_m,
        left_m=line.lefts[sample],
        course_rad=line.slopes[sample],
        on_pit_lane=False,
        on_grid=False,
        doing=Doing.LAPPING,
        v_mps=min(SETTLED * dares_mps, limit_mps),
        limit_mps=limit_mps,
        cap_mps=limit_mps,
        held=False,
        mind=Mind(heeds=Aspect.GREEN, news=Aspect.GREEN),
    )
