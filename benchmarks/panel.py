"""From a touch on the page to the lights, and from a change to fifty pages: `python -m benchmarks.panel`.

A whole run without a window, on its own mosquitto, and the page beside it. Touches are made in Debian's
Chromium by its own input: a finger comes down on red and leaves it, from when the time counts. In turns with
it a finger leaves an empty page whose bare server is an MQTT client that has been connected all along
(`bare_page`): what Chromium takes whatever a page does, on the same cores; and such a client calls by itself.
All are timed to the same arrivals of `aspect` at one client; touches from when Chromium took the input, by
its clock. All clocks are the machine's. Wall time: what else runs counts.
"""

from __future__ import annotations

import asyncio
import socket
import statistics
import sys
import tempfile
import threading
import time
from bisect import bisect_left
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Self, TypeVar

import httpx
from playwright.async_api import CDPSession, Page, Playwright, async_playwright

from benchmarks.measure import p99, parser, say_where, show, verdict
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
PRESS_S = 0.06
"""A finger stays on the screen for so long."""
SWITCH_S = 0.0005
"""The ear's thread gets the interpreter so soon while this one drives the browser."""
NOTES_TOUCHES = """() => document.addEventListener('pointerup', (event) => {
    window.taken = performance.timeOrigin + event.timeStamp;
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

    def told_ms(self) -> tuple[float, float]:
        """Give when the first and when the last head were told (UTC ms)."""
        assert self._all.wait(WITHIN_S), "not every head was told"
        return min(self._lit.values()), max(self._lit.values())

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
async def served(*words: str) -> AsyncIterator[tuple[str, asyncio.StreamReader]]:
    """Run a module of ours as a process of its own; gives its first line, and what it says after that."""
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        *words,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
    )
    assert process.stdout is not None
    assert process.stdin is not None
    try:
        yield (await process.stdout.readline()).decode().strip(), process.stdout
    finally:
        process.stdin.close()
        await process.wait()


@asynccontextmanager
async def panel(data: Path, notes: Path) -> AsyncIterator[str]:
    """Serve the page, with its times noted; gives its address."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    words = ("benchmarks.noted_panel", str(notes), "panel", "--data", str(data), "--port", str(port))
    async with served(*words) as (_, more):
        while (line := await more.readline()) != b"ready panel\n":
            assert line, "the page did not start"
        yield f"http://127.0.0.1:{port}"


@dataclass(frozen=True, slots=True)
class Touch:
    """One touch, UTC ms: as the browser took it, when the page's handler ran, when the bytes were there."""

    taken_ms: float
    handled_ms: float
    there_ms: float = 0.0
    first_ms: float = 0.0
    last_ms: float = 0.0


class Finger:
    """A finger that comes down on a page's button and leaves it again, by the browser's own input."""

    def __init__(self, page: Page, cdp: CDPSession, spot: dict[str, float]) -> None:
        self.page = page
        self._cdp = cdp
        self._spot = spot

    @classmethod
    async def over(cls, page: Page, selector: str) -> Self:
        """Hold it over a button, and let the page note every touch."""
        box = await page.locator(selector).bounding_box()
        assert box is not None
        await page.evaluate(NOTES_TOUCHES)
        cdp = await page.context.new_cdp_session(page)
        return cls(page, cdp, {"x": box["x"] + 20, "y": box["y"] + 20})

    async def touch(self) -> None:
        """Touch once; nothing more is asked of the browser until somebody does."""
        await self._send("touchStart", [self._spot])
        await asyncio.sleep(PRESS_S)
        await self._send("touchEnd", [])

    async def noted(self) -> tuple[float, float]:
        """Give when the last touch was taken, and when handled."""
        taken_ms, handled_ms = await self.page.evaluate("() => [window.taken, window.handled]")
        return taken_ms, handled_ms

    async def _send(self, what: str, points: list[dict[str, float]]) -> None:
        await self._cdp.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})


@asynccontextmanager
async def fingers(url: str, bare: str) -> AsyncIterator[tuple[Finger, Finger]]:
    """Open the page and a bare one; gives a finger over red, and one over nothing."""
    async with async_playwright() as playwright:
        empty = await _opened(playwright)
        await empty.goto(bare)
        await empty.wait_for_function("() => document.title === 'open'")
        page = await _opened(playwright)
        await page.goto(f"{url}/sign-in")
        await page.check("input[value=desk]")
        await page.click("button.go")
        await page.wait_for_selector(".sector-row")
        await asyncio.sleep(SETTLE_S)
        print(f"the browser's clock is within {await _skew_ms(page):.2f} ms of this process's\n")
        yield await Finger.over(page, ".dock .red"), await Finger.over(empty, "button")


async def _opened(playwright: Playwright) -> Page:
    """Open a page in a browser of its own: the one behind another is put off."""
    browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
    context = await browser.new_context(has_touch=True, viewport={"width": 412, "height": 800})
    return await context.new_page()


