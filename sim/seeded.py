"""Incidents that chance brings, so many an hour of each kind: drawn by counting, the same for the same seed.

Once a second each kind may happen, with the chance that its rate gives, to somebody who drives.
"""

from __future__ import annotations

from msgspec.structs import replace

from signals.mqtt.contract import Inject
from signals.sequence.rates import HOUR_S
from signals.words import PIT
from sim.chance import Purpose, uniform
from sim.ground import Ground
from sim.incidents import apply
from sim.scene import STEP_S, Doing, Kart, Scene, Trouble

STEPS_A_SECOND = round(1 / STEP_S)
OF_NO_KART = frozenset({"debris", "person-in-pit"})


def step(ground: Ground, scene: Scene) -> Scene:
    """Let happen what chance brings in this step."""
    if scene.steps % STEPS_A_SECOND:
        return scene
    second = scene.steps // STEPS_A_SECOND
    for kind, (event, per_hour) in enumerate(scene.rates):
        if uniform(scene.seed, kind, Purpose.INCIDENT, second) < per_hour / HOUR_S:
            scene = _happens(ground, scene, event, uniform(scene.seed, -1 - kind, Purpose.INCIDENT, second))
    return scene


def _happens(ground: Ground, scene: Scene, event: str, dice: float) -> Scene:
    driving = [kart for kart in scene.karts if _drives(kart)]
    if not driving:
        return scene
    asked = Inject(id=f"chance-{scene.steps}", event=event)
    if event == "debris":
        sectors = [sector.id for sector in ground.venue.sectors if sector.id != PIT]
        asked = replace(asked, where=sectors[int(dice * len(sectors))])
    elif event not in OF_NO_KART:
        asked = replace(asked, kart=driving[int(dice * len(driving))].number)
    happened, _ = apply(ground, scene, asked)
    return happened or scene


def _drives(kart: Kart) -> bool:
    return (
        kart.doing is Doing.LAPPING
        and not kart.on_pit_lane
        and not kart.on_grid
        and kart.trouble is Trouble.NONE
    )
