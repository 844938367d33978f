"""Several steps at once: as one by one where nobody walks, and alike to the last bit plain and compiled."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from msgspec.structs import replace

from signals.mqtt.contract import Inject
from signals.venue.model import Venue
from signals.words import Aspect
from sim.drill.world import driving, place_m
from sim.engine import step
from sim.ground import Ground
from sim.incidents import apply
from sim.scene import Heard, Scene
from sim.several import Several, SeveralCompiled

COUNT = 6
SEED = 5


def begun(ground: Ground) -> Scene:
    """A group that drives, spread around the lap."""
    scene = ground.begin(SEED)
    spread = (
        driving(ground, kart, place_m(ground, SEED, index, len(scene.karts), 0.3), wet=False)
        for index, kart in enumerate(scene.karts)
    )
    return replace(scene, karts=tuple(spread))


def heard(venue: Venue, scene: Scene, aspect: Aspect, kmh: float) -> Heard:
    return Heard(
        taken={kart.number: (kmh, scene.time_s) for kart in venue.karts},
        shown={head.id: (aspect, None, scene.time_s) for head in venue.heads},
    )


def wakes(several: Several, ground: Ground, events: Iterable[Inject] = ()) -> Scene:
    """Twelve seconds under green, then as many under yellow, with what happens in between."""
    scene, venue = begun(ground), ground.venue
    asked = list(events)
    for wake in range(240):
        aspect, kmh = (Aspect.GREEN, 45.0) if wake < 120 else (Aspect.YELLOW_FLASH, 15.0)
        if wake == 90:
            for event in asked:
                scene = apply(ground, scene, event)[0] or scene
        scene = several.step(scene, heard(venue, scene, aspect, kmh), COUNT)
    return scene


EVENTS = (
    Inject(id="a", event="spin", kart=3, for_ms=20_000),
    Inject(id="b", event="debris", where="s4", for_ms=20_000),
    Inject(id="c", event="driver-out", kart=5, for_ms=15_000),
    Inject(id="d", event="kart-button", kart=7),
)


def test_where_nobody_walks_it_is_as_one_by_one(venue: Venue) -> None:
    ground = Ground(venue)
    scene = begun(ground)
    said = heard(venue, scene, Aspect.GREEN, 45.0)
    one_by_one = scene
    for _ in range(10 * COUNT):
        one_by_one = step(ground, one_by_one, said)
    for _ in range(10):
        scene = Several(ground).step(scene, said, COUNT)
    assert scene.digest() == one_by_one.digest()


@pytest.mark.gate
@pytest.mark.parametrize("events", [(), EVENTS], ids=["driving", "incidents"])
def test_plain_and_compiled_are_alike_to_the_last_bit(venue: Venue, events: tuple[Inject, ...]) -> None:
    ground = Ground(venue)
    plain, quick = (wakes(made(ground), ground, events) for made in (Several, SeveralCompiled))
    assert plain.steps == 240 * COUNT
    assert bool(plain.people) == bool(events)
    assert plain.digest() == quick.digest()
