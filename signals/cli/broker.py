"""`kerblight broker`: the embedded message broker alone, for as long as its stdin is open."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.data import prepare
from signals.cli.options import DEFAULT_DATA, DEFAULT_VENUE, MQTT_PORT, DataDir, VenueFile
from signals.cli.process import run_part
from signals.mqtt.broker import Kind, run_broker
from signals.venue import load
from signals.venue.model import Venue

app = typer.Typer(add_completion=False, rich_markup_mode=None)


class Embedded(StrEnum):
    """Which broker is run: mosquitto where it is on the PATH, else the wheel; or one of them."""

    EMBEDDED = "embedded"
    MOSQUITTO = "mosquitto"
    WHEEL = "wheel"

    @property
    def kind(self) -> Kind | None:
        """The kind as the broker's module names it."""
        kinds: dict[str, Kind] = {"mosquitto": "mosquitto", "wheel": "iotcore"}
        return kinds.get(self)


class _Broker:
    """The broker as a part; it dies with this process however that dies."""

    def __init__(self, venue: Venue, data: Path, which: Embedded, port: int) -> None:
        self._venue = venue
        self._data = data
        self._which = which
        self._port = port

    async def run(self, ready: Callable[[], None]) -> None:
        """Run it until cancelled."""
        await run_broker(self._venue, self._data, lambda _: ready(), self._which.kind, port=self._port)


@app.command()
def broker(
    *,
    which: Annotated[Embedded, typer.Option("--kind", help="Which broker.")] = Embedded.EMBEDDED,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Its port on 127.0.0.1.")] = MQTT_PORT,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
) -> None:
    """Run a broker on this machine alone, with the venue's access list."""
    run_part("broker", _Broker(load(venue), prepare(data), which, port))
