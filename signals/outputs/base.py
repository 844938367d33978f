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
NOT_YET = "not reached yet"
"""Why a device is lost that nobody has tried to reach."""
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
        asked: the image it had taken when it said so: a newer one was not read back yet.
        sensed: its inputs as read last; empty while it is lost.
        confirmed_s: loop time when the device last took the whole image and was read; None: never.
        done: the mark of the newest image that the device has taken; 0: none.
        lost: why the device is lost, "" while it is not.

    Raises:
        ValueError: a refresh out of bounds, or a device's watchdog shorter than two refreshes.

    """

    repeats = 1
    """How often a changed image is sent, before the refresh goes on."""
    repeat_s = 0.0
    waits = True
    """Whether `_write` ever waits; where it does not, a change is written within the very call of `show`."""

    def __init__(self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500) -> None:
        low, high = REFRESH_MS
        if not low <= refresh_ms <= high:
            raise ValueError(f"{line}: refresh_ms is {refresh_ms}; it must be {low} to {high}")
        if line.watchdog_ms and line.watchdog_ms < 2 * refresh_ms:
            right = f"at least {2 * refresh_ms}, two refreshes, or every late write trips it"
            raise ValueError(f"{line}: watchdog_ms is {line.watchdog_ms}; it must be {right}")
        self.line = line
        self._highest = {point.ref: 999 if point.number else 1 for point in line.outs}
        self._told_by = tuple((point, point.ref, point.invert and not point.number) for point in line.outs)
        self.commanded: dict[str, int] = line.fail_image
        self.driven: dict[str, int] = {}
        self.sensed: dict[str, int] = {}
        self.confirmed_s: float | None = None
        self.done = 0
        self.lost = NOT_YET
        self._refresh_s = refresh_ms / 1000
        self._lease_s = lease_ms / 1000
        self._mark = 0
        self._shown_s: float | None = None
        self.written: dict[str, int] = {}
        self.asked: dict[str, int] = {}
        self._left = 0
        self._due_s = 0.0
        self._resting = False
        self._changed = asyncio.Event()
        self._news: Callable[[], None] = _nothing

    # --- what its owner does

    def show(self, image: Image, mark: int = 0) -> None:
        """Tell every lamp what to be; written at once where anything changed.

        `mark` numbers the image: `done` reaches it once the device has taken this one or a later one.

        Raises:
            ValueError: not exactly this device's lamps, or a level no lamp can have.

        """
        changes = image != self.commanded
        if changes:
            self._check(image)
        self._shown_s = asyncio.get_running_loop().time()
        self._mark = mark
        if changes:
            self._tell(dict(image))
        elif self.written == image and not self.lost:
            self.done = mark

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

    @property
    def hurried(self) -> bool:
        """Whether a change waits to be written, and was not read around for long."""
        return self._changed.is_set() and self.fresh(asyncio.get_running_loop().time(), self._refresh_s)

    async def peek(self) -> Reading:
        """Read the device once and write nothing; not while it runs. Raises OSError where it cannot."""
        try:
            async with asyncio.timeout(HOOK_S):
                await self._open()
                return await self._read() or Reading()
        finally:
            await self._let_go(final=False)

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

    async def _read(self) -> Reading | None:
        """Ask the device what it drives and senses, as lamps' levels by ref.

        One that takes several requests gives None in between once it is `hurried`: it is asked again.
        """
        return Reading()

    @abstractmethod
    async def _close(self, *, final: bool) -> None:
        """Let go of the device; `final` for good, with its last image written. Must not raise."""

    # --- keeping it up

    def _check(self, image: Image) -> None:
        if image.keys() != self._highest.keys():
            wrong = sorted(image.keys() ^ self._highest.keys())
            raise ValueError(f"{self.line}: an image names every lamp and no other; differs in {wrong}")
        for ref, highest in self._highest.items():
            if not 0 <= image[ref] <= highest:
                raise ValueError(f"{ref} is {image[ref]}; it must be 0 to {highest}")

    def _tell(self, image: dict[str, int]) -> None:
        self.commanded = image
        self._left, self._due_s = self.repeats, 0.0
        if self._resting and not self.waits:
            self._write_now()
        self._changed.set()

    def _write_now(self) -> None:
        """Write without waiting; where that fails the run finds out, and says so."""
        writing = self._write(self._raw())
        try:
            writing.send(None)
        except StopIteration:
            self._written(self.commanded, self._mark)
        except Exception:  # noqa: BLE001 - met again at once by `_attempt`, which bears it
            return
        else:
            writing.close()

    def _raw(self) -> dict[Point, int]:
        """Give what every point is to be set to."""
        image = self.commanded
        return {point: image[ref] ^ inverted for point, ref, inverted in self._told_by}

    def _written(self, image: dict[str, int], mark: int) -> None:
        """Note that the device has taken an image, and when the next one is due."""
        self.written, self.done = image, mark
        if image is self.commanded:
            self._left = max(0, self._left - 1)
            self._due_s = asyncio.get_running_loop().time() + (
                self.repeat_s if self._left else self._refresh_s
            )

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
        self._left, self._due_s = self.repeats, 0.0
        while True:
            _heed_cancelling()
            now_s = asyncio.get_running_loop().time()
            self._drop_stale(now_s)
            self._changed.clear()
            await self._exchange(write=now_s >= self._due_s - SLACK_S)
            await self._pause()

    async def _exchange(self, *, write: bool) -> None:
        mark, image = self._mark, self.commanded
        async with asyncio.timeout(HOOK_S):
            if write:
                await self._write(self._raw())
                self._written(image, mark)
            reading = None if self.hurried else await self._read()
        if reading is None:
            return
        before = (self.driven, self.sensed, self.lost)
        self.driven = dict(self.written if reading.driven is None else reading.driven)
        self.asked = self.written
        self.sensed = dict(reading.sensed)
        self.confirmed_s = asyncio.get_running_loop().time()
        self.lost = ""
        if before != (self.driven, self.sensed, self.lost):
            self._news()

    async def _pause(self) -> None:
        """Wait for a change, or until something is due."""
        now_s = asyncio.get_running_loop().time()
        next_s = self._due_s
        if self.line.ins:
            next_s = min(next_s, now_s + POLL_MS / 1000)
        if self._shown_s is not None:
            next_s = min(next_s, max(now_s, self._shown_s + self._lease_s))
        self._resting = True
        try:
            with suppress(TimeoutError):
                async with asyncio.timeout_at(next_s):
                    await self._changed.wait()
        finally:
            self._resting = False

    def _drop_stale(self, now_s: float) -> None:
        """Let an image that nobody renewed give way to the fail image."""
        if self._shown_s is not None and now_s >= self._shown_s + self._lease_s - SLACK_S:
            self._shown_s = None
            self._mark = self.done = 0
            log.error(
                "%s: nobody showed an image for %g s; its fail image is written", self.line, self._lease_s
            )
            self._tell(self.line.fail_image)

    def _lose(self, reason: Exception) -> None:
        words = str(reason) or type(reason).__name__
        if words != self.lost:
            log.warning("%s is lost: %s", self.line, words)
        self.lost = words
        self.written, self.asked, self.driven, self.sensed, self.done = {}, {}, {}, {}, 0
        self._news()

    async def _farewell(self) -> None:
        """Leave the fail image on the device, trying as long as that may take, and let go of it."""
        self.commanded = self.line.fail_image
        left = f"nothing within {HOOK_S:g} s"
        with suppress(TimeoutError):
            async with asyncio.timeout(HOOK_S):
                while left := await self._last_write():
                    await self._let_go(final=False)
                    await asyncio.sleep(RETRY_S)
        if left:
            log.warning("%s: left without its fail image, to its own watchdog: %s", self.line, left)
        await self._let_go(final=True)

    async def _last_write(self) -> str:
        """Write for the last time; gives why that failed, "" if it did not."""
        try:
            await self._open()
            for _ in range(self.repeats):
                await self._write(self._raw())
        except Exception as reason:  # noqa: BLE001 - tried again, or left to the device's watchdog
            return str(reason) or type(reason).__name__
        return ""

    async def _let_go(self, *, final: bool) -> None:
        try:
            async with asyncio.timeout(HOOK_S):
                await self._close(final=final)
        except Exception:
            log.exception("%s: could not be closed", self.line)
