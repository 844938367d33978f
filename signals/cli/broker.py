"""`kerblight broker`: the embedded message broker alone, for as long as its stdin is open."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.data import prepare
from signals.cli.options import (
    DEFAULT_DATA,
    DEFAULT_LOG,
    DEFAULT_VENUE,
    MQTT_PORT,
    DataDir,
    KeysDir,
    Logs,
    Metrics,
    VenueFile,
    wrong,
)
from signals.cli.process import Telling, run_part
from signals.health.logs import set_up
from signals.health.report import Health
from signals.mqtt.broker import Kind, Running, run_broker
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

    def __init__(self, venue: Venue, data: Path, which: Embedded, port: int, keys: Path | None) -> None:
        self._venue = venue
        self._data = data
        self._which = which
        self._port = port
        self._keys = keys
        self._running: Running | None = None

    async def run(self, ready: Callable[[], None]) -> None:
        """Run it until cancelled."""
        kind = self._which.kind

        def up(running: Running) -> None:
            self._running = running
            ready()

        await run_broker(self._venue, self._data, up, kind, port=self._port, keys=self._keys)

    def health(self) -> Health:
        """Tell whether it takes connections."""
        if self._running is None:
            return Health("starting", well=False)
        by = "by certificate" if self._keys else "by password" if self._running.passwords else "by anybody"
        return Health(f"{self._running.kind} on {self._running.host}:{self._running.port}, {by}")


@app.command()
def broker(
    *,
    which: Annotated[Embedded, typer.Option("--kind", help="Which broker.")] = Embedded.EMBEDDED,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Its port on 127.0.0.1.")] = MQTT_PORT,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
) -> None:
    """Run a broker on this machine alone, with the venue's access list; with --keys by certificates.

    A venue whose nodes stand around the track runs mosquitto itself, with what `kerblight wiring keys` wrote.
    """
    set_up(log, "broker")
    if keys is not None and which is Embedded.WHEEL:
        raise wrong("--kind", which, "mosquitto with --keys: the wheel's broker knows no certificates")
    known, folder = load(venue), prepare(data)
    part = _Broker(known, folder, which, port, keys)
    run_part("broker", part, Telling(folder, known.id, metrics))
