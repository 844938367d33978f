"""The latch: a trip that only a person's reset ends, not a restart and not a loss of power."""

from __future__ import annotations

import json
import logging
import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from signals.monitor.patience import Conflict
from signals.monitor.read import SHAPES

log = logging.getLogger(__name__)

WHAT_MAX = 60
"""Characters of a trip's `what`: nodes read it in small buffers (contract)."""


@dataclass(frozen=True, slots=True)
class Trip:
    """What `monitor/trip` carries; `at` is UTC ms."""

    tripped: bool
    what: str
    where: str
    due: str
    shown: str
    at: int

    @classmethod
    def of(cls, conflict: Conflict, at: int) -> Trip:
        """Make the trip for a conflict."""
        return cls(True, conflict.what[:WHAT_MAX], conflict.where, conflict.due, conflict.shown, at)

    def encoded(self) -> bytes:
        """Write it as JSON."""
        return json.dumps(asdict(self), separators=(",", ":")).encode()


def read_trip(message: Any) -> Trip | None:
    """Read a trip of our own; None if it is none."""
    return Trip(**message) if SHAPES["trip"](message) else None


class Latch:
    """Keeps the last trip, in a file too where one is given; written through before it is told to anyone."""

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self.trip: Trip | None = self._read()

    @property
    def tripped(self) -> bool:
        """Whether a trip stands."""
        return self.trip is not None and self.trip.tripped

    def set(self, trip: Trip) -> None:
        """Take a trip or its end. A file that cannot be written is logged: lights go before records."""
        self.trip = trip
        if self._path is None:
            return
        try:
            _write_through(self._path, trip.encoded())
        except OSError as error:
            log.error("the latch %s could not be written: %s", self._path, error)  # noqa: TRY400 - no mishap of ours

    def _read(self) -> Trip | None:
        if self._path is None or not self._path.exists():
            return None
        try:
            trip = read_trip(json.loads(self._path.read_bytes()))
        except (OSError, ValueError):
            trip = None
        # What cannot be read may have been a trip.
        return trip or Trip(True, "the latch file cannot be read", "monitor", "readable", "damaged", 0)


def _write_through(path: Path, content: bytes) -> None:
    """Replace a file whole and sync it and its folder."""
    fresh = path.with_suffix(".new")
    with fresh.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
