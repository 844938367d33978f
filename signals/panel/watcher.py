"""The page's own ear, as the user `board`: where karts are, for every map, and what the drivers' board shows.

It says nothing and can say nothing: the access list lets it read only.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

from signals.mqtt import contract
from signals.mqtt.channels import Role
from signals.mqtt.codec import Malformed, decode
from signals.mqtt.contract import Where
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.panel.bell import Bell
from signals.panel.ground import Spot, Surveyor
from signals.panel.station import LOST_AFTER_S
from signals.part import MakeLink
from signals.picture import Picture
from signals.venue.model import Venue
from signals.words import PIT

OLD_S = 1.5
"""A kart's place that was heard so long ago is shown as old."""

log = logging.getLogger(__name__)


class Watcher:
    """Hears what everybody may see, and who drives what. `now_s` is a monotonic clock.

    Attributes:
        changed: rings after everything heard but where karts are.
        picture: what the controller last said.

    """

    def __init__(
        self,
        venue: Venue,
        surveyor: Surveyor,
        make_link: MakeLink,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.venue = venue
        self.changed = Bell()
        self.picture = Picture(venue)
        self._surveyor = surveyor
        self._now_s = now_s
        self._up = False
        self._beat_s = float("-inf")
        self._at_ms = 0
        self._where: dict[int, tuple[Where, float]] = {}
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        name = self._topics.name
        subscriptions = (
            (name("beat"), 0),
            (name("state"), 1),
            (name("group"), 1),
            (name("kart", "+", "where"), 0),
        )
        owner = Owner(on_message=self._hear, on_up=self._on_up, on_down=self._on_down)
        self._link = make_link(Role.BOARD, subscriptions=subscriptions, owner=owner)

    async def run(self) -> None:
        """Stay connected until cancelled."""
        await self._link.run()

    @property
    def lost(self) -> bool:
        """Whether nothing here can be trusted: no link, or no beat for too long."""
        return not self._up or self._now_s() - self._beat_s > LOST_AFTER_S

    @property
    def now_ms(self) -> int:
        """The controller's time, UTC ms; 0 before it was heard."""
        return self._at_ms + round((self._now_s() - self._beat_s) * 1000) if self._at_ms else 0

    def spots(self, state: contract.State | None) -> dict[str, tuple[float, float, str]]:
        """Give each kart's place on the map, and "old" or "parked"; karts set aside are not on it."""
        spots = {}
        for number, kart in (state.karts if state else {}).items():
            if kart.place != "aside":
                where, heard_s = self._where.get(int(number), (None, 0.0))
                old = not kart.link or (where is not None and self._now_s() - heard_s > OLD_S)
                x, y = self._spot(int(number), kart.place, where)
                parked = kart.place == PIT and not kart.let_out
                spots[number] = (round(x, 1), round(y, 1), "parked" if parked else "old" if old else "")
        return spots

    def _spot(self, number: int, place: str, where: Where | None) -> Spot:
        return self._surveyor.spot(number, place, where)

    def _on_up(self) -> None:
        self._up = True

    def _on_down(self, _: str) -> None:
        self._up = False
        self.changed.ring()

    def _hear(self, arrived: Arrived) -> None:
        try:
            self._take(self._topics.split(arrived.topic), arrived.payload)
        except (Malformed, ValueError) as mistake:
            log.warning("%s: %s", arrived.topic, mistake)

    def _take(self, levels: tuple[str, ...], payload: bytes) -> None:
        match levels:
            case ("kart", number, "where"):
                self._where[int(number)] = decode(Where, payload), self._now_s()
                return
            case ("beat",):
                back = self.lost
                self._at_ms, self._beat_s = decode(contract.Beat, payload).at, self._now_s()
                if not back:
                    return
            case ("state",):
                self.picture = Picture(self.venue, decode(contract.State, payload), self.picture.group)
            case ("group",):
                self.picture = Picture(self.venue, self.picture.state, decode(contract.Group, payload))
        self.changed.ring()
