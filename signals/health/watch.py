"""Looks at a part about once a second, and tells whoever wants to know how it is.

Its status line goes to systemd, to `status/NAME.json` in the data folder, to the terminal where there is
one, and to the log when it turns well or ill. The watchdog is fed only while the loop turns and the part says
that its work goes on.
"""

from __future__ import annotations

import asyncio
import logging
import os
import sys
import time
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import TextIO

import msgspec
from msgspec import Struct

from signals.health.metrics import Board
from signals.health.notify import Notifier
from signals.health.report import Figure, Health, Healthy, counter, gauge
from signals.mqtt.link import Link

LOOK_S = 1.0
KEPT_S = 5.0
"""The status file is written anew so often: whoever reads it knows a silent process by its age."""
LINE_WIDTH = 100


class Status(Struct, frozen=True):
    """The status file: `at` is UTC ms."""

    part: str
    pid: int
    at: int
    well: bool
    says: str


def status_folder(data: Path) -> Path:
    """Give the folder of the status files."""
    return data / "status"


@dataclass(slots=True)
class Watch:
    """Watches one part of a process; a part itself, for processes whose parts run elsewhere."""

    name: str
    part: object
    notifier: Notifier
    data: Path | None = None
    board: Board | None = None
    terminal: TextIO | None = None
    links: Collection[Link] = ()
    log: logging.Logger = field(default_factory=lambda: logging.getLogger("kerblight.health"))
    _said: Health | None = None
    _kept_s: float = float("-inf")
    _late_s: float = 0.0
    _looks: int = 0

    async def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Look, tell, wait, until cancelled; the watchdog is fed at least three times its interval."""
        ready()
        watchdog_s = self.notifier.watchdog_s
        pause_s = LOOK_S if watchdog_s is None else min(LOOK_S, watchdog_s / 3)
        loop = asyncio.get_running_loop()
        try:
            while True:
                self.look()
                due_s = loop.time() + pause_s
                await asyncio.sleep(pause_s)
                self._late_s = max(0.0, loop.time() - due_s)
        finally:
            self._clear()

    def look(self) -> None:
        """Look once."""
        health = self.part.health() if isinstance(self.part, Healthy) else self._by_links()
        self._looks += 1
        if health.alive:
            self.notifier.alive()
        self.notifier.status(health.says)
        self._tell(health)
        if self.board is not None:
            self.board.put((*health.figures, *self._own(health)))

    def _by_links(self) -> Health:
        """Tell of a part that tells nothing of itself: whether it is connected."""
        up, of = sum(link.up for link in self.links), len(self.links)
        return Health(f"{up} of {of} connections up", well=up == of)

    def _own(self, health: Health) -> tuple[Figure, ...]:
        return (
            gauge("links", len(self.links), "Connections to the broker, up or not."),
            gauge("links_up", sum(link.up for link in self.links), "Connections to the broker that are up."),
            gauge("well", health.well, "1 while the part has everything it needs."),
            gauge(
                "loop_late_seconds", self._late_s, "How late the event loop came back from its last pause."
            ),
            counter("looks_total", self._looks, "How often the part was looked at."),
        )

    def _tell(self, health: Health) -> None:
        """Tell the log of a turn, the terminal of every change, the file at least every `KEPT_S`."""
        said, self._said = self._said, health
        if health.well if said is None else said.well != health.well:
            level = logging.INFO if health.well else logging.WARNING
            extra = {"what": "well" if health.well else "not-well", "fields": {"says": health.says}}
            self.log.log(level, "%s: %s", extra["what"], health.says, extra=extra)
        changed = said is None or said.says != health.says
        if changed and self.terminal is not None:
            self.terminal.write(f"\r{health.says[:LINE_WIDTH]:<{LINE_WIDTH}}\r")
            self.terminal.flush()
        if changed or time.monotonic() - self._kept_s >= KEPT_S:
            self._keep(health)

    def _keep(self, health: Health) -> None:
        if self.data is None:
            return
        self._kept_s = time.monotonic()
        status = Status(self.name, os.getpid(), time.time_ns() // 1_000_000, health.well, health.says)
        file = status_folder(self.data) / f"{self.name}.json"
        try:
            file.parent.mkdir(exist_ok=True)
            fresh = file.with_suffix(".new")
            fresh.write_bytes(msgspec.json.encode(status))
            fresh.replace(file)
        except OSError as error:
            self.log.debug("%s: %s", file, error)  # a full disk is told where it matters

    def _clear(self) -> None:
        """Leave no status behind of a process that ended in good order."""
        if self.data is not None:
            (status_folder(self.data) / f"{self.name}.json").unlink(missing_ok=True)
        if self.terminal is not None:
            self.terminal.write("\r" + " " * LINE_WIDTH + "\r")


def terminal() -> TextIO | None:
    """Give stderr where a person sits before it."""
    return sys.stderr if sys.stderr.isatty() else None
