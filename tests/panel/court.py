"""A whole small venue and its page, served for real: uvicorn on a free loopback port, a loop in a thread.

Every part is the real one, on a broker in memory; tests are clients over HTTP. Leases are long and patience
great, so that a busy machine ends neither.
"""

from __future__ import annotations

import asyncio
import json
import re
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from ssl import SSLContext
from typing import Any, Self, TypeVar

import httpx
from msgspec.structs import replace
from websockets.exceptions import ConnectionClosedError
from websockets.sync.client import ClientConnection, connect

from signals.panel.service import Listening, Panel
from signals.panel.site import Setting
from signals.sequence.stage import Stage
from signals.venue.model import Venue
from tests.controller.made import harbour

T = TypeVar("T")
WITHIN_S = 15.0
LEASE_MS, TRIP_MS = 15_000, 440
WALKED_LEASE_MS = 3_000
"""Where somebody walks: a sensor is believed after half a lease, which is then waited for at every lamp."""
GROUP = [
    {"number": 1, "driver": "Ada Fenwick", "class": "adult"},
    {"number": 2, "driver": "Bo", "class": "adult"},
]


def patient(venue: Venue | None = None, *, lease_ms: int = LEASE_MS) -> Venue:
    """Harbour Loop with four karts, or another venue, with leases that a busy machine does not end."""
    venue = venue or harbour()
    leases = {"lease_head": lease_ms, "lease_kart": lease_ms, "lease_controller": lease_ms}
    timing = replace(venue.timing, **leases, settle=lease_ms // 3, monitor_trip=TRIP_MS)
    nodes = tuple(replace(node, lease_ms=lease_ms) for node in venue.nodes)
    return replace(venue, timing=timing, nodes=nodes)


class Court:
    """The venue and its page, from `with` to its end."""

    def __init__(
        self,
        folder: Path,
        *,
        open_posts: bool = True,
        venue: Venue | None = None,
        stage: Callable[[Venue], Stage] = Stage,
        **listening: Any,
    ) -> None:
        self.venue = venue or patient()
        self.folder = folder
        self._make_stage = stage
        self.url = ""
        self._open_posts = open_posts
        self._listening = Listening(**listening)
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()))
        self._ready, self._failed = threading.Event(), ""
        self._loop: asyncio.AbstractEventLoop | None = None
        self._over = asyncio.Event()
        self.stage: Stage
        self.panel: Panel

    def __enter__(self) -> Self:
        self._thread.start()
        assert self._ready.wait(WITHIN_S * 2), "the venue is not up"
        assert not self._failed, self._failed
        return self

    def __exit__(self, *_: object) -> None:
        assert self._loop is not None
        self._loop.call_soon_threadsafe(self._over.set)
        self._thread.join(WITHIN_S)
        assert not self._thread.is_alive(), "the page does not end"

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        try:
            async with self._make_stage(self.venue) as self.stage:
                assert self.stage.journal is not None
                (self.folder / "journal.sqlite").symlink_to(self.stage.journal.path)
                setting = Setting(
                    data=self.folder, open_posts=self._open_posts, secure=self._listening.secure
                )
                self.panel = Panel(self.venue, self.stage.link, setting, self._listening)
                self.url = self.panel.url
                serving = asyncio.create_task(self.panel.run(self._ready.set))
                await self._over.wait()
                serving.cancel()
                await asyncio.gather(serving, return_exceptions=True)
        except BaseException as failed:
            self._failed = repr(failed)
            self._ready.set()
            raise

    @property
    def site(self) -> Any:
        """The site itself, for tests that look inside."""
        return self.panel._site

    def do(self, work: Callable[[], Coroutine[Any, Any, T]]) -> T:
        """Run something on the venue's loop, and wait for it."""
        assert self._loop is not None
        return asyncio.run_coroutine_threadsafe(work(), self._loop).result(WITHIN_S)

    def kill(self, part: str) -> None:
        """Drop a part of the venue."""
        self.do(lambda: self.stage.kill(part))

    def start(self, part: str) -> None:
        """Bring it back."""
        self.do(lambda: self.stage.start(part))

    def visitor(self, **more: Any) -> Visitor:
        """Give somebody with a browser, not signed in."""
        return Visitor(self, **more)

    def at(self, post: str, person: str = "", password: str = "") -> Visitor:
        """Give somebody signed in at a post."""
        visitor = self.visitor()
        answer = visitor.sign_in(post, person, password)
        assert answer.status_code == 303, answer.text
        return visitor


