"""A world without drivers: karts roll on as they are, trouble and people go on as in the engine."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from msgspec.structs import replace

from signals.mqtt.contract import Inject
from signals.words import Aspect
from sim.astray import recovered, stray
from sim.course import Now
from sim.ground import Ground
from sim.incidents import apply
from sim.scene import STEP_S, Doing, Heard, Kart, Person, Scene, Trouble, twin
from sim.troubles import unfold

if TYPE_CHECKING:
    from signals.venue.model import Venue


@dataclass
class Roll:
    """Karts put where a test wants them; heads show what it says."""

    venue: Venue
    aspect: Aspect = Aspect.GREEN
    heads: dict[str, Aspect] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.ground = Ground(self.venue)
        self.scene = self.ground.begin(1)

    def heard(self) -> Heard:
        now_s = self.scene.time_s
        shown = {head.id: (self.heads.get(head.id, self.aspect), None, now_s) for head in self.venue.heads}
        return Heard(taken={}, shown=shown)

    def put(self, number: int, at_m: float, v_mps: float = 0.0, **more: object) -> None:
        lapping = {"on_pit_lane": False, "on_grid": False, "doing": Doing.LAPPING, "left_m": 0.0}
        self.change(number, **{**lapping, "at_m": at_m, "v_mps": v_mps, **more})

    def change(self, number: int, **more: object) -> None:
        karts = tuple(replace(kart, **more) if kart.number == number else kart for kart in self.scene.karts)
        self.scene = replace(self.scene, karts=karts)

    def stand(self, person: Person) -> None:
        self.scene = replace(self.scene, people=(*self.scene.people, person))

    def kart(self, number: int) -> Kart:
        return next(kart for kart in self.scene.karts if kart.number == number)

    def happen(self, event: str, **more: object) -> str:
        scene, said = apply(self.ground, self.scene, Inject(id="e1", event=event, **more))  # type: ignore[arg-type]
        assert scene is not None, said
        self.scene = scene
        return said

    def step(self) -> Scene:
        before = self.scene
        now_s = before.time_s + STEP_S
        after = replace(
            before, steps=before.steps + 1, karts=tuple(self._moved(kart, now_s) for kart in before.karts)
        )
        self.scene = unfold(self.ground, before, after, self.heard())
        return self.scene

    def _moved(self, kart: Kart, now_s: float) -> Kart:
        if kart.trouble and now_s >= kart.until_s:
            kart = recovered(kart)
        if kart.trouble and kart.trouble is not Trouble.INTRUDES:
            return self._strayed(kart)
        at_m = kart.at_m + kart.v_mps * STEP_S
        return replace(kart, at_m=at_m if kart.on_pit_lane else at_m % self.ground.track.length_m)

    def _strayed(self, kart: Kart) -> Kart:
        scene = self.scene
        now = Now(scene.steps, scene.time_s, STEP_S, scene.seed, scene.wet, 6, 3)
        karts = [twin(kart) if each.number == kart.number else each for each in scene.karts]
        index = next(index for index, each in enumerate(karts) if each.number == kart.number)
        stray(self.ground.course, now, karts, index)
        return karts[index]

    def run(self, seconds: float) -> Scene:
        for _ in range(round(seconds / STEP_S)):
            self.step()
        return self.scene
