"""The signals as drivers read them on the board, by this venue's own choices: what is shown, what to do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.look import OF_ASPECT, Mark
from signals.venue.model import Venue
from signals.words import Aspect, HeadRole


@dataclass(frozen=True, slots=True)
class Explained:
    """One signal: its glyph, its name, and what a driver does."""

    mark: Mark
    name: str
    does: str
    number: int | None = None


def explained(venue: Venue) -> tuple[Explained, ...]:
    """Explain every signal a driver of this venue can meet, the ones that stop first."""
    return tuple(_signals(venue))


def _signals(venue: Venue) -> Iterator[Explained]:
    limits, choices = venue.limits, venue.choices
    stop = "Your kart stops" if limits.stop == 0 else f"Your kart slows to {limits.stop:g} km/h"
    yield Explained(Mark.STOP, "Red", f"{stop}. Stay seated until a marshal tells you what to do.")
    yield Explained(
        Mark.CAUTION,
        "Yellow, flashing",
        f"Danger ahead. Your kart slows to {limits.caution:g} km/h. No overtaking until you pass a green.",
    )
    when = "at once" if choices.finish_slow == "all-at-once" else "from the finish line on"
    yield Explained(
        OF_ASPECT[choices.finish_aspect],
        _finish_name(choices.finish_aspect),
        f"The session is over. Your kart slows to {limits.finish:g} km/h {when}. Come in to the pit.",
    )
    if any(head.number for head in venue.heads):
        yield Explained(Mark.MOVE_OVER, "Blue, a number", "That kart lets a faster one pass.", _first(venue))
        yield Explained(
            Mark.PLATE,
            "Black, a number",
            f"That kart slows to {limits.disqualified:g} km/h and comes in to the pit.",
            _first(venue),
        )
    yield Explained(Mark.GO, "Green", "Drive.")
    yield Explained(Mark.DARK, "Dark", "A dark light counts as red.")


def leaving(venue: Venue) -> str:
    """Say how karts leave at this venue."""
    if venue.choices.start == "grid":
        return "Everybody starts together, when the lights turn green."
    lights = any(head.role is HeadRole.PIT_EXIT for head in venue.heads)
    wait = "Wait for green at the pit exit: karts" if lights else "Karts"
    return f"{wait} leave one by one, {venue.timing.gap / 1000:g} s apart."


def _finish_name(aspect: Aspect) -> str:
    return {Aspect.RED_YELLOW: "Red with yellow"}.get(aspect, aspect.replace("-", " ").capitalize())


def _first(venue: Venue) -> int:
    return min(kart.number for kart in venue.karts)
