"""What befalls a world on request: every event that is about karts and the track.

`apply` answers with the scene after it and a sentence, or with no scene where it cannot be done.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from msgspec.structs import replace

from signals import say
from signals.mqtt.contract import Inject
from signals.words import PIT
from sim.astray import RUNS_MPS, recovered
from sim.ground import Ground
from sim.people import VISIT_S, changed, marshal, nearest_post, needs, visitor
from sim.scene import ASIDE, Doing, Item, Kart, Scene, Trouble

SPIN_S = 8.0
WRONG_WAY_S = 6.0
CONTACT_S = 10.0
"""How long karts that met stand."""
SHORTCUT_S = 4.0
BUTTON_S = 1.0
PUSH_S = 10.0
DEAF_S = 30.0
LIMP = 0.3
"""Share of its speed that a slow kart makes."""

REACH_M = 0.5
REACHES_M = {"wet-patch": 1.5, "barrier-moved": 0.8}
"""How far what lies there reaches around its middle."""

Happened = tuple[Scene | None, str]


def _until(scene: Scene, event: Inject, default_s: float) -> float:
    return scene.time_s + (default_s if event.for_ms is None else event.for_ms / 1000)


def _on_track(kart: Kart) -> bool:
    return not kart.on_pit_lane and not kart.on_grid


def _befalls(
    trouble: Trouble, default_s: float, said: str
) -> Callable[[Ground, Scene, Inject, Kart], Happened]:
    def happen(_: Ground, scene: Scene, event: Inject, kart: Kart) -> Happened:
        if not _on_track(kart):
            return None, f"Kart {kart.number} is in the pit"
        hit = replace(kart, trouble=trouble, until_s=_until(scene, event, default_s))
        return changed(scene, hit), f"Kart {kart.number} {said}"

    return happen


def _enters(ground: Ground, scene: Scene, _: Inject, kart: Kart) -> Happened:
    """Roll out of the pit whatever limit and light say; from near the exit, wherever it stood."""
    if _on_track(kart):
        return None, f"Kart {kart.number} is on the track already"
    near_m = ground.track.pit.length_m - 2 * ground.model.length_m
    rolls = replace(
        kart,
        at_m=max(near_m, kart.at_m) if kart.on_pit_lane else near_m,
        left_m=0.0,
        on_pit_lane=True,
        on_grid=False,
        doing=Doing.LEAVING,
        trouble=Trouble.INTRUDES,
        until_s=math.inf,
    )
    return changed(scene, rolls), f"Kart {kart.number} rolls out of the pit"


def _leaves(ground: Ground, scene: Scene, _: Inject, kart: Kart) -> Happened:
    """Be carried off the track, to its box or slot."""
    if not _on_track(kart) and kart.doing is not Doing.LEAVING:
        return None, f"Kart {kart.number} is in the pit"
    index = [other.number for other in scene.karts].index(kart.number)
    return changed(scene, ground.stowed(kart, index)), f"Kart {kart.number} was carried to the pit"


def _freed(_: Ground, scene: Scene, __: Inject, kart: Kart) -> Happened:
    if not kart.trouble and max(kart.limp_until_s, kart.scarf_until_s, kart.deaf_until_s) < scene.time_s:
        return None, f"Kart {kart.number} is in no trouble"
    whole = replace(recovered(kart), limp_until_s=-1.0, scarf_until_s=-1.0, deaf_until_s=-1.0)
    return changed(scene, whole), f"Kart {kart.number} can drive again"


def _contact(ground: Ground, scene: Scene, event: Inject, kart: Kart) -> Happened:
    """Have the next kart ahead spin, and this one run into it."""
    if not _on_track(kart):
        return None, f"Kart {kart.number} is in the pit"
    ahead = [
        (ground.track.ahead_m(kart.at_m, other.at_m), other)
        for other in scene.karts
        if other.number != kart.number and _on_track(other) and other.trouble not in ASIDE
    ]
    far_m = ground.track.length_m / 2
    room_m, other = min(ahead, key=lambda each: each[0], default=(far_m, kart))
    if room_m >= far_m:
        return None, f"No kart is near ahead of kart {kart.number}"
    until_s = _until(scene, event, CONTACT_S) + room_m / RUNS_MPS
    hits = replace(kart, trouble=Trouble.CONTACT, until_s=until_s)
    hit = replace(other, trouble=Trouble.SPIN, until_s=until_s)
    return changed(changed(scene, hits), hit), f"Kart {kart.number} runs into kart {other.number}"


def _lasts(field: str, default_s: float, said: str, **more: float) -> Callable[..., Happened]:
    """Make an event that lasts for a time, with the driver still driving."""

    def happen(_: Ground, scene: Scene, event: Inject, kart: Kart) -> Happened:
        if not _on_track(kart):
            return None, f"Kart {kart.number} is in the pit"
        hit = replace(kart, **{field: _until(scene, event, default_s), **more})
        return changed(scene, hit), f"Kart {kart.number} {said}"

    return happen


def _button(_: Ground, scene: Scene, event: Inject, kart: Kart) -> Happened:
    pressed = replace(kart, button_until_s=_until(scene, event, BUTTON_S))
    return changed(scene, pressed), f"Kart {kart.number}'s button is pressed"


OF_A_KART: dict[str, Callable[[Ground, Scene, Inject, Kart], Happened]] = {
    "spin": _befalls(Trouble.SPIN, SPIN_S, "spins"),
    "stall": _befalls(Trouble.STALL, math.inf, "stalls"),
    "smoke": _befalls(Trouble.SMOKE, math.inf, "smokes and rolls out"),
    "hand-raised": _befalls(Trouble.HAND_RAISED, math.inf, "stops, its driver's hand raised"),
    "wrong-way": _befalls(Trouble.WRONG_WAY, WRONG_WAY_S, "drives the wrong way"),
    "contact": _contact,
    "driver-out": _befalls(Trouble.DRIVER_OUT, math.inf, "stops, its driver climbs out"),
    "overturned": _befalls(Trouble.OVERTURNED, math.inf, "lies on its side"),
    "medical": _befalls(Trouble.MEDICAL, math.inf, "rolls out, its driver slumped"),
    "child-in-tears": _befalls(Trouble.TEARS, math.inf, "stops, its driver in tears"),
    "shortcut": _befalls(Trouble.SHORTCUT, SHORTCUT_S, "cuts the corner"),
    "slow-kart": _lasts("limp_until_s", math.inf, "only limps along", limp=LIMP),
    "loose-clothing": _lasts("scarf_until_s", math.inf, "has a scarf flapping behind its driver"),
    "ignored-signal": _lasts("deaf_until_s", DEAF_S, "has a driver who heeds no signal"),
    "kart-pushed": _befalls(Trouble.PUSHED, PUSH_S, "is pushed along"),
    "kart-enters": _enters,
    "kart-leaves": _leaves,
    "kart-free": _freed,
    "kart-button": _button,
}


def _lies(ground: Ground, scene: Scene, event: Inject) -> Happened:
    """Put something in the middle of a sector: on the line, or at the edge where a barrier juts in."""
    sector = next((each for each in ground.venue.sectors if each.id == event.where), None)
    if sector is None or sector.id == PIT:
        known = ", ".join(each.id for each in ground.venue.sectors if each.id != PIT)
        return None, f"{event.event} needs where, one of {known}; got {event.where!r}"
    half_m = ground.track.ahead_m(sector.from_m, sector.to_m) / 2
    item = Item(
        what=event.event,
        at_m=(sector.from_m + half_m) % ground.track.length_m,
        left_m=ground.edge_m if event.event == "barrier-moved" else 0.0,
        until_s=_until(scene, event, math.inf),
        reach_m=REACHES_M.get(event.event, REACH_M),
    )
    what = event.event.replace("-", " ").capitalize()
    return replace(scene, items=(*scene.items, item)), f"{what} in {sector.name}"


def _swept(ground: Ground, scene: Scene, event: Inject) -> Happened:
    """Take away what lies in a sector, or everywhere where none is named."""
    left = tuple(item for item in scene.items if event.where not in (None, ground.track.sector_at(item.at_m)))
    if len(left) == len(scene.items):
        return None, "Nothing lies there"
    return replace(scene, items=left), "The track is swept"


def _pit_visitor(ground: Ground, scene: Scene, event: Inject) -> Happened:
    """Have somebody walk into the pit lane."""
    stays_s = _until(scene, event, VISIT_S) - scene.time_s
    return replace(
        scene, people=(*scene.people, visitor(ground, scene, stays_s))
    ), "Somebody is in the pit lane"


def _marshal_out(ground: Ground, scene: Scene, event: Inject) -> Happened:
    """Send the nearest marshal out to a kart, or to what lies in a sector, whatever the heads show."""
    goal = next(
        (
            need
            for need in needs(scene)
            if (isinstance(need, Kart) and need.number == event.kart)
            or (event.kart is None and event.where in (None, ground.track.sector_at(need.at_m)))
        ),
        None,
    )
    if goal is None:
        return None, "Nothing there needs a marshal"
    post = nearest_post(ground, goal.at_m)
    if post is None or any(person.post == post.id for person in scene.people):
        return None, "The nearest marshal is out already"
    out = marshal(ground, scene, post, goal)
    return replace(scene, people=(*scene.people, out)), f"A marshal of {say.spoken(post)} walks out"


def _marshal_back(_: Ground, scene: Scene, __: Inject) -> Happened:
    """Call every marshal back to the post."""
    out = [person for person in scene.people if person.who == "marshal" and person.doing != "back"]
    if not out:
        return None, "No marshal is out"
    people = tuple(replace(each, doing="back") if each in out else each for each in scene.people)
    return replace(scene, people=people), "The marshals walk back"


def _rains(_: Ground, scene: Scene, event: Inject) -> Happened:
    """Wet the surface, until it dries."""
    return replace(scene, wet=True, wet_until_s=_until(scene, event, math.inf)), "It rains: the track is wet"


def _dries(_: Ground, scene: Scene, __: Inject) -> Happened:
    if not scene.wet:
        return None, "The track is dry"
    return replace(scene, wet=False, wet_until_s=math.inf), "The track dries"


OF_THE_TRACK: dict[str, Callable[[Ground, Scene, Inject], Happened]] = {
    "debris": _lies,
    "wet-patch": _lies,
    "barrier-moved": _lies,
    "smoke": _lies,
    "swept": _swept,
    "person-in-pit": _pit_visitor,
    "marshal-out": _marshal_out,
    "marshal-back": _marshal_back,
    "rain": _rains,
    "dries": _dries,
}
EVENTS = tuple(sorted({*OF_A_KART, *OF_THE_TRACK}))


def apply(ground: Ground, scene: Scene, event: Inject) -> Happened:
    """Let an event happen; gives the scene after it, None where it cannot be, and a sentence."""
    if event.event in OF_A_KART and (event.kart is not None or event.event not in OF_THE_TRACK):
        kart = next((each for each in scene.karts if each.number == event.kart), None)
        if kart is None:
            return None, f"{event.event} needs a kart of this venue; got {event.kart!r}"
        return OF_A_KART[event.event](ground, scene, event, kart)
    if event.event in OF_THE_TRACK:
        return OF_THE_TRACK[event.event](ground, scene, event)
    return None, f"The world knows no event {event.event!r}; it knows {', '.join(EVENTS)}"
