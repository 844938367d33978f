"""Windows on a drill that runs elsewhere: a post's, with only what can be seen from there."""

from __future__ import annotations

import msgspec
import pygame

from signals.look import BODY_PX, SMALL_PX
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

NOT_YET = "The drill has not begun yet"
GONE = "The drill is over, or its host is gone"
BELOW_PX = 84
"""From the middle of the map to the line below what is said of a lost link."""
_WORLD = msgspec.json.Decoder(WorldView)
_ENCODE = msgspec.json.Encoder().encode


class HostedScreen(Screen):
    """A screen of a drill that runs elsewhere: says whose it is, and that nothing runs where it does not."""

    def __init__(self, surface: pygame.Surface, desk: Desk, hands: Hands, whose: str) -> None:
        super().__init__(surface, desk, hands)
        self._whose = whose

    @property
    def covered(self) -> bool:
        """Whether a page lies over the map."""
        return self.hands.helping or self.hands.reading

    def draw(self, now_s: float) -> list[pygame.Rect]:
        """Draw, then lay over the map what belongs to a drill."""
        changed = super().draw(now_s)
        if not self.covered:
            self.lay_over(now_s)
        return changed

    def lay_over(self, now_s: float) -> pygame.Rect:
        """Write whose window it is into the map's corner; gives where that stands."""
        del now_s
        area, px = self.layout.map, self.brush.px
        at = area.left + px(8), area.top + px(14)
        return self.brush.write(self.surface, self._whose, at, SMALL_PX, bold=True)

    def _no_link(self, now_s: float) -> None:
        super()._no_link(now_s)
        area = self.layout.map
        at = area.centerx, area.centery + self.brush.px(BELOW_PX)
        said = NOT_YET if self.desk.state is None else GONE
        self.brush.write(self.surface, said, at, BODY_PX, bold=True, align="centre")


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


class FoggedScreen(HostedScreen):
    """A post's screen, with what cannot be seen from it covered."""

    def __init__(self, surface: pygame.Surface, desk: Desk, hands: Hands, lookout: Lookout) -> None:
        super().__init__(surface, desk, hands, lookout.post.name)
        self._fog = Fog(lookout, self.brush)

    def lay_over(self, now_s: float) -> pygame.Rect:
        """Cover the road that cannot be seen; a lost link covers all of it already."""
        if not self.desk.lost(now_s):
            self._fog.draw(self.surface, self)
        return super().lay_over(now_s)


class PostWindow(Window):
    """A post's window in somebody else's drill."""

    def __init__(self, venue: Venue, wire: Wire, desk: PostDesk) -> None:
        post = next(each for each in venue.posts if each.id == desk.post)
        self._lookout = Lookout(venue, Track(venue), post)
        desk.see_by(self._lookout)
        super().__init__(venue, wire, desk)
        self._title = f"{venue.name}: a drill, {post.name}"
        self.hands.lens.signs = False

    def _made(self, surface: pygame.Surface) -> Screen:
        return FoggedScreen(surface, self.desk, self.hands, self._lookout)
