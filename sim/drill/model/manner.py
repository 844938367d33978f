"""How somebody marshals: the model's manner, and those of typical mistakes."""

from __future__ import annotations

from dataclasses import dataclass, field

from signals.venue.model import Venue
from signals.words import PIT, Word
from sim.drill.form import MistakeTable, Slip


@dataclass(frozen=True, slots=True)
class Manner:
    """How somebody marshals. The default is the model's."""

    waits_s: float = 0.0
    """How much later everything that restricts is called."""
    lifts_after_s: float | None = None
    """Lift so long after the own call, whatever is still there."""
    holds_on_s: float = 0.0
    """How much later everything is lifted."""
    sectors: dict[str, str] = field(default_factory=dict)
    """Where one looks -> what is called."""
    other_kart: bool = False
    walks_first: bool = False
    words: dict[Word, Word] = field(default_factory=dict)
    """What is right -> what is called instead."""
    skips: frozenset[str] = frozenset()
    """Signs not seen, and steps left out."""
    jumps: bool = False
    """Calls red at words on the radio, without looking."""
    hurries: bool = False
    """Takes every step of a session as soon as its button is there."""
    blue_anywhere: bool = False
    """Calls blue as soon as a slow kart is seen where yellow stands, and nobody may pass."""


EVERYTHING = frozenset({"*"})
_MILDER = (Word.CAUTION, Word.STOP_ONE, Word.DISQUALIFY_ONE, Word.MOVE_OVER_ONE)
_GRAVER = (Word.STOP, Word.STOP_ONE, Word.DISQUALIFY_ONE)
BY_S = 8.0


def manner_of(mistake: MistakeTable, venue: Venue) -> Manner:
    """Give the manner of somebody who makes a typical mistake."""
    by_s = BY_S if mistake.by_s is None else mistake.by_s
    track = [sector.id for sector in venue.sectors if sector.id != PIT]
    about = EVERYTHING if mistake.about is None else frozenset({mistake.about})
    manners: dict[Slip, Manner] = {
        "nothing": Manner(skips=EVERYTHING),
        "skips": Manner(skips=about),
        "waits": Manner(waits_s=by_s),
        "mirrored": Manner(sectors=_called(track, track[::-1])),
        "next-sector": Manner(sectors=_called(track, track[1:] + track[:1])),
        "wrong-kart": Manner(other_kart=True),
        "walks-first": Manner(walks_first=True),
        "lifts-early": Manner(lifts_after_s=by_s),
        "holds-on": Manner(holds_on_s=by_s),
        "too-much": Manner(words=dict.fromkeys(_MILDER, Word.STOP)),
        "too-little": Manner(words=dict.fromkeys(_GRAVER, Word.CAUTION)),
        "jumps-at": Manner(jumps=True),
        "hurries": Manner(hurries=True),
        "blue-in-yellow": Manner(blue_anywhere=True),
    }
    return manners[mistake.slip]


def _called(looks: list[str], calls: list[str]) -> dict[str, str]:
    """Pair where one looks with what is called; who errs about sectors errs about the pit lane too."""
    return {**dict(zip(looks, calls, strict=True)), PIT: calls[0]}
