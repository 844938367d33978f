"""A seat: one post's eyes, and whoever answers there. Recorded deeds are one such; a model is another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from signals.mqtt.contract import Answer, Group, State, WorldView
from signals.venue.model import Post, Venue
from sim.drill.deeds import Deed
from sim.drill.lookout import Lookout
from sim.drill.tape import Cue
from sim.track import Track


@dataclass(slots=True)
class Eyes:
    """All that somebody at a post knows: what is seen from there, the desk's picture, radio, answers."""

    venue: Venue
    track: Track
    post: Post
    lookout: Lookout
    now_s: float = 0.0
    view: WorldView = field(default_factory=lambda: WorldView(at_ms=0, karts=[], incidents=[]))
    state: State | None = None
    group: Group | None = None
    radio: list[Cue] = field(default_factory=list)
    """What was heard, the latest last."""
    answers: list[tuple[float, Deed, Answer | None]] = field(default_factory=list)
    """What was called from here, and what came of it."""
    device: bool = True
    """Whether this post's own device works."""


class Answerer(Protocol):
    """Whoever sits at a post."""

    def look(self, eyes: Eyes) -> Iterable[Deed]:
        """Look; gives what is done now. Asked ten times a second; `Deed.at_s` is not read."""


class Nobody:
    """Sees nothing, does nothing."""

    def look(self, eyes: Eyes) -> Iterable[Deed]:
        """Do nothing."""
        del eyes
        return ()


class Recorded:
    """Does what was recorded, when it was."""

    def __init__(self, deeds: Sequence[Deed]) -> None:
        self._deeds = list(deeds)

    def look(self, eyes: Eyes) -> Iterable[Deed]:
        """Do what is due."""
        while self._deeds and self._deeds[0].at_s <= eyes.now_s:
            yield self._deeds.pop(0)
