"""A few processes that share one function's work: forked, so nothing need be packed to reach them."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Sequence
from multiprocessing.pool import Pool
from types import TracebackType
from typing import Any, Self

_WORK: list[Callable[[Any], Any]] = []
"""The function of the crew that is being forked."""


class Crew:
    """Maps a function over parts with several processes, or with none where that is not worth it.

    Args:
        work: what to do with a part; results must be picklable.
        workers: how many processes; 1 works in this one, as does a system that cannot fork.

    """

    def __init__(self, work: Callable[[Any], Any], workers: int) -> None:
        self._work = work
        self._workers = workers if "fork" in multiprocessing.get_all_start_methods() else 1
        self._pool: Pool | None = None

    def __enter__(self) -> Self:
        """Begin; processes start with the first work that is worth them."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.terminate()
            self._pool.join()

    def share(self, parts: Sequence[Any]) -> Iterable[Any]:
        """Give the result of every part, in order."""
        if len(parts) < 2 * self._workers or self._workers == 1:
            return map(self._work, parts)
        if self._pool is None:
            _WORK[:] = [self._work]
            self._pool = multiprocessing.get_context("fork").Pool(self._workers)
        return self._pool.imap(_do, parts)


def _do(part: Any) -> Any:
    return _WORK[0](part)
