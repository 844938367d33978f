"""A port for a server that a test starts."""

from __future__ import annotations

import random
import socket

BELOW_EPHEMERAL = range(20_000, 32_000)
"""Where no client's own end of a connection comes to lie (Linux: 32768 to 60999)."""


def free_port() -> int:
    """Give a port nobody listens on; nobody takes it by chance before the server does."""
    while True:
        port = random.choice(BELOW_EPHEMERAL)  # noqa: S311 - no secret
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
