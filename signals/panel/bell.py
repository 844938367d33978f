"""A bell many can wait for. Rings are counted, so that none is missed between two waits."""

from __future__ import annotations

import asyncio


class Bell:
    """Wakes whoever waits.

    Attributes:
        rung: how often it rang.

    """

    def __init__(self) -> None:
        self.rung = 0
        self._next: asyncio.Future[None] | None = None

    def ring(self) -> None:
        """Wake everyone."""
        self.rung += 1
        waited, self._next = self._next, None
        if waited is not None and not waited.done():
            waited.set_result(None)

    async def wait(self, heard: int, within_s: float | None = None) -> int:
        """Wait until it has rung since `heard`, at most `within_s`; gives how often it has rung then."""
        if heard == self.rung:
            if self._next is None:
                self._next = asyncio.get_running_loop().create_future()
            await asyncio.wait((self._next,), timeout=within_s)
        return self.rung
