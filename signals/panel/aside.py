"""Work beside the page's own loop: on a loop in a thread, so that nothing it computes holds a page up."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable

Work = Callable[[], Awaitable[None]]


class Aside:
    """Runs work one after another has begun; `threaded` False runs it on the caller's loop, for tests."""

    def __init__(self, *, threaded: bool) -> None:
        self._threaded = threaded
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread: threading.Thread | None = None

    def start(self, work: Work) -> asyncio.Future[None]:
        """Begin some work; gives what is done when it is."""
        if not self._threaded:
            return asyncio.ensure_future(_run(work))
        return asyncio.wrap_future(asyncio.run_coroutine_threadsafe(_run(work), self._beside()))

    def close(self) -> None:
        """End the thread; nothing may be under way."""
        if self._loop is not None and self._thread is not None:
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join()
            self._loop.close()
        self._loop = self._thread = None

    def _beside(self) -> asyncio.AbstractEventLoop:
        """Give the thread's loop, starting both where there are none."""
        if self._loop is None:
            self._loop = asyncio.new_event_loop()
            self._thread = threading.Thread(target=self._loop.run_forever, name="walk", daemon=True)
            self._thread.start()
        return self._loop


async def _run(work: Work) -> None:
    await work()
