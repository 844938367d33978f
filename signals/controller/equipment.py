"""All that equipment reports, as events for the core.

The events of one report are acted on one by one, each before the next is worked out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from signals.controller.contacts import Inputs, MonitorWatch
from signals.controller.heads import Heads
from signals.controller.intake import Heard
from signals.controller.karts import Karts
from signals.controller.log import Complaints
from signals.controller.nodes import Nodes
from signals.controller.places import Places
from signals.core.state import Event, Picture
from signals.mqtt import contract
from signals.venue.model import Venue


class Equipment:
    """The venue's heads, karts, inputs, loops and monitor; `sent_at` tells when a beat was sent."""

    def __init__(self, venue: Venue, sent_at: Callable[[int], float | None], complaints: Complaints) -> None:
        self.nodes = Nodes(venue)
        self.heads = Heads(venue, self.nodes)
        self._karts = Karts(venue, self.nodes)
        self._inputs = Inputs(venue, self.nodes)
        self._places = Places(venue)
        self._monitor = MonitorWatch()
        self._sent_at = sent_at
        self._complaints = complaints

    def hear(self, heard: Heard, picture: Picture, now_s: float, *, settling: bool) -> Iterator[Event]:
        """Take a report and give what it means."""
        name = heard.name
        match heard.message:
            case contract.Shown() as shown:
                self.heads.hear(name, shown, self._sent_at(shown.beat_seq))
            case contract.Taken() as taken:
                self._karts.hear(int(name), taken, self._sent_at(taken.beat_seq))
            case contract.Where() as where:
                yield from self._where(int(name), where, picture, now_s)
            case contract.Passed() as passed:
                yield from self._passed(name, passed, picture, now_s)
            case contract.InputReport() as report:
                yield from self._inputs.hear(name, report, self._sent_at(report.beat_seq))
            case contract.MonitorStatus() | contract.Trip() as said:
                self._monitor.hear(said)
                yield from self._monitor.sweep(picture, settling=settling)
            case contract.NodeStatus() as status:
                lent = picture.testing and self.nodes.knows(name)  # it may have been shown something
                yield from self.nodes.lost_with(name, status, settling=settling and not lent)

    def sweep(self, picture: Picture, now_s: float, *, settling: bool) -> Iterator[Event]:
        """Look at what time alone brings about: silence, disobedience, standing still."""
        yield from self._monitor.sweep(picture, settling=settling)
        yield from self.heads.sweep(picture, now_s, settling=settling)
        yield from self._karts.sweep(picture, now_s, settling=settling)
        yield from self._inputs.sweep(now_s, settling=settling)

    def _where(self, kart: int, where: contract.Where, picture: Picture, now_s: float) -> Iterator[Event]:
        if not self._places.knows(where):
            reason = f"the venue has no place {where.sector!r} with in_pit {where.in_pit}"
            self._complaints.take(f"kart/{kart}/where", reason)
            return
        self._karts.see(kart, where, now_s)
        yield from self._places.report(kart, where, picture.karts[kart].place, now_s)

    def _passed(self, loop: str, passed: contract.Passed, picture: Picture, now_s: float) -> Iterator[Event]:
        if passed.kart in picture.karts:
            yield from self._places.passed(loop, passed.kart, picture.karts[passed.kart].place, now_s)
        else:
            self._complaints.take(f"loop/{loop}/passed", f"the venue has no kart {passed.kart}")
