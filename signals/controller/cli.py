"""`kerblight controller`: the controller alone, for as long as its stdin is open."""

from __future__ import annotations

import logging
from pathlib import Path

import typer

from signals.cli.data import journal_file, prepare
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
from signals.controller.service import Controller
from signals.errors import Unusable
from signals.health.logs import set_up
from signals.journal import Journal, JournalFailed
from signals.venue import load

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def controller(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
) -> None:
    """Run the controller alone, until its stdin closes or it is told to end.

    Example: kerblight controller --broker mqtts://broker.lan --keys keys/controller
    """
    set_up(log, "controller")
    logging.getLogger("transitions").setLevel(logging.WARNING)  # it tells of every move it makes
    known = load(venue)
    folder = prepare(data)
    journal = _opened(journal_file(folder))
    part = Controller(
        known, links(broker, data, keys, "controller"), journal=journal, clock=Clock(), threaded=True
    )
    run_part("controller", part, Telling(folder, known.id, metrics))


def _opened(path: Path) -> Journal:
    try:
        return Journal(path)
    except JournalFailed as failure:
        raise Unusable(f"{failure}; without a journal nothing permissive would be accepted") from failure
