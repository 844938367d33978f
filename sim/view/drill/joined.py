"""A seat of a drill that runs elsewhere: the post's window, with only what can be seen from there."""

from __future__ import annotations

import msgspec
import pygame

from signals.mqtt.contract import WorldView
from signals.mqtt.link import Arrived
from signals.venue.model import Venue
from sim.drill.lookout import Lookout
from sim.track import Track
from sim.view.desk import Desk
from sim.view.drill.overlay import Fog
from sim.view.hands import Hands
from sim.view.screen import Screen
from sim.view.window import Window
from sim.view.wire import Wire

_WORLD = msgspec.json.Decoder(WorldView)
_ENCODE = msgspec.json.Encoder().encode


class PostDesk(Desk):
    """A desk that hears of the world only what its post sees."""

    def see_by(self, lookout: Lookout) -> None:
        """Look from a post."""
        self._lookout = lookout

    def hear(self, arrived: Arrived, now_s: float) -> None:
        """Take a message in."""
        if arrived.topic.endswith("/world"):
            try:
                view = self._lookout.view(_WORLD.decode(arrived.payload))
            except msgspec.DecodeError:
                self.rejects += 1
                return
            seen = msgspec.structs.replace(view, seen=[])
            arrived = Arrived(arrived.topic, _ENCODE(seen), arrived.qos, arrived.retained)
        super().hear(arrived, now_s)


class FoggedScreen(Screen):
    """A screen with what cannot be seen covered."""

    def __init__(self, surface: pygame.Surface, desk: Desk, hands: Hands, lookout: Lookout) -> None:
        super().__init__(surface, desk, hands)
        self._fog = Fog(lookout, self.brush)

    def draw(self, now_s: float) -> list[pygame.Rect]:
        """Draw, then cover."""
        changed = super().draw(now_s)
        if not (self.hands.helping or self.hands.reading):
            self._fog.draw(self.surface, self)
        return changed


class PostWindow(Window):
    """A post's window in somebody else's drill."""

    def __init__(self, venue: Venue, wire: Wire, desk: PostDesk) -> None:
        post = next(each for each in venue.posts if each.id == desk.post)
        self._lookout = Lookout(venue, Track(venue), post)
        desk.see_by(self._lookout)
        super().__init__(venue, wire, desk)
        self.hands.lens.signs = False

    def _made(self, surface: pygame.Surface) -> Screen:
        return FoggedScreen(surface, self.desk, self.hands, self._lookout)
