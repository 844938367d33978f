"""The `iotcore` wheel's broker as a process: `python -m signals.mqtt.wheel HOST PORT MAX_BYTES`.

The wheel cannot be told to send small messages at once. Linux sockets inherit that from the one
that listens, and here it is in our own process, so it is set there: 2 ms an answer instead of 44.
"""

from __future__ import annotations

import logging
import os
import signal
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from iotcore import IotCoreBroker

LISTENS_WITHIN_S = 5.0
LOOK_AGAIN_S = 0.002


def main() -> None:
    """Serve until ended by a signal."""
    host, port, most = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    logging.getLogger("rumqttd").setLevel(logging.CRITICAL)  # it would name every packet
    broker = IotCoreBroker(listen=host, port=port, max_payload_size=most)
    broker.start()
    _send_at_once(port)
    while True:
        signal.pause()


def _send_at_once(port: int) -> None:
    """Set TCP_NODELAY on the socket that listens on `port`, once it is there."""
    deadline = time.monotonic() + LISTENS_WITHIN_S
    while time.monotonic() < deadline:
        for listening in _listening(port):
            with listening:
                listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            return
        time.sleep(LOOK_AGAIN_S)
    sys.exit(f"the broker does not listen on port {port}")


def _listening(port: int) -> Iterator[socket.socket]:
    """Give this process's sockets that listen on `port`, as second handles of them."""
    for handle in Path("/proc/self/fd").iterdir():
        with suppress(OSError):  # one that is closed by now, or a pipe
            if not str(handle.readlink()).startswith("socket:"):
                continue
            found = socket.socket(fileno=os.dup(int(handle.name)))
            if found.getsockopt(socket.SOL_SOCKET, socket.SO_ACCEPTCONN) and found.getsockname()[1] == port:
                yield found
            else:
                found.close()


if __name__ == "__main__":
    main()
