"""What can be put in force where a row failed, as calls: nothing here is a hold."""

from __future__ import annotations

from typing import Any

from signals.opening.rows import kart_of
from signals.opening.sheet import MeasureKind
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
