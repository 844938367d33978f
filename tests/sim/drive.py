"""A world whose limits and heads are set by hand; every report stays fresh unless told otherwise."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from msgspec.structs import replace

from signals.words import Aspect
from sim.engine import step
from sim.ground import Ground
from sim.scene import STEP_S, Doing, Heard, Kart, Mind, Scene

if TYPE_CHECKING:
    from collections.abc import Callable

    from signals.venue.model import Venue

WELL_AWAKE = Mind(heeds=Aspect.GREEN, news=Aspect.GREEN)


@dataclass
class Drive:
    """Limits in km/h by kart; where `pit_kmh` is given, karts on the pit lane are told that."""

    venue: Venue
    seed: int = 1
    wet: bool = False
    pit_kmh: float | None = None
    limits: dict[int, float] = field(default_factory=dict)
    boosts: dict[int, int] = field(default_factory=dict)
    boosts_mps: dict[int, float] = field(default_factory=dict)
    aspects: dict[str, tuple[Aspect, int | None]] = field(default_factory=dict)
    silent: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.ground = Ground(self.venue)
        self.scene = self.ground.begin(self.seed, wet=self.wet)
        self.taken: dict[int, tuple[float, float]] = {}
        self.show(Aspect.GREEN)

    def show(self, aspect: Aspect, number: int | None = None, *heads: str) -> None:
        self.aspects |= {
            head.id: (aspect, number) for head in self.venue.heads if not heads or head.id in heads
        }

    def _told(self, kart: Kart) -> float:
        limit = self.limits[kart.number]
        return min(limit, self.pit_kmh) if kart.on_pit_lane and self.pit_kmh is not None else limit

    def heard(self) -> Heard:
        now_s = self.scene.time_s
        self.taken |= {
            kart.number: (self._told(kart), now_s)
            for kart in self.scene.karts
            if kart.number in self.limits and kart.number not in self.silent
        }
        shown = {head: (*shown, now_s) for head, shown in self.aspects.items()}
        return Heard(taken=self.taken, shown=shown, boosts=self.boosts, boosts_mps=self.boosts_mps)

    def step(self) -> Scene:
        self.scene = step(self.ground, self.scene, self.heard())
        return self.scene

    def run(self, seconds: float) -> Scene:
        for _ in range(round(seconds / STEP_S)):
            self.step()
        return self.scene

    def until(self, come: Callable[[], bool], longest_s: float = 120.0) -> Scene:
        for _ in range(round(longest_s / STEP_S)):
            if come():
                return self.scene
            self.step()
        raise AssertionError(f"it did not come within {longest_s} s")

    def kart(self, number: int) -> Kart:
        return next(kart for kart in self.scene.karts if kart.number == number)

    def change(self, number: int, **more: object) -> None:
        karts = tuple(replace(kart, **more) if kart.number == number else kart for kart in self.scene.karts)
        self.scene = replace(self.scene, karts=karts)

    def place(self, number: int, **more: object) -> None:
        """Put a kart on the racing line of the lap, awake, its limiter where its speed is."""
        at_m = float(str(more.get("at_m", 0.0)))
        line = self.ground.lanes[0]
        sample = self.ground.track.lap.sample(at_m)
        lapping: dict[str, object] = {
            "on_pit_lane": False,
            "on_grid": False,
            "doing": Doing.LAPPING,
            "left_m": line.lefts[sample],
            "course_rad": line.slopes[sample],
            "cap_mps": more.get("v_mps", 0.0),
            "held": False,
            "mind": WELL_AWAKE,
        }
        self.change(number, **(lapping | more))
