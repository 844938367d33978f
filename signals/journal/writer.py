"""`JournalWriter`: record from an event loop without holding up a beat.

In real time the disk is written in one thread, in order; in virtual time in line, so that a test's
clock stands still meanwhile. While the journal fails, what has happened is kept in memory and
tried again; the fault itself is recorded first once the journal works again.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from signals.journal.chain import Draft, Entry
from signals.journal.store import Journal, JournalFailed

RETRY_S = 1.0
KEPT_MAX = 20_000
"""Entries held while the journal fails; more are counted and dropped, newest first, and that is recorded."""

_Future = asyncio.Future[tuple[Entry, ...]]


@dataclass(frozen=True, slots=True)
class _Outcome:
    entries: tuple[Entry, ...]
    failure: JournalFailed | None
    works: bool


class _Store:
    """The journal with what it still owes; used by one thread only."""

    def __init__(self, journal: Journal, fault: Callable[[JournalFailed], Draft]) -> None:
        self._journal = journal
        self._fault = fault
        self._owed: deque[Draft] = deque()
        self._dropped = 0

    def write(self, drafts: Sequence[Draft], *, keep: bool) -> _Outcome:
        owed = [*self._owed, *self._confession()]
        try:
            entries = self._journal.append_many([*owed, *drafts])
        except JournalFailed as failure:
            self._keep(failure, drafts if keep else ())
            return _Outcome((), failure, works=False)
        self._owed.clear()
        self._dropped = 0
        return _Outcome(entries[len(owed) :], None, works=True)

    def _keep(self, failure: JournalFailed, drafts: Sequence[Draft]) -> None:
        if not self._owed:
            self._owed.append(self._fault(failure))
        room = max(0, KEPT_MAX - len(self._owed))
        self._owed.extend(drafts[:room])
        self._dropped += len(drafts[room:])

    def _confession(self) -> list[Draft]:
        if not self._dropped:
            return []
        return [self._fault(JournalFailed(f"{self._dropped} entries were lost while the journal failed"))]

    def close(self) -> None:
        self._journal.close()


class JournalWriter:
    """Writes for one event loop; made and used on it.

    `threaded` False writes in line (virtual time). `fault` makes the entry that records a failure
    (called in the writing thread); `on_change` is told on the loop when the journal fails (False)
    and when it works again (True). Every `RETRY_S` of failing it is tried again.
    """

    def __init__(
        self,
        journal: Journal,
        *,
        threaded: bool,
        fault: Callable[[JournalFailed], Draft],
        on_change: Callable[[bool], None],
    ) -> None:
        self.works = True
        self._store = _Store(journal, fault)
        self._thread = ThreadPoolExecutor(1, "journal") if threaded else None
        self._on_change = on_change
        self._loop = asyncio.get_running_loop()
        self._retry: asyncio.TimerHandle | None = None
        self._under_way: set[_Future] = set()

    def submit(self, drafts: Sequence[Draft], *, keep: bool = True) -> _Future:
        """Record, in the order of submission; the future ends with the entries or raises JournalFailed.

        `keep` for what has happened anyway (a stop, a fault): it is written later if not now.
        Without it for what happens only if it is recorded: it is forgotten if it cannot be written.
        The future may be ignored: `on_change` is told either way.
        """
        future: _Future = self._loop.create_future()
        future.add_done_callback(_heard)
        if self._thread is None:
            self._settle(future, self._store.write(drafts, keep=keep))
        else:
            self._under_way.add(future)
            job = self._loop.run_in_executor(self._thread, lambda: self._store.write(drafts, keep=keep))
            job.add_done_callback(lambda done: self._written(future, done))
        return future

    async def close(self) -> None:
        """Finish what is under way, try once more to write what is owed, and let go of the file."""
        if not self.works:
            self.submit(())
        while self._under_way:
            await asyncio.wait(self._under_way)
        if self._retry is not None:
            self._retry.cancel()
        if self._thread is not None:
            self._thread.shutdown()
        self._store.close()

    def _written(self, future: _Future, job: asyncio.Future[_Outcome]) -> None:
        self._under_way.discard(future)
        error = job.exception()
        if error is None:
            self._settle(future, job.result())
        elif not future.done():
            future.set_exception(error)  # a mistake of the caller's, such as a body that is no JSON

    def _settle(self, future: _Future, outcome: _Outcome) -> None:
        if future.done():
            pass
        elif outcome.failure is not None:
            future.set_exception(outcome.failure)
        else:
            future.set_result(outcome.entries)
        self._announce(works=outcome.works)

    def _announce(self, *, works: bool) -> None:
        if not works and self._retry is None:
            self._retry = self._loop.call_later(RETRY_S, self._try_again)
        if works != self.works:
            self.works = works
            self._on_change(works)

    def _try_again(self) -> None:
        self._retry = None
        if not self.works:
            self.submit(())


def _heard(future: _Future) -> None:
    """Look at a failure nobody may ask for, so that the loop does not complain of it."""
    if not future.cancelled():
        future.exception()
