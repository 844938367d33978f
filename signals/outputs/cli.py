"""`kerblight outputs`: the heads and contacts of the wiring table, as nodes."""

from __future__ import annotations

from typing import Annotated

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
    wrong,
)
from signals.cli.process import Telling, run_part
from signals.errors import Unusable
from signals.health.logs import set_up
from signals.outputs.plant import make_output, wired_nodes
from signals.outputs.service import Outputs
from signals.outputs.virtual import virtual_output
from signals.venue import load
from signals.wiring.lint import check

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def outputs(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
    virtual: Annotated[
        bool,
        typer.Option(
            "--virtual",
            help="Rehearse, with devices in memory instead of every one in the table.",
        ),
    ] = False,
) -> None:
    """Drive the lamps and read the contacts of the venue's wiring table.

    Every image is written whole, again and again; on the way out each device is left with its fail
    states. A table with any finding of `kerblight wiring lint` is refused.

    Example: kerblight outputs --venue configs/harbour-wired.toml --virtual
    """
    set_up(log, "outputs")
    known = load(venue)
    check(known)
    if not wired_nodes(known):
        raise Unusable(f"{venue.name}: no node of its own has a row in the wiring table")
    if virtual and not known.simulated:
        raise wrong("--virtual", "", f"{known.id} has only real equipment: nothing may stand in for it")
    make = virtual_output if virtual else make_output
    folder = prepare(data)
    part = Outputs(known, links(broker, folder, keys, "outputs"), make=make)
    run_part("outputs", part, Telling(folder, known.id, metrics))
