"""From a touch on the page to the lights, and from a change to fifty pages: `python -m benchmarks.panel`.

A whole run without a window, on its own mosquitto, and the page beside it. Touches are made in Debian's
Chromium by its own input, one by one, each followed by the same call from an MQTT client that has been
connected all along: the floor. Both are timed to the same arrivals of `aspect` at one client. The page's
times are Chromium's own: `touch` from when it took the input, `page` from when it ran the page's handler; the
time between is the browser's. Both clocks are the machine's. Wall time: what else runs counts.
"""

from __future__ import annotations

import asyncio
import socket
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import AsyncIterator, Coroutine
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any, Self, TypeVar

import httpx
from playwright.async_api import Page, async_playwright

from benchmarks.measure import say_where, show, verdict
from signals.caller import Caller
from signals.cli.links import links
from signals.cli.options import DEFAULT_VENUE
from signals.cli.whole import whole
from signals.mqtt.codec import decode
from signals.mqtt.contract import AspectCommand
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Word

TIMES, PAUSE_S = 100, 0.1
PAGES, CHANGES, SECTORS = 50, 24, 6
POST = "p1"
WITHIN_S = 5.0
SETTLE_S = 3.0
TOUCH_TARGET_MS, PAGES_TARGET_MS = 2.0, 250.0
CHROMIUM = "/usr/bin/chromium"
T = TypeVar("T")
NOTES_TOUCHES = """() => document.addEventListener('click', (event) => {
    window.touched = performance.timeOrigin + event.timeStamp;
    window.handled = performance.timeOrigin + performance.now() }, true)"""
NOW = "() => performance.timeOrigin + performance.now()"


