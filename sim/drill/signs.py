"""Where what happened shows, in a view of the world, and whether it is over.

A thing is over once nothing of it is left: the kart drives or is home, the parts are swept, the
visitor is gone; and nobody is on the road in its sector any more.
"""

from __future__ import annotations

from collections.abc import Iterator

from signals.mqtt.contract import State, WorldKart, WorldPerson, WorldView
from signals.sequence.events import KINDS
from signals.words import PIT
from sim.drill.lookout import Spot, spot_of
from sim.drill.tape import Cue
from sim.track import Track

LASTING = frozenset({"kart-button", "slow-kart", "loose-clothing", "ignored-signal"})
"""What a kart may have while its driver drives on."""
OF_PEOPLE = {"person-in-pit": "visitor", "marshal-out": "marshal"}
COMES_MS = 6_000
"""So long somebody takes to step on the road."""
BUTTON = "kart-button"


def spot(cue: Cue, view: WorldView, track: Track) -> Spot | None:
    """Give where it shows now; None where it does not."""
    if cue.event in OF_PEOPLE:
        return next(
            (_of_person(track, each) for each in view.people if each.who == OF_PEOPLE[cue.event]), None
        )
    if cue.kart is not None:
        kart = next((each for each in view.karts if each.number == cue.kart), None)
        shows = kart is not None and any(_of_kart(cue, sign) for sign in view.incidents)
        return spot_of(track, kart) if shows and kart is not None else None
    for sign in view.incidents:
        if sign["event"] == cue.event and "kart" not in sign:
            at_m = _along(track, float(sign["x_m"]), float(sign["y_m"]))
            if track.sector_at(at_m) == cue.where:
                return Spot(at_m, in_pit=False, sector=cue.where)
    return None


def of_world(cue: Cue) -> bool:
    """Whether it shows in the world."""
    kind = KINDS.get(cue.event)
    return kind is not None and kind.addressee == "world"


def sectors(cue: Cue, view: WorldView, track: Track) -> Iterator[str]:
    """Give the sectors it is in: a kart on a border, or sliding on, may be called in either."""
    here = spot(cue, view, track)
    if here is not None:
        yield here.sector


def over(cue: Cue, since_ms: int, at_ms: int, view: WorldView, state: State | None, track: Track) -> bool:
    """Whether nothing is left of what happened at `since_ms`, and nobody is on the road for it.

    What does not show in the world (equipment, words) is over when its time is, at once where it has none.
    """
    if not of_world(cue):
        return cue.until_ms is None or at_ms >= cue.until_ms
    if cue.event in OF_PEOPLE:
        comes = at_ms - since_ms < COMES_MS
        return not comes and not any(
            each.on_road and each.who == OF_PEOPLE[cue.event] for each in view.people
        )
    if spot(cue, view, track) is not None or _pressed(cue, state):
        return False
    return not any(each.on_road and _near(cue, each, track) for each in view.people)


def exposed(view: WorldView, track: Track) -> Iterator[tuple[WorldPerson, str]]:
    """Give everybody who is where karts drive, with the sector."""
    for person in view.people:
        if person.on_road:
            yield person, _of_person(track, person).sector


def drives(kart: WorldKart, view: WorldView) -> bool:
    """Whether nothing is amiss with a kart on the track."""
    return not kart.in_pit and not any(sign.get("kart") == kart.number for sign in view.incidents)


def _of_kart(cue: Cue, sign: dict[str, object]) -> bool:
    if sign.get("kart") != cue.kart:
        return False
    return sign["event"] == cue.event if cue.event in LASTING else sign["event"] not in LASTING


def _pressed(cue: Cue, state: State | None) -> bool:
    """Whether a kart's button is still latched: the desk shows it, long after it was pressed."""
    if cue.event != BUTTON or state is None or cue.kart is None:
        return False
    kart = state.karts.get(str(cue.kart))
    return kart is not None and kart.button


def _near(cue: Cue, person: WorldPerson, track: Track) -> bool:
    return (cue.kart is not None and person.kart == cue.kart) or _of_person(track, person).sector == cue.where


def _of_person(track: Track, person: WorldPerson) -> Spot:
    in_pit = person.who == "visitor"
    return Spot(person.at_m, in_pit, PIT if in_pit else track.sector_at(person.at_m))


def _along(track: Track, x_m: float, y_m: float) -> float:
    """Give the metre of the lap nearest to a place on the ground."""
    away = track.lap.xy - (x_m, y_m)
    return float((away * away).sum(axis=1).argmin() / track.lap.per_m)
