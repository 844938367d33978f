"""How trouble goes on and ends: what lies on the track, who walks there, what chance brings.

Pure: the engine calls `unfold` once a step, when all karts have moved.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from sim import people, seeded
from sim.ground import Ground
from sim.scene import Doing, Heard, Scene

_SILENT = Heard(taken={}, shown={})


def unfold(ground: Ground, before: Scene, after: Scene, heard: Heard = _SILENT) -> Scene:
    """Let what happened go on: things that lie there for a time, people on foot, and what chance brings."""
    scene = after
    if any(item.until_s <= scene.time_s for item in scene.items):
        scene = replace(scene, items=tuple(item for item in scene.items if item.until_s > scene.time_s))
    if scene.wet and scene.wet_until_s <= scene.time_s:
        scene = replace(scene, wet=False, wet_until_s=math.inf)
    scene = _cared_for(before, scene)
    scene = people.step(ground, scene, heard)
    return seeded.step(ground, scene) if scene.rates else scene


def _cared_for(before: Scene, scene: Scene) -> Scene:
    """Have the crew see to karts that came home: they are mended, scarves tucked in, drivers talked to."""
    if not any(
        was.doing is not kart.doing and kart.doing is Doing.PARKED
        for was, kart in zip(before.karts, scene.karts, strict=True)
    ):
        return scene
    karts = tuple(
        replace(kart, limp=1.0, limp_until_s=-1.0, deaf_until_s=-1.0, scarf_until_s=-1.0)
        if kart.doing is Doing.PARKED
        else kart
        for kart in scene.karts
    )
    return replace(scene, karts=karts)
