"""`kerblight doctor`: look at this machine, and say what is there and what is missing."""

from __future__ import annotations

import os
import platform
import shutil
import socket
import sys
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

import typer
from msgspec import Struct
from rich.table import Table

from signals.cli.data import prepare
from signals.cli.options import DEFAULT_DATA, MQTT_PORT, AsJson, DataDir
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import Unusable

PACKAGES = ("kerblight", "aiomqtt", "msgspec", "transitions", "pygame-ce", "numpy", "iotcore")
FONT = "font_source_sans_pro"

app = typer.Typer(add_completion=False, rich_markup_mode=None)


class Seen(Struct, frozen=True):
    """One thing looked at. `needed` tells whether `run` goes without."""

    what: str
    ok: bool
    said: str
    needed: bool = True


def _python() -> Seen:
    return Seen("Python", sys.version_info >= (3, 11), platform.python_version())


def _package(name: str) -> Seen:
    try:
        return Seen(name, True, version(name))
    except PackageNotFoundError:
        return Seen(name, False, "not installed: python -m pip install kerblight", needed=name != "iotcore")


def _mosquitto() -> Seen:
    found = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    missing = "not found; the wheel's broker serves simulated venues: sudo apt-get install -y mosquitto"
    return Seen("mosquitto", found is not None, found or missing, needed=False)


def _data(data: Path) -> Seen:
    try:
        return Seen("data folder", True, str(prepare(data).resolve()))
    except Unusable as wrong:
        return Seen("data folder", False, str(wrong))


def _port() -> Seen:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", MQTT_PORT))
        except OSError:
            taken = f"{MQTT_PORT} is taken; `kerblight run` takes a free one unless told otherwise"
            return Seen("broker port", False, taken, needed=False)
    return Seen("broker port", True, f"{MQTT_PORT} is free", needed=False)


def _font() -> Seen:
    found = find_spec(FONT) is not None
    return Seen("font", found, "Source Sans" if found else "not installed: pip install font-source-sans-pro")


def _display() -> Seen:
    shown = os.environ.get("WAYLAND_DISPLAY") or os.environ.get("DISPLAY")
    return Seen("display", shown is not None, shown or "none; use `run --headless`", needed=False)


def look(data: Path) -> list[Seen]:
    """Look at everything `run` needs or is better with."""
    packages = [_package(name) for name in PACKAGES]
    return [_python(), *packages, _mosquitto(), _data(data), _port(), _font(), _display()]


@app.command()
def doctor(*, data: DataDir = DEFAULT_DATA, as_json: AsJson = False) -> None:
    """Look at this machine; exits 1 where something needed is missing."""
    seen = look(data)
    if as_json:
        print_json(seen)
    else:
        table = Table("", "", "", box=None, show_header=False)
        for one in seen:
            table.add_row("✓" if one.ok else "✗" if one.needed else "·", one.what, one.said)
        console().print(table)
    raise typer.Exit(HELD if all(one.ok or not one.needed for one in seen) else FELL_SHORT)
