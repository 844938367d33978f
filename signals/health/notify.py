"""What a process tells systemd: that it is ready, its status line, and that it still lives (sd_notify(3)).

A datagram to the socket named by NOTIFY_SOCKET; without one nothing is told. The watchdog's interval comes
by WATCHDOG_USEC, for the process WATCHDOG_PID names.
"""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Mapping

log = logging.getLogger(__name__)

LINE_MAX = 400
"""Characters of a status line that are passed on."""


class Notifier:
    """Tells systemd. Whatever fails there is logged once and hinders nothing.

    Attributes:
        watchdog_s: how long systemd waits for a sign of life; None where it waits for none.

    """

    def __init__(self, environ: Mapping[str, str] | None = None) -> None:
        told = os.environ if environ is None else environ
        address = told.get("NOTIFY_SOCKET", "")
        self._address = f"\0{address[1:]}" if address.startswith("@") else address
        self._failed = False
        self.watchdog_s = _watchdog_s(told) if address else None

    def ready(self) -> None:
        """Tell that the start is over."""
        self._tell("READY=1")

    def status(self, line: str) -> None:
        """Tell the status line `systemctl status` shows."""
        self._tell(f"STATUS={' '.join(line.split())[:LINE_MAX]}")

    def alive(self) -> None:
        """Tell the watchdog that work goes on."""
        self._tell("WATCHDOG=1")

    def stopping(self) -> None:
        """Tell that it ends on purpose."""
        self._tell("STOPPING=1")

    def _tell(self, line: str) -> None:
        if not self._address:
            return
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as carrier:
                carrier.sendto(line.encode(), self._address)
        except OSError as error:
            if not self._failed:
                log.warning("systemd cannot be told: %s", error)
            self._failed = True


def _watchdog_s(told: Mapping[str, str]) -> float | None:
    """Read the watchdog's interval; None where there is none, or it is another process's."""
    try:
        interval_us = int(told.get("WATCHDOG_USEC", ""))
        mine = int(told.get("WATCHDOG_PID") or os.getpid()) == os.getpid()
    except ValueError:
        return None
    return interval_us / 1e6 if mine and interval_us > 0 else None
