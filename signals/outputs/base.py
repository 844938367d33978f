"""The base of every output: keeps the whole image on a device, whatever happens to it.

A lamp has three states, never mixed. *Commanded* is what it was told here; *driven* is what the
device's output stage says, or was last sent where it cannot be asked; *proven* comes from a sensor
and is worked out from `sensed` by whoever knows the lamps. A relay's read-back is not light.

The public methods check and keep time; a backend fills four small hooks. Nothing here falls back
to another driver: a device that cannot be reached is lost, said to be lost, and tried again.
"""

from __future__ import annotations

import asyncio
import logging
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from signals.outputs.line import Image, Line, Point

log = logging.getLogger(__name__)

REFRESH_MS = (200, 500)
"""Least and most between two writes of the whole image."""
POLL_MS = 100
"""Between two looks at sensors, and at contacts that people press."""
RETRY_S = 0.1
"""Between two attempts to reach a device."""
SLACK_S = 0.001
"""A timer may fire early by the clock's resolution; what is due within so long is due."""
HOOK_S = 1.0
"""A backend that takes longer for anything has failed, whatever its own timeouts say."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a device says of itself; `driven` None where it cannot be asked."""

    driven: Mapping[str, int] | None = None
    sensed: Mapping[str, int] = field(default_factory=dict)


def _nothing() -> None:
    return None


def _heed_cancelling() -> None:
    """Raise a cancellation that was swallowed: Python 3.11's `wait_for` can, and libraries use it."""
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


