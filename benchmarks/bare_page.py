"""The least a touch can take: an empty page, an empty handler, a bare server that is a connected MQTT client.

`python -m benchmarks.bare_page DATA` prints its address and serves until its stdin ends. The page has one
button. When a finger leaves it a text goes out over a WebSocket (RFC 6455) that stands open. The server
decodes nothing: it calls red as the post `desk`, and answers when the bytes were there, UTC ms.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.measure import parser
from signals.caller import Caller
from signals.cli.links import links
from signals.cli.options import DEFAULT_VENUE
from signals.mqtt.contract import Answer
from signals.mqtt.topics import Topics
from signals.venue import load
from signals.words import Word

GUID = b"258EAFA5-E914-47DA-95CA-C5AB0DC85B11"
CALL = '1 {"call":{"call":"stop","kind":"incident"},"boot":1,"seq":1234,"heard":12345678}'
PAGE = f"""<!doctype html><meta name=viewport content="width=device-width"><title>bare</title>
<button style="width: 300px; height: 100px; touch-action: manipulation">red</button><script>
const line = new WebSocket(`ws://${{location.host}}/line`);
line.onmessage = ({{ data }}) => {{ window.arrived = Number(data) }};
line.onopen = () => {{ document.title = "open" }};
document.addEventListener("pointerup", () => line.send('{CALL}'));
</script>"""


class Bare(asyncio.Protocol):
    """One connection: the page, or the line; `call` is what a touch does."""

    def __init__(self, call: Callable[[], object]) -> None:
        self._call = call

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin."""
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        self._line = False

    def data_received(self, data: bytes) -> None:
        """Say when it came, or serve the page, or open the line."""
        at_ms = time.time_ns() / 1e6
        if self._line:
            self._call()
            said = f"{at_ms:.3f}".encode()
            self._transport.write(bytes((0x81, len(said))) + said)
            return
        key = re.search(rb"sec-websocket-key: *(\S+)", data, re.IGNORECASE)
        if key is None:
            head = f"HTTP/1.1 200 OK\r\ncontent-type: text/html\r\ncontent-length: {len(PAGE)}\r\n\r\n"
            self._transport.write(head.encode() + PAGE.encode())
            return
        self._line = True
        accept = base64.b64encode(hashlib.sha1(key[1] + GUID).digest())  # noqa: S324 - RFC 6455, 4.2.2
        self._transport.write(
            b"HTTP/1.1 101 Switching Protocols\r\nupgrade: websocket\r\nconnection: Upgrade\r\n"
            b"sec-websocket-accept: " + accept + b"\r\n\r\n"
        )


async def main(data: Path) -> None:
    """Serve until nobody wants it any more."""
    loop, venue = asyncio.get_running_loop(), load(DEFAULT_VENUE)
    topics = Topics.of(venue.id, simulated=venue.simulated)
    caller = Caller(topics, "desk", links("", data), device="bare")
    running, asked = asyncio.create_task(caller.run()), set[asyncio.Task[Answer | None]]()
    await caller.heard.wait()

    def call() -> None:
        asked.add(asyncio.create_task(caller.ask({"call": Word.STOP})))

    server = await loop.create_server(lambda: Bare(call), "127.0.0.1", 0)
    print(f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}", flush=True)
    await loop.run_in_executor(None, sys.stdin.read)
    server.close()
    running.cancel()
    await asyncio.gather(running, *asked, return_exceptions=True)


if __name__ == "__main__":
    asked = parser(__doc__)
    asked.add_argument("data", type=Path, metavar="DATA", help="the data folder of a run")
    asyncio.run(main(asked.parse_args().data))
