"""How a part runs as a process: says when it is ready, ends when its stdin closes or on a signal.

A verb is then no more than

    run_part("monitor", Monitor(venue, links(broker, data), clock=Clock()), Telling(data, venue.id))

Whoever spawned the process holds the other end of its stdin: when that goes, however it goes, the
part goes too, so none is ever left behind. Under systemd it tells that it is ready, how it is, and that it
still works.
"""

from __future__ import annotations

import asyncio
import gc
import os
import signal
import stat
import sys
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

from signals.cli.links import MADE
from signals.health.metrics import Board, served
from signals.health.notify import Notifier
from signals.health.watch import Watch, terminal
from signals.part import Part


@dataclass(frozen=True, slots=True)
class Telling:
    """How a process tells of itself.

    Attributes:
        data: the data folder, where its status is kept; None keeps none.
        venue: the venue's id.
        metrics: where its figures are served, `[HOST:]PORT`; "" serves none.

    """

    data: Path | None = None
    venue: str = ""
    metrics: str = ""


def run_part(name: str, part: Part, telling: Telling | None = None) -> None:
    """Run a part until its stdin closes, SIGTERM or SIGINT; prints `ready NAME` on stdout once ready.

    Raises:
        BadInput, Unusable: its figures cannot be served.

    """
    with watching(name, part, telling or Telling()) as watch:
        asyncio.run(until_told(name, part, watch))


@contextmanager
def watching(name: str, part: object, how: Telling) -> Iterator[Watch]:
    """Serve the process's figures; gives what watches the part, a part itself, to be run.

    Raises:
        BadInput, Unusable: its figures cannot be served.

    """
    board = Board(name, how.venue) if how.metrics else None
    with served(board, how.metrics) if board else nullcontext():
        yield Watch(name, part, Notifier(), data=how.data, board=board, terminal=terminal(), links=MADE)


async def until_told(name: str, part: Part, watch: Watch | None = None) -> None:
    """Do what `run_part` does, within a running loop."""
    told = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, told.set)
    notifier = watch.notifier if watch else Notifier({})

    def ready() -> None:
        _keep_for_good()
        announce(name)
        notifier.ready()

    async with stdin_watched(told.set):
        work = asyncio.ensure_future(part.run(ready))
        end = asyncio.ensure_future(told.wait())
        watching = asyncio.ensure_future(watch.run() if watch else asyncio.Event().wait())
        await asyncio.wait((work, end, watching), return_when=asyncio.FIRST_COMPLETED)
        notifier.stopping()
        for task in (end, watching, work):
            task.cancel()
        await asyncio.gather(work, end, watching, return_exceptions=True)
    for task in (work, watching):
        if not task.cancelled():
            task.result()


def _keep_for_good() -> None:
    """Let the garbage collector pass over what was made so far: it stays, and looking through it holds up."""
    gc.collect()
    gc.freeze()


def announce(name: str) -> None:
    """Say on stdout that a part is ready; whoever spawned it waits for this line."""
    sys.stdout.write(f"ready {name}\n")
    sys.stdout.flush()


@asynccontextmanager
async def stdin_watched(
    ended: Callable[[], None], said: Callable[[str], None] = lambda _: None
) -> AsyncIterator[None]:
    """Call `ended` when stdin closes and `said` for each of its lines; a terminal or a file is left alone."""
    kind = os.fstat(0).st_mode
    if not (stat.S_ISFIFO(kind) or stat.S_ISSOCK(kind)):
        yield
        return
    loop = asyncio.get_running_loop()
    transport, _ = await loop.connect_read_pipe(lambda: _Stdin(ended, said), os.fdopen(os.dup(0), "rb", 0))
    try:
        yield
    finally:
        transport.close()


class _Stdin(asyncio.Protocol):
    def __init__(self, ended: Callable[[], None], said: Callable[[str], None]) -> None:
        self._ended = ended
        self._said = said
        self._rest = b""

    def data_received(self, data: bytes) -> None:
        *lines, self._rest = (self._rest + data).split(b"\n")
        for line in lines:
            self._said(line.decode("utf-8", "replace"))

    def connection_lost(self, exc: Exception | None) -> None:
        del exc
        self._ended()
