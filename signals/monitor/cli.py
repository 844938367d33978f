"""`kerblight monitor`: the conflict monitor alone, for as long as its stdin is open."""

from __future__ import annotations

import typer

from signals.cli.data import prepare
from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_LOG,
    DEFAULT_VENUE,
    BrokerUrl,
    DataDir,
    KeysDir,
    Logs,
    Metrics,
    VenueFile,
)
from signals.cli.process import Telling, run_part
from signals.clock import Clock
from signals.health.logs import set_up
from signals.monitor.service import Monitor
from signals.venue import load

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def monitor(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
) -> None:
    """Run the conflict monitor alone, until its stdin closes or it is told to end.

    It belongs on another machine than the controller where there is one.

    Example: kerblight monitor --broker mqtts://broker.lan --keys keys/monitor
    """
    set_up(log, "monitor")
    folder, known = prepare(data), load(venue)
    part = Monitor(
        known,
        links(broker, folder, keys, "monitor"),
        clock=Clock(),
        latch=folder / "monitor-latch.json",
    )
    run_part("monitor", part, Telling(folder, known.id, metrics))
