"""`kerblight nodes`: simulated heads, karts and call boxes, beside the controller or on another machine."""

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
from signals.health.logs import set_up
from signals.nodes.service import Nodes
from signals.venue import load

app = typer.Typer(add_completion=False, rich_markup_mode=None)

Only = Annotated[
    list[str] | None, typer.Option("--only", metavar="ID", help="Only this node; may be given again.")
]
Sensor = Annotated[
    list[str] | None,
    typer.Option(
        "--sensor", metavar="HEAD", help="This head proves its lamps by a sensor; may be given again."
    ),
]
Goodbye = Annotated[
    bool, typer.Option("--goodbye", help='Say "gone" when ended: the venue goes on without these nodes.')
]


@app.command()
def nodes(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
    only: Only = None,
    sensor: Sensor = None,
    goodbye: Goodbye = False,
) -> None:
    """Run the venue's simulated heads, karts and call boxes, each as a node of its own.

    Examples: kerblight nodes; kerblight nodes --only n1 --sensor h1 --goodbye
    """
    set_up(log, "nodes")
    known, folder = load(venue), prepare(data)
    if unknown := sorted(set(sensor or ()) - {head.id for head in known.heads}):
        raise wrong("--sensor", unknown[0], f"a head: {', '.join(head.id for head in known.heads)}")
    try:
        part = Nodes(
            known,
            links(broker, folder, keys, "nodes"),
            only=frozenset(only) if only else None,
            sensors=frozenset(sensor or ()),
            goodbye=goodbye,
        )
    except ValueError as mistake:
        raise wrong("--only", ", ".join(only or ()), str(mistake)) from mistake
    run_part("nodes", part, Telling(folder, known.id, metrics))
