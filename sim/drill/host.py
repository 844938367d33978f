"""Several seats: a drill on a broker of its own, which others join with windows, calls and events.

The host runs everything on one loop over the embedded broker: controller, monitor, nodes, world and the
drill, by a clock that waits where the computer is busy (`sim.drill.held`). Whoever has the data folder
joins: trainees at posts, an instructor who watches and throws events in. Each seat is scored for its own
sectors.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from signals.cli.data import broker_named, locked
from signals.cli.options import Address
from signals.mqtt.broker import Running, embedded_broker
from signals.mqtt.link import Credentials, Link, Owner, Will
from signals.venue.model import Venue
from sim.drill.cast import Cast
from sim.drill.facts import facts
from sim.drill.play import Performance
from sim.drill.score import Score
from sim.drill.scoring import score
from sim.drill.seat import Nobody
from sim.drill.stage import DrillStage, paced
from sim.drill.tape import Head, Tape

PATIENT_S = 60
"""How long a part may be silent to its broker, in real time: while the drill's clock waits, it is."""


class HostedStage(DrillStage):
    """A drill's venue on a real broker. `kill` ends a part; its clients' wills are the broker's to say."""

    def __init__(self, venue: Venue, broker: Running, *, seed: int) -> None:
        super().__init__(venue, seed=seed, lean=False)
        self._running = broker

    def link(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> Link:
        """Make a client's link on the broker, which does not give it up while the clock waits."""
        link = self._running.link(
            client, subscriptions=subscriptions, will=will, credentials=credentials, owner=owner
        )
        link.keepalive_s = PATIENT_S
        return link


async def host(
    cast: Cast,
    venue: Venue,
    seats: Mapping[str, str],
    data: Path,
    *,
    wait_s: float,
    tell: Callable[[str], None],
    began: Callable[[], None] = lambda: None,
    ends: Callable[[], bool] = lambda: False,
) -> tuple[Tape, list[Score]]:
    """Host a drill for seats (post -> whose), `wait_s` after its broker is up; gives every seat's score.

    `began` is called when it begins; `ends` is asked ten times a second whether to end it now.

    Raises:
        Unusable: the folder is in use, no broker can run, or the drill cannot begin.

    """
    head = Head(
        drill=cast.drill.name,
        venue=venue.id,
        seed=cast.seed,
        seats=dict(seats),
        lean=False,
        began_ms=round(time.time() * 1000),
    )
    tape = Tape(head)
    here = paced(venue, gap=cast.drill.file.start.gap, lean=False)
    with locked(data):
        async with embedded_broker(venue, data) as broker:
            url = Address(broker.host, broker.port).url
            with broker_named(data, url):
                tell(f"Open at {url}. The drill begins in {wait_s:g} s.")
                await asyncio.sleep(wait_s)
                await _perform(cast, here, broker, tape, tell, began, ends)
    known = facts(tape, venue)
    return tape, [score(tape, cast, venue, seat, known) for seat in seats]


async def _perform(
    cast: Cast,
    venue: Venue,
    broker: Running,
    tape: Tape,
    tell: Callable[[str], None],
    began: Callable[[], None],
    ends: Callable[[], bool],
) -> None:
    async with HostedStage(venue, broker, seed=cast.seed) as stage:
        performance = Performance(cast, stage, {seat: Nobody() for seat in tape.head.seats}, tape)

        def begun() -> None:
            began()
            tell("It runs.")

        performance.began = begun
        performance.ends = ends
        await performance.run()
    tell("It is over.")
