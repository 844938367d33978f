"""The outputs process: every node of the wiring table, on one plant of devices.

Each node has a link of its own and the rules of `signals.nodes`; the devices keep whole images. What
a node has decided is painted in the same turn of the loop, before anything is said about it. A
timer paints at every edge of a flash and at least ten times a second: an image that nobody painted
for a lease gives way to the fail image.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import partial

from signals.mqtt.topics import Topics
from signals.nodes.display import Display
from signals.nodes.head import HeadLogic
from signals.nodes.station import Station, draw
from signals.outputs.base import Output
from signals.outputs.device import WiredDevice
from signals.outputs.plant import MakeOutput, Plant, make_output, wired_nodes
from signals.part import MakeLink
from signals.venue.model import Venue

PAINT_S = 0.1
REACHED_WITHIN_S = 2.0
"""So long nodes wait for their devices before they say who they are; then those not reached are faults."""


class Outputs:
    """All wired nodes of a venue; its table must be sound (`signals.wiring.check`)."""

    def __init__(self, venue: Venue, make_link: MakeLink, *, make: MakeOutput = make_output) -> None:
        topics = Topics.of(venue.id, simulated=venue.simulated)
        self.plant = Plant(venue, make)
        self._devices = {
            node.id: WiredDevice(node, venue, self.plant, draw=draw, paint=self._paint)
            for node in wired_nodes(venue)
        }
        self._stations = {
            name: Station(device, make_link, topics, up=partial(self._came_up, name))
            for name, device in self._devices.items()
        }
        self._painted: dict[str, Display] = {}
        self._all_reached = asyncio.Event()
        self._up: set[str] = set()
        self._news: set[Output] = set()
        self._timer: asyncio.TimerHandle | None = None
        self._ready: Callable[[], None] | None = None
        self._broken: asyncio.Future[None]

    async def run(self, ready: Callable[[], None]) -> None:
        """Serve until cancelled, then leave every device with its fail image; ready once all nodes are up."""
        self._ready = ready
        self._broken = asyncio.get_running_loop().create_future()
        try:
            async with asyncio.TaskGroup() as group:
                for output in self.plant.outputs:
                    group.create_task(output.run(partial(self._heard, output)))
                self._tick()
                await self._reached()
                for station in self._stations.values():
                    group.create_task(station.run())
                await self._broken
        finally:
            if self._timer is not None:
                self._timer.cancel()

    async def _reached(self) -> None:
        """Wait until every device has taken an image, but not for ever."""
        with suppress(TimeoutError):
            async with asyncio.timeout(REACHED_WITHIN_S):
                await self._all_reached.wait()

    def _came_up(self, node: str) -> None:
        self._up.add(node)
        if self._ready and len(self._up) == len(self._stations):
            self._ready()
            self._ready = None

    def _heard(self, output: Output) -> None:
        """Let the nodes on a device look at it, in the next turn: lamps still to be driven go first."""
        if not any(each.lost for each in self.plant.outputs):
            self._all_reached.set()
        if not self._news:
            asyncio.get_running_loop().call_soon(self._look)
        self._news.add(output)

    def _look(self) -> None:
        news, self._news = self._news, set()
        with self._fatal():
            for node in self._up:
                if not news.isdisjoint(self.plant.on_node[node]):
                    self._stations[node].poke()

    def _tick(self) -> None:
        """Keep every image alive, and look for devices that have fallen silent."""
        with self._fatal():
            self._paint_all()
            for node in self._up:
                self._stations[node].poke()

    @contextmanager
    def _fatal(self) -> Iterator[None]:
        """Let a mistake end the whole process, or a lamp could stay as it is."""
        try:
            yield
        except Exception as mistake:  # noqa: BLE001 - handed to `run`, which raises it
            if not self._broken.done():
                self._broken.set_exception(mistake)

    def _paint_all(self) -> None:
        """Paint every head, and come again at the next edge of a flash, or soon."""
        loop = asyncio.get_running_loop()
        heads = (head for device in self._devices.values() for head in device.heads)
        self._painted = {head.id: head.display for head in heads}
        edge_s = self.plant.paint(self._painted, loop.time() * 1000) / 1000
        self._wind(min(edge_s, loop.time() + PAINT_S))

    def _paint(self, heads: Iterable[HeadLogic]) -> None:
        """Paint at once those of a node's heads that have decided anew."""
        anew = {head.id: head.display for head in heads if self._painted.get(head.id) is not head.display}
        if anew:
            self._painted.update(anew)
            edge_s = self.plant.paint(anew, asyncio.get_running_loop().time() * 1000) / 1000
            if self._timer is not None and edge_s < self._timer.when():
                self._wind(edge_s)

    def _wind(self, at_s: float) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_at(at_s, self._tick)
