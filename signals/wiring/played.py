"""A venue's rules played through, without a wire: what every head is told after a call or a fault.

The controller's own core decides; nothing is typed in. Every cause begins anew from the same state:
`racing`, everybody under green, or `closed`, as before opening.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from typing import Any, Literal

from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.core.state import Event, Member, State
from signals.venue.model import Venue
from signals.words import Aspect, Word

Base = Literal["racing", "closed"]
BOOT = "matrix"


class Played:
    """One venue, to which causes are done one at a time from `base`."""

    def __init__(self, venue: Venue, base: Base = "racing") -> None:
        self._core = Core(layout_of(venue, 0))
        self._venue = venue
        self._ids = count(1)
        self.post = next(post.id for post in venue.posts if post.supervisor)
        self.closed = self._core.begin(BOOT)
        self.armed = self.play(self.closed, *self._to_armed())
        self.racing = self.play(self.armed, Event(Word.START))
        self.begun = self.racing if base == "racing" else self.closed

    def _to_armed(self) -> Iterator[Event]:
        kart = self._venue.karts[0]
        yield Event("verdict", fields={"verdict": "open", "until": 1, "checked": True})
        yield Event("stage", fields={"entries": (Member(kart.number, "A driver", kart.class_),)})
        yield from (Event("confirm", fields={"item": item.id}) for item in self._venue.checklist)
        yield Event("arm")

    def play(self, state: State, *events: Event) -> State:
        """Let the core act on events, a person's as seen just before; raises RuntimeError if refused."""
        for event in events:
            by = self.post if event.post == "E" and event.word in set(Word) else event.post
            seen = (state.boot, state.serial)
            decision = self._core.step(
                state, Event(event.word, by, event.fields, f"m{next(self._ids)}", seen), 0
            )
            if not decision.accepted:
                raise RuntimeError(f"{event.word}: {'; '.join(why.sentence for why in decision.refusals)}")
            state = decision.state
        return state

    def after(self, word: str, **fields: Any) -> State:
        """Give the state after one thing, from the base."""
        return self.play(self.begun, Event(word, fields=fields))

    def shown(self, state: State) -> dict[str, Aspect]:
        """Give what every head is told in a state."""
        return {head: aspect for head, (aspect, _, _) in self._core.picture(state).aspects.items()}
