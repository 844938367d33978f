"""What can be put in force where a row failed, as calls: nothing here is a hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from signals.mqtt.contract import State
from signals.opening.rows import kart_of
from signals.opening.sheet import Measure, MeasureKind
from signals.words import PIT, Word

ASIDE = "aside"
Call = tuple[Word, dict[str, Any]]


def call_for(kind: MeasureKind, place: str, *, reason: str, flag: str) -> Call:
    """Give the call that puts a measure in force."""
    match kind:
        case "aside":
            return Word.ACCOUNT, {"kart": kart_of(place), "where": ASIDE, "checked": True, "reason": reason}
        case "out-of-service":
            return Word.OUT_OF_SERVICE, {"head": place, "by": flag, "reason": reason}
        case "wet":
            return Word.WET, {"reason": reason}


def call_back(kind: MeasureKind, place: str) -> Call | None:
    """Give the call that ends a measure; None for a head, which is out until the operating day ends."""
    match kind:
        case "aside":
            return Word.ACCOUNT, {"kart": kart_of(place), "where": PIT, "checked": True}
        case "wet":
            return Word.DRY, {}
        case "out-of-service":
            return None


def undone(measures: Iterable[Measure], state: State) -> Iterator[str]:
    """Name what was put in force and is not any more: by a later call, or by a restart."""
    again = "any more: put it in force again."
    for measure in measures:
        place = measure.place
        if measure.kind == "aside" and state.karts[str(kart_of(place))].place != ASIDE:
            yield f"Kart {kart_of(place)} is not set aside {again}"
        if measure.kind == "out-of-service" and state.heads[place].health != "out-of-service":
            yield f"Head {place} is not out of service {again}"
        if measure.kind == "wet" and state.surface != "wet":
            yield f"Wet limits are not in force {again}"