async def touches(red: Finger, nothing: Finger, ear: Ear) -> tuple[list[Touch], list[Touch], list[Touch]]:
    """Touch red, touch the bare page, call by MQTT, in turns."""
    ours, bare, mqtt = [], [], []
    for _ in range(TIMES):
        ear.arm()
        await red.touch()
        first_ms, last_ms = await asyncio.to_thread(ear.told_ms)
        ours.append(Touch(*await red.noted(), first_ms=first_ms, last_ms=last_ms))
        await asyncio.sleep(PAUSE_S)
        ear.arm()
        await nothing.touch()
        first_ms, last_ms = await asyncio.to_thread(ear.told_ms)
        there_ms = await nothing.page.evaluate("() => window.arrived")
        bare.append(Touch(*await nothing.noted(), there_ms, first_ms, last_ms))
        await asyncio.sleep(PAUSE_S)
        ear.arm()
        since_ms = await asyncio.to_thread(partial(ear.call, call=Word.STOP))
        first_ms, last_ms = await asyncio.to_thread(ear.told_ms)
        mqtt.append(Touch(since_ms, since_ms, first_ms=first_ms, last_ms=last_ms))
        await asyncio.sleep(PAUSE_S)
    return ours, bare, mqtt


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


@dataclass(frozen=True, slots=True)
class Measured:
    """All that was measured; `came_ms` and `sent_ms` are the page's own notes, UTC ms."""

    ours: list[Touch]
    bare: list[Touch]
    mqtt: list[Touch]
    last_pages_ms: list[float]
    came_ms: list[float]
    sent_ms: list[float]


async def _measure(data: Path, notes: Path) -> Measured:
    venue = load(DEFAULT_VENUE)
    async with (
        whole(venue, data, tell=lambda _: None),
        served("benchmarks.bare_page", str(data)) as (bare, _),
        panel(data, notes) as url,
    ):
        await asyncio.sleep(SETTLE_S)
        with Ear(venue, data) as ear:
            async with fingers(url, bare) as (red, nothing):
                took = await touches(red, nothing, ear)
            last = await changes(url, ear, venue)
    return Measured(*took, last, *_noted(notes))


def _noted(notes: Path) -> tuple[list[float], list[float]]:
    """Read the page's notes: when a call came, and when it was sent on, UTC ms."""
    lines = [line.split() for line in notes.read_text(encoding="ascii").splitlines()]
    came, sent = ([float(at) for at, what in lines if what == each] for each in ("came", "sent"))
    return came, sent


def _next(after_ms: float, all_ms: list[float]) -> float:
    """Give the first of some times from one on."""
    return all_ms[bisect_left(all_ms, after_ms)]


def _parts(got: Measured) -> dict[str, tuple[list[float], list[float]]]:
    """Give each part of the way, ms: ours, and its floor's."""
    came = [_next(each.handled_ms, got.came_ms) for each in got.ours]
    sent = [_next(at_ms, got.sent_ms) for at_ms in came]
    return {
        "taken by the browser → handler": (
            [each.handled_ms - each.taken_ms for each in got.ours],
            [each.handled_ms - each.taken_ms for each in got.bare],
        ),
        "handler → the server has it": (
            [at_ms - each.handled_ms for at_ms, each in zip(came, got.ours, strict=True)],
            [each.there_ms - each.handled_ms for each in got.bare],
        ),
        "the server has it → MQTT": ([y - x for x, y in zip(came, sent, strict=True)], []),
        "MQTT → first head": (
            [each.first_ms - at_ms for at_ms, each in zip(sent, got.ours, strict=True)],
            [each.first_ms - each.there_ms for each in got.bare],
        ),
    }


def _show_parts(got: Measured) -> None:
    rows = [
        (what, f"{statistics.median(ours):.2f}", f"{p99(ours):.2f}", *_floor(ours, floor))
        for what, (ours, floor) in _parts(got).items()
    ]
    show("The way of a touch, part by part", ("ms", "median", "p99", "floor", "more"), rows)


def _floor(ours: list[float], floor: list[float]) -> tuple[str, str]:
    if not floor:
        return "–", f"{statistics.median(ours):+.2f}"
    least = statistics.median(floor)
    return f"{least:.2f}", f"{statistics.median(ours) - least:+.2f}"


def _show_whole(got: Measured) -> None:
    rows = []
    ends: dict[str, Callable[[Touch], float]] = {
        "first": lambda each: each.first_ms,
        "last": lambda each: each.last_ms,
    }
    for which, end in ends.items():
        ours, bare, mqtt = (
            [end(each) - each.taken_ms for each in all_] for all_ in (got.ours, got.bare, got.mqtt)
        )
        for against, floor in (("a connected MQTT client", mqtt), ("the same behind an empty page", bare)):
            least, more = _floor(ours, floor)
            held = verdict(float(more) <= TOUCH_TARGET_MS)
            what = f"touch → {which} head; floor: {against}"
            rows.append((what, f"{statistics.median(ours):.2f}", f"{p99(ours):.2f}", least, more, held))
    columns = ("ms", "median", "p99", "floor", "more", f"≤ {TOUCH_TARGET_MS:g} more")
    show(f"{TIMES} touches, {TIMES} on an empty page, {TIMES} calls by MQTT, in turns", columns, rows)


def main() -> None:
    """Run, touch, change, and print."""
    parser(__doc__).parse_args()
    say_where()
    sys.setswitchinterval(SWITCH_S)
    with tempfile.TemporaryDirectory() as folder:
        got = asyncio.run(_measure(Path(folder), Path(folder) / "notes"))
    _show_whole(got)
    _show_parts(got)
    last = got.last_pages_ms
    row = (f"{statistics.median(last):.1f}", f"{max(last):.1f}", verdict(max(last) <= PAGES_TARGET_MS))
    title = f"{CHANGES} changes, {PAGES} pages open: a call to the last page that shows it"
    show(title, ("ms", "median", "most", f"≤ {PAGES_TARGET_MS:g}"), [("last of all pages", *row)])


if __name__ == "__main__":
    main()
