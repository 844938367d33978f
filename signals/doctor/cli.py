"""`kerblight doctor`: look at an installation, and say how to mend what is not as it should be."""

from __future__ import annotations

from pathlib import Path

import typer
from rich.table import Table

from signals.cli.data import broker_of, keys_of
from signals.cli.links import keys_for
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_VENUE,
    AsJson,
    BrokerUrl,
    DataDir,
    KeysDir,
    VenueFile,
    address,
)
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.doctor import broker as brokers
from signals.doctor import certificates, clock, disk, machine, running
from signals.doctor.seen import Seen, falls_short
from signals.venue import load

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def doctor(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    as_json: AsJson = False,
) -> None:
    """Look at this installation: machine, clock, disk, keys, broker, and what runs; say how to mend each.

    The broker is looked at where one is named, or a run uses the data folder. Exits with 1 where something
    needed is not as it should be; what is only better otherwise is marked with a dot.

    Examples: kerblight doctor; kerblight doctor --broker mqtts://broker.lan --keys keys/controller
    """
    seen = look(venue, broker, data, keys)
    if as_json:
        print_json(seen)
    else:
        _say(seen)
    raise typer.Exit(FELL_SHORT if falls_short(seen) else HELD)


def look(venue: Path, broker: str, data: Path, keys: Path | None) -> list[Seen]:
    """Look at all there is. Raises BadInput for a venue, URL or folder of keys that cannot be used."""
    known = load(venue)
    keys = keys or (None if broker else keys_of(data))
    seen = [*machine.look(), *clock.look(), *disk.look(data)]
    if keys is not None:
        seen += certificates.look(keys)
    if broker or (data / "broker").exists():
        where = address(broker or broker_of(data))
        keys_for(where, keys, "")
        seen += brokers.look(known, where, keys, data)
    return [*seen, *running.look(data)]


def _say(seen: list[Seen]) -> None:
    table = Table("", "", "", "", box=None, show_header=False)
    about = ""
    for one in seen:
        mark = "✓" if one.ok else "✗" if one.needed else "·"
        table.add_row(one.about if one.about != about else "", mark, one.what, one.said)
        if one.mend:
            table.add_row("", "", "", f"→ {one.mend}")
        about = one.about
    console().print(table)
