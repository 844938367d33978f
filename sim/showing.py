"""The world as it is told to screens: karts, people, what befell them, what the referee saw."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, Literal

from signals.mqtt.contract import WorldFinding, WorldKart, WorldPerson, WorldView
from signals.words import PIT
from sim import people
from sim.ground import Ground
from sim.scene import Kart, Person, Scene, Trouble, Who

DOING: dict[str, Literal["walks", "pushes", "sweeps", "stands"]] = {
    "stands": "stands",
    "out": "walks",
    "back": "walks",
    "pushes": "pushes",
    "sweeps": "sweeps",
}
"""What somebody is seen doing."""


def world_view(
    ground: Ground,
    scene: Scene,
    *,
    at_ms: int,
    seen: Sequence[WorldFinding] = (),
    late_steps: int = 0,
    digest: str = "",
) -> WorldView:
    """Give the message `world` of a scene."""
    return WorldView(
        at_ms=at_ms,
        karts=[_kart(ground, kart, scene.time_s) for kart in scene.karts],
        incidents=_incidents(ground, scene),
        people=[_person(ground, person) for person in scene.people],
        seen=list(seen),
        steps=scene.steps,
        late_steps=late_steps,
        wet=scene.wet,
        digest=digest,
    )


def _kart(ground: Ground, kart: Kart, now_s: float) -> WorldKart:
    pose = ground.pose(kart)
    return WorldKart(
        number=kart.number,
        x_m=round(pose.x_m, 3),
        y_m=round(pose.y_m, 3),
        heading_deg=round(pose.heading_deg, 1),
        at_m=round(kart.at_m, 2),
        speed_kmh=round(abs(kart.v_mps) * 3.6, 1),
        in_pit=ground.sector(kart) == PIT,
        limit_kmh=round(kart.limit_mps * 3.6, 1),
        throttle=round(kart.throttle, 2),
        brake=round(kart.brake, 2),
        boost=kart.boost_until_s > now_s,
    )


def _incidents(ground: Ground, scene: Scene) -> list[dict[str, Any]]:
    """List what is amiss, each with its place: what befell karts, things on the track."""
    signs: list[dict[str, Any]] = []
    for kart in scene.karts:
        signs += ({"event": event, "kart": kart.number} for event in _befell(kart, scene.time_s))
    for item in scene.items:
        pose = ground.track.lap.at(item.at_m).aside(item.left_m)
        signs.append({"event": item.what, "x_m": round(pose.x_m, 2), "y_m": round(pose.y_m, 2)})
    return signs


def befallen(scene: Scene) -> frozenset[tuple[str, int]]:
    """Give what is amiss: events with their karts, 0 for what befell none; people on foot by who they are."""
    karts = ((event, kart.number) for kart in scene.karts for event in _befell(kart, scene.time_s))
    things = ((item.what, 0) for item in scene.items)
    walking = ((f"{person.who} on foot", person.kart or 0) for person in scene.people)
    weather = (("rain", 0),) if scene.wet else ()
    return frozenset((*karts, *things, *walking, *weather))


def _befell(kart: Kart, now_s: float) -> Iterable[str]:
    """Give what befell a kart, in the words of events."""
    lasting = {
        "kart-button": math.inf if kart.cut else kart.button_until_s,
        "slow-kart": kart.limp_until_s,
        "loose-clothing": kart.scarf_until_s,
        "ignored-signal": kart.deaf_until_s,
    }
    trouble = () if kart.trouble is Trouble.NONE else (kart.trouble.value,)
    return (*trouble, *(event for event, until_s in lasting.items() if until_s > now_s))


def _person(ground: Ground, person: Person) -> WorldPerson:
    path = ground.track.pit if person.in_pit else ground.track.lap
    pose = path.at(person.at_m).aside(person.left_m)
    return WorldPerson(
        who=Who(person.who).value,
        x_m=round(pose.x_m, 2),
        y_m=round(pose.y_m, 2),
        at_m=round(person.at_m, 2),
        doing=DOING[person.doing],
        on_road=people.on_road(ground, person),
        kart=person.kart,
    )
