"""How a part runs as a process: says when it is ready, ends when its stdin closes or on a signal.

A verb is then no more than

    run_part("monitor", Monitor(venue, links(broker, data), clock=Clock()))

Whoever spawned the process holds the other end of its stdin: when that goes, however it goes, the
part goes too, so none is ever left behind.
"""

from __future__ import annotations

import asyncio
import logging
import os
import signal
import stat
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from signals.part import Part


def run_part(name: str, part: Part) -> None:
    """Run a part until its stdin closes, SIGTERM or SIGINT; prints `ready NAME` on stdout once ready."""
    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(asctime)s %(name)s: %(message)s")
    asyncio.run(until_told(name, part))


async def until_told(name: str, part: Part) -> None:
    """Do what `run_part` does, within a running loop."""
    told = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, told.set)
    async with stdin_watched(told.set):
        work = asyncio.ensure_future(part.run(lambda: announce(name)))
        end = asyncio.ensure_future(told.wait())
        await asyncio.wait((work, end), return_when=asyncio.FIRST_COMPLETED)
        end.cancel()
        work.cancel()
        await asyncio.gather(work, end, return_exceptions=True)
    if not work.cancelled():
        work.result()


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
