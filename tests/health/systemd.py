"""What systemd is to a service: a datagram socket that hears what the process tells."""

from __future__ import annotations

import select
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class Manager:
    """Hears, in order, each datagram as its lines."""

    def __init__(self, carrier: socket.socket, address: str) -> None:
        self.address = address
        self.heard: list[str] = []
        self._carrier = carrier

    def until(self, line: str, within_s: float = 20.0, *, times: int = 1) -> bool:
        """Wait until a line that begins so was heard so many times."""
        deadline = time.monotonic() + within_s
        while sum(each.startswith(line) for each in self.heard) < times:
            left_s = deadline - time.monotonic()
            if left_s <= 0 or not select.select([self._carrier], [], [], left_s)[0]:
                return False
            self.heard += self._carrier.recv(65536).decode().splitlines()
        return True

    def hear(self) -> list[str]:
        """Take in whatever has come."""
        while select.select([self._carrier], [], [], 0)[0]:
            self.heard += self._carrier.recv(65536).decode().splitlines()
        return self.heard


@contextmanager
def manager(folder: Path | None = None, *, abstract: str = "") -> Iterator[Manager]:
    """Listen as systemd does: on a path, or on an abstract name."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as carrier:
        if folder is not None:
            address = str(folder / "notify")
            carrier.bind(address)
        else:
            address = f"@{abstract}"
            carrier.bind(f"\0{abstract}")
        yield Manager(carrier, address)