class Ear:
    """One post's client on a thread of its own, so that nothing else delays what it hears."""

    def __init__(self, venue: Venue, data: Path) -> None:
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._heads = len(venue.heads)
        self._epoch = self._before = 0
        self._lit: dict[str, float] = {}
        self._all = threading.Event()
        self._caller = Caller(
            self._topics,
            POST,
            links("", data),
            device="bench",
            also=((self._topics.name("head", "+", "aspect"), 1),),
            owner=Owner(on_message=self._hear),
        )
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()

        async def began() -> asyncio.Task[None]:
            running = asyncio.create_task(self._caller.run())
            await self._caller.heard.wait()
            return running

        self._running = self._await(began())
        return self

    def __exit__(self, *_: object) -> None:
        async def ended() -> None:
            self._running.cancel()
            await asyncio.gather(self._running, return_exceptions=True)

        self._await(ended())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def _await(self, work: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(WITHIN_S)

    def arm(self) -> None:
        """Wait for the aspects of the next epoch."""
        self._before = self._epoch
        self._lit.clear()
        self._all.clear()

    def took_ms(self, since_ms: float) -> tuple[float, float]:
        """Give after how long the first and the last head were told, since a time (UTC ms)."""
        assert self._all.wait(WITHIN_S), "not every head was told"
        return min(self._lit.values()) - since_ms, max(self._lit.values()) - since_ms

    def call(self, **fields: Any) -> float:
        """Call from here; gives when it went out (UTC ms)."""

        async def asked() -> float:
            at_ms = time.time_ns() / 1e6
            answer = await self._caller.ask(fields, wait_s=WITHIN_S)
            assert answer is not None, "no answer"
            assert answer.accepted, answer.refusals
            return at_ms

        return self._await(asked())

    def _hear(self, arrived: Arrived) -> None:
        at_ms = time.time_ns() / 1e6
        levels = self._topics.split(arrived.topic)
        if levels[:1] != ("head",):
            return
        command = decode(AspectCommand, arrived.payload)
        self._epoch = max(self._epoch, command.epoch)
        if command.epoch > self._before:
            self._lit.setdefault(levels[1], at_ms)
            if len(self._lit) == self._heads:
                self._all.set()


@asynccontextmanager
async def served(data: Path) -> AsyncIterator[str]:
    """Serve the page in a process of its own; gives its address."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    argv = (sys.executable, "-m", "signals.cli", "panel", "--data", str(data), "--port", str(port))
    process = await asyncio.create_subprocess_exec(
        *argv,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
    )
    assert process.stdout is not None
    assert process.stdin is not None
    while (line := await process.stdout.readline()) != b"ready panel\n":
        assert line, "the page did not start"
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        process.stdin.close()
        await process.wait()


async def touches(url: str, ear: Ear) -> dict[str, list[float]]:
    """Touch red on the page and call it by MQTT, in turns; gives ms by what was done."""
    took: dict[str, list[float]] = {
        f"{who} → {which} head": [] for who in ("touch", "page", "MQTT") for which in ("first", "last")
    }
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        context = await browser.new_context(has_touch=True, viewport={"width": 412, "height": 800})
        page = await context.new_page()
        await page.goto(f"{url}/sign-in")
        await page.check("input[value=desk]")
        await page.click("button.go")
        await page.wait_for_selector(".sector-row")
        await page.evaluate(NOTES_TOUCHES)
        await asyncio.sleep(SETTLE_S)
        print(f"the browser's clock is within {await _skew_ms(page):.2f} ms of this process's\n")
        box = await page.locator(".dock .red").bounding_box()
        assert box is not None
        for _ in range(TIMES):
            ear.arm()
            await page.touchscreen.tap(box["x"] + 20, box["y"] + 20)
            touched_ms, handled_ms = await page.evaluate("() => [window.touched, window.handled]")
            _note(took, "touch", await asyncio.to_thread(ear.took_ms, touched_ms))
            _note(took, "page", ear.took_ms(handled_ms))
            await asyncio.sleep(PAUSE_S)
            ear.arm()
            since_ms = await asyncio.to_thread(partial(ear.call, call=Word.STOP))
            _note(took, "MQTT", await asyncio.to_thread(ear.took_ms, since_ms))
            await asyncio.sleep(PAUSE_S)
        await browser.close()
    return took


def _note(took: dict[str, list[float]], who: str, ms: tuple[float, float]) -> None:
    for which, each in zip(("first", "last"), ms, strict=True):
        took[f"{who} → {which} head"].append(each)


async def _skew_ms(page: Page) -> float:
    """Bound how far the browser's clock may be off: its answer lies between two looks at ours."""
    best = float("inf")
    for _ in range(50):
        before_ms = time.time_ns() / 1e6
        theirs_ms = await page.evaluate(NOW)
        after_ms = time.time_ns() / 1e6
        best = min(best, max(after_ms - theirs_ms, theirs_ms - before_ms))
    return best


class OpenPage:
    """One page as its connection: a session of its own, and the stream it reads."""

    def __init__(self, url: str, post: str) -> None:
        self._url = httpx.URL(url)
        self._post = post
        self.arrived: dict[str, float] = {}

    async def run(self, ready: asyncio.Semaphore) -> None:
        """Sign in, then note when each change arrives."""
        async with httpx.AsyncClient(base_url=self._url) as http:
            await http.post("/sign-in", data={"post": self._post, "person": "", "password": ""})
            cookie = "; ".join(f"{name}={value}" for name, value in http.cookies.items())
        reader, writer = await asyncio.open_connection(self._url.host, self._url.port, limit=2**20)
        writer.write(f"GET /stream HTTP/1.1\r\nhost: {self._url.host}\r\ncookie: {cookie}\r\n\r\n".encode())
        try:
            async for line in reader:
                at_ms = time.time_ns() / 1e6
                if line.startswith(b"data:") and b'"holds"' in line:
                    for sector in range(1, SECTORS + 1):
                        key = f"caution:s{sector}:{POST}"
                        self.arrived.setdefault(key if key.encode() in line else f"no {key}", at_ms)
                    ready.release()
        finally:
            writer.close()


async def changes(url: str, ear: Ear, venue: Venue) -> list[float]:
    """Open fifty pages and change things; gives for each change when the last page had it, ms."""
    posts = [post.id for post in venue.posts]
    pages = [OpenPage(url, posts[number % len(posts)]) for number in range(PAGES)]
    ready = asyncio.Semaphore(0)
    tasks = [asyncio.create_task(page.run(ready)) for page in pages]
    for _ in pages:
        await ready.acquire()
    await asyncio.sleep(SETTLE_S)
    last = []
    for number in range(CHANGES):
        sector, placed = f"s{number % SECTORS + 1}", number // SECTORS % 2 == 0
        key = f"caution:{sector}:{POST}"
        fields = {"call": Word.CAUTION, "where": sector}
        lifts = {"call": Word.LIFT, "hold": key, "checked": True}
        for page in pages:
            page.arrived.clear()
        since_ms = await asyncio.to_thread(partial(ear.call, **(fields if placed else lifts)))
        due = key if placed else f"no {key}"
        async with asyncio.timeout(WITHIN_S):
            while not all(due in page.arrived for page in pages):  # noqa: ASYNC110 - read by many tasks
                await asyncio.sleep(0.005)
        last.append(max(page.arrived[due] for page in pages) - since_ms)
        await asyncio.sleep(PAUSE_S)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return last


async def _measure(data: Path) -> tuple[dict[str, list[float]], list[float]]:
    venue = load(DEFAULT_VENUE)
    async with whole(venue, data, tell=lambda _: None), served(data) as url:
        await asyncio.sleep(SETTLE_S)
        with Ear(venue, data) as ear:
            return await touches(url, ear), await changes(url, ear, venue)


def _rows(took: dict[str, list[float]]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for which in ("first", "last"):
        floor_ms = statistics.median(took[f"MQTT → {which} head"])
        for who in ("touch", "page", "MQTT"):
            each = took[f"{who} → {which} head"]
            median_ms, p99_ms = statistics.median(each), statistics.quantiles(each, n=100)[98]
            more = median_ms - floor_ms
            kept = verdict(more <= TOUCH_TARGET_MS) if who != "MQTT" else "–"
            rows.append(
                (
                    f"{who} → {which} head",
                    f"{median_ms:.2f}",
                    f"{p99_ms:.2f}",
                    f"{more:+.2f}",
                    f"{median_ms / floor_ms:.2f}",
                    kept,
                )
            )
    return rows


def main() -> None:
    """Run, touch, change, and print."""
    say_where()
    with tempfile.TemporaryDirectory() as folder:
        took, last = asyncio.run(_measure(Path(folder)))
    title = f"{TIMES} touches and {TIMES} calls, in turns"
    show(title, ("ms", "median", "p99", "more", "÷ MQTT", f"≤ {TOUCH_TARGET_MS:g} more"), _rows(took))
    row = (f"{statistics.median(last):.1f}", f"{max(last):.1f}", verdict(max(last) <= PAGES_TARGET_MS))
    title = f"{CHANGES} changes, {PAGES} pages open: a call to the last page that shows it"
    show(title, ("ms", "median", "most", f"≤ {PAGES_TARGET_MS:g}"), [("last of all pages", *row)])


if __name__ == "__main__":
    main()
