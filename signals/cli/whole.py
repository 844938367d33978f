"""A whole simulated venue beside a verb, without a window: for as long as a context lasts."""

from __future__ import annotations

import socket
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from signals.cli.broker import Embedded
from signals.cli.data import broker_named, locked
from signals.cli.kept import Kept
from signals.cli.options import Address
from signals.cli.recipes import Wanted, recipes
from signals.errors import Unusable
from signals.outputs.plant import wired_nodes
from signals.supervise.supervisor import Supervisor
from signals.venue.model import Venue
from signals.wiring.lint import check


@asynccontextmanager
async def whole(venue: Venue, data: Path, *, tell: Callable[[str], None]) -> AsyncIterator[Kept]:
    """Run every process of a venue on an embedded broker, with its record in a folder; gives who keeps them.

    Raises:
        Unusable: the folder is in use, or a process cannot be started.
        BadInput: the venue's wiring table has findings.

    """
    wanted = _wanted(venue, data)
    with locked(data), broker_named(data, wanted.broker.url):
        async with Supervisor(recipes(wanted), tell=tell) as supervisor:
            yield Kept(supervisor)


def _wanted(venue: Venue, data: Path) -> Wanted:
    if wired_nodes(venue):
        check(venue)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        where = Address("127.0.0.1", probe.getsockname()[1])
    return Wanted(
        venue=venue.path.resolve(),
        data=data.resolve(),
        broker=where,
        embedded=Embedded.EMBEDDED,
        wired=bool(wired_nodes(venue)),
    )


def in_use(data: Path) -> bool:
    """Whether a run uses a folder now."""
    try:
        with locked(data):
            return False
    except Unusable:
        return True
