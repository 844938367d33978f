"""The desk of a replay: made of the tape, and of nothing else; its calls go nowhere."""

from __future__ import annotations

from signals.mqtt.codec import encode
from signals.mqtt.contract import Beat
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.venue.model import Venue
from sim.view.desk import Desk
from sim.view.hands import Hands


def again(venue: Venue, post: str) -> tuple[Desk, Hands]:
    """Give a desk that has heard nothing yet, and hands that can only look."""
    desk = Desk(venue, post)
    return desk, Hands(desk, lambda *_: False)


def alive(desk: Desk, venue: Venue, at_s: float) -> None:
    """Let a desk know that what it shows is no loss of the link: the tape holds no beats."""
    state = desk.state
    if state is None:
        return
    stopped = any(hold.what == "stop" for hold in state.holds)
    beat = Beat(boot=state.boot, seq=1, epoch=state.epoch, stop=stopped, test=False, at=state.at)
    topic = Topics.of(venue.id, simulated=venue.simulated).name("beat")
    desk.linked(up=True)
    desk.hear(Arrived(topic, encode(beat)), at_s)
    desk.tick(at_s)
