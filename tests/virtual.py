"""Virtual time: what waits costs nothing, and what a busy machine does not matter."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any, TypeVar

import async_solipsism

T = TypeVar("T")


def in_virtual_time(whole: Callable[[], Awaitable[T]]) -> T:
    """Run a story to its end; gives what it gives."""

    async def run() -> T:
        return await whole()

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(run())


def virtual(test: Callable[..., Coroutine[Any, Any, None]]) -> Callable[..., None]:
    """Run an async test in virtual time."""

    @functools.wraps(test)
    def run(*args: Any, **kwargs: Any) -> None:
        in_virtual_time(lambda: test(*args, **kwargs))

    return run
