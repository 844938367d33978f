"""The nodes process: every simulated node of a venue, each on a link of its own."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial

from signals.mqtt.topics import Topics
from signals.nodes.device import Device
from signals.nodes.station import Station, draw
from signals.part import MakeLink
from signals.venue.model import Node, Venue


class Nodes:
    """All simulated nodes of a venue that have heads, karts or inputs; `only` picks some by id.

    `sensors` are the heads whose lamps are proven by a sensor; the others report `proven: null`.
    With `goodbye` each node says "gone" when it ends, as a device that is switched off while the
    venue goes on; without, they end with the venue, and nothing is held against them in its record.

    Raises:
        ValueError: `only` names a node that is not there or not simulated.

    """

    def __init__(
        self,
        venue: Venue,
        make_link: MakeLink,
        *,
        only: frozenset[str] | None = None,
        sensors: frozenset[str] = frozenset(),
        goodbye: bool = False,
    ) -> None:
        topics = Topics.of(venue.id, simulated=venue.simulated)
        self._ready: Callable[[], None] | None = None
        self._stations = {
            node.id: Station(
                Device(node, venue, draw=draw, sensors=sensors),
                make_link,
                topics,
                up=partial(self._came_up, node.id),
                goodbye=goodbye,
            )
            for node in _chosen(venue, only)
        }
        self._missing = set(self._stations)

    async def run(self, ready: Callable[[], None]) -> None:
        """Serve until cancelled; ready once every node was connected."""
        self._ready = ready
        self._say_ready()
        async with asyncio.TaskGroup() as group:
            for station in self._stations.values():
                group.create_task(station.run())
            await asyncio.Event().wait()

    def _came_up(self, node: str) -> None:
        if node in self._missing:
            self._missing.remove(node)
            self._say_ready()

    def _say_ready(self) -> None:
        if self._ready and not self._missing:
            self._ready()


def _chosen(venue: Venue, only: frozenset[str] | None) -> list[Node]:
    able = [node for node in venue.nodes if node.simulated and (node.heads or node.karts or node.inputs)]
    if only is None:
        return able
    if unknown := sorted(only - {node.id for node in able}):
        raise ValueError(f"no simulated node {unknown[0]}; there are {', '.join(node.id for node in able)}")
    return [node for node in able if node.id in only]
