"""The wired inputs and the conflict monitor, as they report themselves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.controller.echoes import Echo, Health
from signals.controller.nodes import Nodes
from signals.core.state import Event, Picture
from signals.mqtt.contract import InputReport, MonitorStatus, Trip
from signals.venue.model import Venue
from signals.words import InputState


@dataclass(slots=True)
class _Input:
    echo: Echo
    state: InputState = InputState.NORMAL
    said: InputState | None = None


class Inputs:
    """Alarm buttons, wired stops, gates, boxes: active, normal, or at fault when silent."""

    def __init__(self, venue: Venue, nodes: Nodes) -> None:
        self._nodes = nodes
        leases = {node.id: node.lease_ms / 1000 for node in venue.nodes}
        self._inputs = {
            contact.id: _Input(Echo(contact.node, leases[contact.node])) for contact in venue.inputs
        }

    def hear(self, name: str, report: InputReport, sent_at_s: float | None) -> Iterator[Event]:
        """Take a report; an input that is active is believed at once, whatever beat it echoes."""
        contact = self._inputs[name]
        contact.state = report.state
        contact.echo.hear(sent_at_s)
        if report.state is not InputState.NORMAL:
            yield from self._say(name, report.state)

    def sweep(self, now_s: float, *, settling: bool) -> Iterator[Event]:
        """Give what is to be reported of the inputs now."""
        for name, contact in self._inputs.items():
            health, _ = contact.echo.judge(self._nodes, now_s, settling=settling)
            if health is Health.ILL:
                yield from self._say(name, InputState.FAULT)
            elif health is Health.WELL:
                yield from self._say(name, contact.state)

    def _say(self, name: str, state: InputState) -> Iterator[Event]:
        contact = self._inputs[name]
        if contact.said is not state:
            contact.said = state
            yield Event(f"input-{state}", fields={"input": name})


class MonitorWatch:
    """What the conflict monitor says of itself; silent for longer than a start takes means lost."""

    def __init__(self) -> None:
        self._status: str | None = None
        self._trip: Trip | None = None

    def hear(self, message: MonitorStatus | Trip) -> None:
        """Take its status or its trip."""
        if isinstance(message, Trip):
            self._trip = message
        else:
            self._status = message.status

    def sweep(self, picture: Picture, *, settling: bool) -> Iterator[Event]:
        """Give what is to be reported of it now; only the monitor itself ends a trip."""
        tripped = self._status == "tripped" or (self._trip is not None and self._trip.tripped)
        if tripped:
            if picture.monitor != "tripped":
                yield Event("monitor-tripped", fields={"reason": self._reason()})
        elif self._status == "ok":
            if picture.monitor == "tripped":
                reset = self._trip.what if self._trip is not None else "the conflict monitor was reset"
                yield Event("monitor-reset", fields={"reason": reset})
            elif picture.monitor == "lost":
                yield Event("monitor-back")
        elif (self._status == "lost" or not settling) and picture.monitor == "ok":
            yield Event("monitor-lost")

    def _reason(self) -> str:
        trip = self._trip
        if trip is None or not trip.tripped:
            return "the conflict monitor tripped"
        return f"{trip.what} {trip.where} showed {trip.shown} where {trip.due} was due"
