"""A whole venue on one event loop: broker in memory, controller, monitor, nodes, world.

    async with Stage(venue) as stage:
        result = await Player(sequence, venue, stage.link, processes=stage).run()

Every part is the one that runs as a process; only the broker and the clock differ, and the clock is
the loop's: in virtual time a day takes seconds. Wired heads hang on devices in memory. `kill` drops a
part as a power cut would. It does not model processes: a part that is killed still runs its `finally`,
on a connection that is gone.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
from collections.abc import Callable, Iterable
from importlib.metadata import entry_points
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from signals.clock import Clock
from signals.controller.service import Controller, MakeCore
from signals.errors import Unusable
from signals.journal import Draft, Entry, Journal, JournalFailed
from signals.monitor.service import Monitor
from signals.mqtt.access import access_list
from signals.mqtt.link import Credentials, Link, Owner, Will, user_of
from signals.mqtt.memory import MemoryBroker
from signals.nodes.service import Nodes
from signals.outputs.plant import wired_nodes
from signals.outputs.service import Outputs
from signals.outputs.virtual import virtual_output
from signals.part import MakeLink, Part
from signals.venue.model import Venue

WORLDS = "kerblight.worlds"
"""Entry points of simulated worlds: `World(venue, make_link, *, seed, clock)`."""
ORDER = ("monitor", "world", "nodes", "outputs", "controller")
"""How parts are started, as `run` does: the controller when all it commands is up."""
JOURNAL = "journal"
BROKER = "broker"
READY_WITHIN_S = 10.0
IN_MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of its own, with a name of its own, is made in it
"""Where a stage's journal lies while it plays, on systems that have it: nobody waits for a disk."""


class MakeWorld(Protocol):
    """Make a world."""

    def __call__(self, venue: Venue, make_link: MakeLink, *, seed: int, clock: Clock) -> Part:
        """Make it; nothing runs before `run`."""


def find_world(name: str = "plain") -> MakeWorld:
    """Find a simulated world by its name; raises Unusable where none is installed."""
    for point in entry_points(group=WORLDS, name=name):
        world: MakeWorld = point.load()
        return world
    raise Unusable(f"no simulated world {name!r} is installed; reinstall kerblight")


class FailingJournal(Journal):
    """A journal whose every write fails while `failing` is set, as on a full disk."""

    failing = False

    def append_many(self, drafts: Iterable[Draft]) -> tuple[Entry, ...]:
        """Append, or fail on request."""
        if self.failing:
            raise JournalFailed("the disk is full")
        return super().append_many(drafts)


class Stage:
    """A venue's parts on one loop, as a context; also the `Processes` of a sequence."""

    def __init__(
        self,
        venue: Venue,
        *,
        seed: int = 1,
        world: MakeWorld | None = None,
        clock: Clock | None = None,
        make_core: MakeCore | None = None,
        at_once: bool = False,
    ) -> None:
        self.venue = venue
        self.broker = MemoryBroker(access_list(venue), at_once=at_once)
        self.clock = clock or Clock()
        self.journal: FailingJournal | None = None
        self._folder = tempfile.TemporaryDirectory(prefix="kerblight-stage-", dir=_in_memory())
        self._make_world = world or find_world()
        self._seed = seed
        self._make_core = make_core
        self._runs: dict[str, asyncio.Task[None]] = {}
        self._clients: dict[str, set[str]] = {}

    async def __aenter__(self) -> Self:
        """Start every part, each after the one before is ready."""
        try:
            for name in ORDER:
                if name != "outputs" or wired_nodes(self.venue):
                    await self.start(name)
        except BaseException:
            await self._end()
            raise
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End all, and raise what ended a part by itself."""
        await self._end()

    def link(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> Link:
        """Make a client's link (a `MakeLink`), under the venue's access list."""
        return self.broker.link(
            client,
            subscriptions=subscriptions,
            will=will,
            credentials=credentials or Credentials(user_of(client), ""),
            owner=owner,
        )

    async def kill(self, name: str) -> None:
        """Drop a part without a farewell; it stays away until `start`."""
        if name == BROKER:
            self.broker.stop()
        elif name == JOURNAL:
            self._journal().failing = True
        else:
            for client in self._clients.pop(name, ()):
                self.broker.drop(client)
            await self._cancel(name)

    async def start(self, name: str) -> None:
        """Start a part and wait until it is ready."""
        if name == BROKER:
            self.broker.start()
        elif name == JOURNAL:
            self._journal().failing = False
        elif name not in self._runs:
            await self._run(name)

    def _journal(self) -> FailingJournal:
        if self.journal is None:
            raise NotImplementedError("no controller was started")
        return self.journal

    async def _run(self, name: str) -> None:
        ready = asyncio.Event()
        run = self._runs[name] = asyncio.create_task(self._make(name).run(ready.set), name=name)
        waiting = asyncio.create_task(ready.wait())
        await asyncio.wait((run, waiting), timeout=READY_WITHIN_S, return_when=asyncio.FIRST_COMPLETED)
        waiting.cancel()
        if run.done():
            del self._runs[name]
            run.result()
        if not ready.is_set():
            raise Unusable(f"{name} was not ready within {READY_WITHIN_S:g} s")

    def _make(self, name: str) -> Part:
        make_link = self._remembering(name)
        if name == "controller":
            self.journal = FailingJournal(Path(self._folder.name) / "journal.sqlite")
            return Controller(
                self.venue, make_link, journal=self.journal, clock=self.clock, make_core=self._make_core
            )
        makers: dict[str, Callable[[], Part]] = {
            "monitor": lambda: Monitor(self.venue, make_link, clock=self.clock),
            "nodes": lambda: Nodes(self.venue, make_link),
            "outputs": lambda: Outputs(self.venue, make_link, make=virtual_output),
            "world": lambda: self._make_world(self.venue, make_link, seed=self._seed, clock=self.clock),
        }
        if name not in makers:
            raise NotImplementedError(f"there is no part {name} on a stage")
        return makers[name]()

    def _remembering(self, part: str) -> MakeLink:
        """Make links that are known to be a part's, so that they can be cut with it."""
        clients = self._clients.setdefault(part, set())

        def make(
            client: str,
            *,
            subscriptions: tuple[tuple[str, int], ...] = (),
            will: Will | None = None,
            credentials: Credentials | None = None,
            owner: Owner | None = None,
        ) -> Link:
            clients.add(client)
            return self.link(
                client, subscriptions=subscriptions, will=will, credentials=credentials, owner=owner
            )

        return make

    async def _cancel(self, name: str) -> None:
        run = self._runs.pop(name, None)
        if run is None:
            return
        run.cancel()
        await asyncio.wait((run,))
        if not run.cancelled():
            run.result()

    async def _end(self) -> None:
        try:
            for name in reversed(list(self._runs)):
                await self._cancel(name)
        finally:
            self._folder.cleanup()


def _in_memory() -> Path | None:
    """Give where to keep what lasts only as long as a stage; None where the system decides."""
    return IN_MEMORY if IN_MEMORY.is_dir() and os.access(IN_MEMORY, os.W_OK) else None
