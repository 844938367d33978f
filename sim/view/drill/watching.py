"""A drill's window while it runs: hears for the desk what the seat may know, and tells what was touched."""

from __future__ import annotations

from dataclasses import dataclass, field

import msgspec

from signals.mqtt.contract import WorldView
from signals.mqtt.link import Arrived
from sim.drill.booth import Booth
from sim.drill.deeds import Deed
from sim.drill.form import DEVICE_BACK, DEVICE_DEAD, RADIO
from sim.drill.lookout import Lookout
from sim.drill.tape import Cue
from sim.view.desk import Desk
from sim.view.hands import Hands

_WORLD = msgspec.json.Decoder(WorldView)
_ENCODE = msgspec.json.Encoder().encode
WORLD = "/world"


@dataclass(slots=True)
class Watching:
    """Everything between a booth and the desk of its window."""

    desk: Desk
    hands: Hands
    booth: Booth
    lookout: Lookout
    radio: list[tuple[float, str]] = field(default_factory=list)
    """What was heard, with its time, the latest last."""

    def listen(self, now_s: float) -> None:
        """Take in what the booth brought."""
        inbox = self.booth.inbox
        while inbox:
            at_s, what = inbox.popleft()
            if isinstance(what, Cue):
                self._cued(at_s, what)
            else:
                self.desk.linked(up=self.booth.device)
                self.desk.hear(self._within_sight(what), at_s)
        self.desk.tick(now_s)
        self.hands.tick(now_s)

    def _cued(self, at_s: float, cue: Cue) -> None:
        if cue.event == RADIO:
            self.radio.append((at_s, cue.said))
        elif cue.event in (DEVICE_DEAD, DEVICE_BACK):
            self.desk.linked(up=cue.event == DEVICE_BACK)

    def _within_sight(self, arrived: Arrived) -> Arrived:
        """Leave of the world what is seen from the post; what the referee saw is told afterwards."""
        if not arrived.topic.endswith(WORLD):
            return arrived
        seen = msgspec.structs.replace(self.lookout.view(_WORLD.decode(arrived.payload)), seen=[])
        return Arrived(arrived.topic, _ENCODE(seen), arrived.qos, arrived.retained)

    def touched(self, what: str) -> None:
        """Tell the booth that a sector or a kart was touched, whether anew or again: something was seen."""
        if what == "kart" and self.hands.kart is not None:
            self.booth.does(Deed(at_s=0.0, seen_kart=self.hands.kart))
        elif what == "sector":
            self.booth.does(Deed(at_s=0.0, seen=self.hands.sector))