class Output(ABC):
    """One device with its lamps and contacts.

    Args:
        line: the device and its points.
        refresh_ms: between two writes of the whole image, 200 to 500.
        lease_ms: an image holds so long; if nobody shows one again, the fail image is written.

    Attributes:
        commanded: the image told last, by ref.
        written: the image the device took last; empty while it is lost.
        driven: the image the device has, as far as it says; empty while it is lost.
        sensed: its inputs as read last; empty while it is lost.
        confirmed_s: loop time when the device last took the whole image and was read; None: never.
        done: the mark of the newest image that the device has taken; 0: none.
        lost: why the device is lost, "" while it is not.

    Raises:
        ValueError: a refresh out of bounds, or a device's watchdog shorter than two refreshes.

    """

    repeats = 1
    """How often a changed image is sent at once, before the refresh goes on."""
    repeat_s = 0.0

    def __init__(self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500) -> None:
        low, high = REFRESH_MS
        if not low <= refresh_ms <= high:
            raise ValueError(f"{line}: refresh_ms is {refresh_ms}; it must be {low} to {high}")
        if line.watchdog_ms and line.watchdog_ms < 2 * refresh_ms:
            right = f"at least {2 * refresh_ms}, two refreshes, or every late write trips it"
            raise ValueError(f"{line}: watchdog_ms is {line.watchdog_ms}; it must be {right}")
        self.line = line
        self.commanded: dict[str, int] = line.fail_image
        self.driven: dict[str, int] = {}
        self.sensed: dict[str, int] = {}
        self.confirmed_s: float | None = None
        self.done = 0
        self.lost = "not reached yet"
        self._refresh_s = refresh_ms / 1000
        self._lease_s = lease_ms / 1000
        self._mark = 0
        self._shown_s: float | None = None
        self.written: dict[str, int] = {}
        self._left = 0
        self._changed = asyncio.Event()
        self._news: Callable[[], None] = _nothing

    # --- what its owner does

    def show(self, image: Image, mark: int = 0) -> None:
        """Tell every lamp what to be; written at once where anything changed.

        `mark` numbers the image: `done` reaches it once the device has taken this one or a later one.

        Raises:
            ValueError: not exactly this device's lamps, or a level no lamp can have.

        """
        self._check(image)
        self._shown_s = asyncio.get_running_loop().time()
        self._mark = mark
        if self.written == image == self.commanded and not self.lost:
            self.done = mark
        self._tell(dict(image))

    async def run(self, news: Callable[[], None] = _nothing) -> None:
        """Keep the image on the device until cancelled, then leave the fail image on it.

        `news` is called when what it drives or senses has changed, and when it is lost or found.
        """
        self._news = news
        try:
            while True:
                await self._attempt()
                _heed_cancelling()
                await asyncio.sleep(RETRY_S)
        finally:
            await self._farewell()

    def fresh(self, now_s: float, within_s: float) -> bool:
        """Whether the device took the whole image within the last so many seconds."""
        return self.confirmed_s is not None and now_s - self.confirmed_s <= within_s

    # --- what a backend fills

    @abstractmethod
    async def _open(self) -> None:
        """Reach the device unless it is reached already; raises OSError where it cannot."""

    @abstractmethod
    async def _write(self, raw: Mapping[Point, int]) -> None:
        """Set every point, and return once the device has it; raises OSError where it does not."""

    async def _read(self) -> Reading:
        """Ask the device what it drives and senses, as lamps' levels by ref."""
        return Reading()

    @abstractmethod
    async def _close(self, *, final: bool) -> None:
        """Let go of the device; `final` for good, with its last image written. Must not raise."""

    # --- keeping it up

    def _check(self, image: Image) -> None:
        refs = {point.ref for point in self.line.outs}
        if image.keys() != refs:
            wrong = sorted(image.keys() ^ refs)
            raise ValueError(f"{self.line}: an image names every lamp and no other; differs in {wrong}")
        for point in self.line.outs:
            highest = 999 if point.number else 1
            if not 0 <= image[point.ref] <= highest:
                raise ValueError(f"{point.ref} is {image[point.ref]}; it must be 0 to {highest}")

    def _tell(self, image: dict[str, int]) -> None:
        if image != self.commanded:
            self.commanded = image
            self._left = self.repeats
            self._changed.set()

    async def _attempt(self) -> None:
        """Reach the device and serve it until it is lost; whatever ends it, nothing here dies of it."""
        try:
            async with asyncio.timeout(HOOK_S):
                await self._open()
            await self._serve()
        except Exception as reason:  # noqa: BLE001 - a backend's own mistake must not freeze its lamps
            self._lose(reason)
            await self._let_go(final=False)

    async def _serve(self) -> None:
        """Write the whole image, at once on a change and at every refresh; read in between."""
        self._left = self.repeats
        write_s = 0.0
        while True:
            _heed_cancelling()
            now_s = asyncio.get_running_loop().time()
            self._drop_stale(now_s)
            self._changed.clear()
            if self._left or now_s >= write_s - SLACK_S:
                write_s = now_s + self._refresh_s
                self._left = max(0, self._left - 1)
                await self._exchange(write=True)
            else:
                await self._exchange(write=False)
            await self._pause(write_s)

    async def _exchange(self, *, write: bool) -> None:
        mark, image = self._mark, self.commanded
        async with asyncio.timeout(HOOK_S):
            if write:
                await self._write({point: point.raw(image[point.ref]) for point in self.line.outs})
                self.written, self.done = image, mark
            reading = await self._read()
        before = (self.driven, self.sensed, self.lost)
        self.driven = dict(self.written if reading.driven is None else reading.driven)
        self.sensed = dict(reading.sensed)
        self.confirmed_s = asyncio.get_running_loop().time()
        self.lost = ""
        if before != (self.driven, self.sensed, self.lost):
            self._news()

    async def _pause(self, write_s: float) -> None:
        """Wait for a change, or until something is due."""
        now_s = asyncio.get_running_loop().time()
        next_s = now_s + self.repeat_s if self._left else write_s
        if self.line.ins:
            next_s = min(next_s, now_s + POLL_MS / 1000)
        if self._shown_s is not None:
            next_s = min(next_s, max(now_s, self._shown_s + self._lease_s))
        with suppress(TimeoutError):
            async with asyncio.timeout_at(next_s):
                await self._changed.wait()

    def _drop_stale(self, now_s: float) -> None:
        """Let an image that nobody renewed give way to the fail image."""
        if self._shown_s is not None and now_s >= self._shown_s + self._lease_s - SLACK_S:
            self._shown_s = None
            log.error(
                "%s: nobody showed an image for %g s; its fail image is written", self.line, self._lease_s
            )
            self._tell(self.line.fail_image)

    def _lose(self, reason: Exception) -> None:
        words = str(reason) or type(reason).__name__
        if words != self.lost:
            log.warning("%s is lost: %s", self.line, words)
        self.lost = words
        self.written, self.driven, self.sensed, self.done = {}, {}, {}, 0
        self._news()

    async def _farewell(self) -> None:
        """Leave the fail image on the device, if it can be reached, and let go of it."""
        self.commanded = self.line.fail_image
        try:
            async with asyncio.timeout(HOOK_S):
                await self._open()
                for _ in range(self.repeats):
                    await self._write({point: point.raw(point.fail_level) for point in self.line.outs})
        except Exception as reason:  # noqa: BLE001 - its own watchdog is what remains
            log.warning("%s: left without its fail image: %s", self.line, reason or type(reason).__name__)
        await self._let_go(final=True)

    async def _let_go(self, *, final: bool) -> None:
        try:
            async with asyncio.timeout(HOOK_S):
                await self._close(final=final)
        except Exception:
            log.exception("%s: could not be closed", self.line)