class Visitor:
    """One browser's worth of HTTP: its cookies, its session's word, and what its page has seen."""

    def __init__(self, court: Court, **more: Any) -> None:
        self.http = httpx.Client(base_url=court.url, timeout=WITHIN_S, **more)
        self.heard = 0
        self.seen: dict[str, Any] = {}

    def close(self) -> None:
        """Close every connection."""
        self.http.close()

    def sign_in(self, post: str, person: str = "", password: str = "") -> httpx.Response:
        """Send the sign-in."""
        return self.http.post("/sign-in", data={"post": post, "person": person, "password": password})

    @property
    def csrf(self) -> str:
        """The word the page's own scripts send along."""
        return str(self._page()["csrf"])

    def _page(self) -> dict[str, Any]:
        found = re.search(r'id="page">(.*?)</script>', self.http.get("/").text, re.DOTALL)
        assert found, "not signed in"
        return dict(json.loads(found.group(1)))

    def news(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Read the page's stream, event by event."""
        with self.http.stream("GET", "/stream") as answer:
            assert answer.status_code == 200, answer.read()
            name = ""
            for line in answer.iter_lines():
                if line.startswith("event: "):
                    name = line.removeprefix("event: ")
                elif line.startswith("data: "):
                    yield name, json.loads(line.removeprefix("data: "))

    def look(self, holds: Callable[[dict[str, Any]], bool] = lambda _: True) -> dict[str, Any]:
        """Read the stream until it is up and what is shown holds; gives every region."""
        shown: dict[str, Any] = {}
        deadline = time.monotonic() + WITHIN_S
        for name, data in self.news():
            assert time.monotonic() < deadline, shown
            if name == "regions":
                shown |= data
            if name == "beat" and data["up"] and "boot" in shown.get("seen", {}) and holds(shown):
                self.heard, self.seen = data["heard"], shown["seen"]
                return shown
        raise AssertionError("the stream ended")

    def call(self, word: str, *, csrf: str | None = None, **fields: Any) -> httpx.Response:
        """Touch a call, having looked at the page just now."""
        self.look()
        return self.send(word, csrf=csrf, **fields)

    def send(self, word: str, *, csrf: str | None = None, **fields: Any) -> httpx.Response:
        """Touch a call on the picture seen last."""
        body = {
            "call": {"call": word, **fields},
            "heard": self.heard,
            "boot": self.seen.get("boot"),
            "seq": self.seen.get("seq"),
        }
        headers = {"x-kerblight": self.csrf if csrf is None else csrf}
        return self.http.post("/call", json=body, headers=headers)

    @contextmanager
    def line(
        self, *, word: str | None = None, ssl: SSLContext | None = None, **headers: str
    ) -> Iterator[Line]:
        """Open a line for calls as the page does; `headers` stand in for its own."""
        where = str(self.http.base_url).rstrip("/")
        own = {"origin": where, "cookie": "; ".join(f"{n}={v}" for n, v in self.http.cookies.items())}
        sent = {name: value for name, value in {**own, **headers}.items() if value}
        with connect(
            f"{where.replace('http', 'ws')}/line", additional_headers=sent, open_timeout=WITHIN_S, ssl=ssl
        ) as socket:
            socket.send(self.csrf if word is None else word)
            yield Line(socket, self)

    def done(self, word: str, **fields: Any) -> None:
        """Call until it is accepted, as a person would."""
        deadline = time.monotonic() + WITHIN_S
        while not (said := self.call(word, **fields).json())["accepted"]:
            assert time.monotonic() < deadline, said
            time.sleep(0.2)


class Line:
    """An open line for calls: a call, its answer, by numbers."""

    def __init__(self, socket: ClientConnection, visitor: Visitor) -> None:
        self.socket = socket
        self._visitor = visitor
        self._number = 0

    def ready(self) -> Self:
        """Wait until calls are taken."""
        assert self.socket.recv(WITHIN_S) == "ready"
        return self

    def send(self, word: str, **fields: Any) -> int:
        """Touch a call on the picture seen last; gives its number."""
        visitor, seen = self._visitor, self._visitor.seen
        asked = {"call": {"call": word, **fields}, "heard": visitor.heard}
        self._number += 1
        body = json.dumps({**asked, "boot": seen.get("boot"), "seq": seen.get("seq")})
        self.socket.send(f"{self._number} {body}")
        return self._number

    def raw(self, first: int, size: int, payload: bytes = b"") -> None:
        """Write a frame as RFC 6455 has it (5.2), masked with zeros: of its payload only what is given."""
        length = (
            bytes([0xFE]) + size.to_bytes(2, "big") if size < 2**16 else b"\xff" + size.to_bytes(8, "big")
        )
        self.socket.socket.sendall(bytes([first]) + length + bytes(4) + payload)

    def said(self) -> tuple[int, int, dict[str, Any]]:
        """Read the next answer: whose it is, its status, what it says."""
        number, status, said = str(self.socket.recv(WITHIN_S)).split(" ", 2)
        return int(number), int(status), json.loads(said)

    def closed(self) -> tuple[int, str]:
        """Read until the line ends; gives why."""
        with suppress(ConnectionClosedError):
            for _ in self.socket:
                pass
        assert self.socket.close_code is not None
        return self.socket.close_code, self.socket.close_reason or ""


@contextmanager
def signed_in(court: Court, post: str, person: str = "") -> Iterator[Visitor]:
    """Be signed in at a post for a while."""
    visitor = court.at(post, person)
    try:
        yield visitor
    finally:
        visitor.close()
