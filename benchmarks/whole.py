"""A whole venue of processes under measurement, on a mosquitto and a port of its own."""

from __future__ import annotations

from pathlib import Path

from benchmarks.peers import free_port
from signals.cli.broker import Embedded
from signals.cli.options import Address
from signals.cli.recipes import Wanted


def wanted(venue_file: Path, data: Path, *, headless: bool = True, wired: bool = False) -> Wanted:
    """Give what is to run: the same seed, no incidents, nothing kept of the window."""
    return Wanted(
        venue=venue_file, data=data, broker=Address("127.0.0.1", free_port()), embedded=Embedded.MOSQUITTO,
        headless=headless, wired=wired,
    )  # fmt: skip
