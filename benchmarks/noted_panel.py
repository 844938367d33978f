"""The page's own process, unchanged, with times noted on a call's way through it.

`python -m benchmarks.noted_panel FILE panel …` runs `kerblight panel …`; at its end FILE has a line for each
note: UTC ms, and "came" when a message of a page's line was read from its socket, "sent" when a call was
handed to MQTT.
"""

from __future__ import annotations

import argparse
import atexit
import functools
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from benchmarks.measure import parser
from signals.cli import main
from signals.mqtt.link import MqttLink

_NOTES: list[tuple[int, str]] = []


def _noted(owner: type, method: str, what: str, *, which: Callable[..., bool] = lambda *_: True) -> None:
    """Note every call of a method, before it runs."""
    whole = getattr(owner, method)

    @functools.wraps(whole)
    def noting(self: Any, *args: Any, **more: Any) -> Any:
        if which(*args):
            _NOTES.append((time.time_ns(), what))
        return whole(self, *args, **more)

    setattr(owner, method, noting)


def _write(file: Path) -> None:
    file.write_text("".join(f"{at_ns / 1e6} {what}\n" for at_ns, what in _NOTES), encoding="ascii")


if __name__ == "__main__":
    asked = parser(__doc__)
    asked.add_argument("file", type=Path, metavar="FILE", help="where the notes go")
    asked.add_argument("words", nargs=argparse.REMAINDER, metavar="panel …", help="as for `kerblight`")
    given = asked.parse_args()
    sys.argv[1:] = given.words
    atexit.register(_write, given.file)
    _noted(WebSocketsSansIOProtocol, "data_received", "came")
    _noted(MqttLink, "publish", "sent", which=lambda topic, *_: "/call/" in topic)
    main()
