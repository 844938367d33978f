"""The supervisor: spawns in order, watches, spawns again, ends in reverse order. No MQTT, no rules.

    async with Supervisor(recipes, tell=print) as supervisor:
        await supervisor.over.wait()

`kill` and `start` are what sequences do to processes on purpose; what was killed on purpose stays
down until it is started.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from types import TracebackType
from typing import Self

from signals.errors import Unusable
from signals.supervise.child import Child, Recipe

AGAIN_AFTER_S = 1.0
AGAIN_TIMES = 3
STAYS = "stays: "
"""Begins a line that a window shows until it is closed; others it shows for a while."""


class Supervisor:
    """Keep the processes of one run.

    Args:
        recipes: in the order of spawning.
        tell: called with a sentence about whatever happened to a process.
        again_after_s: how long a process that ended unasked stays down.

    Attributes:
        over: set when the run cannot or need not go on; `why` then says why.
        failed: whether it ended because a process could not be kept.

    """

    def __init__(
        self,
        recipes: Sequence[Recipe],
        *,
        tell: Callable[[str], None] = lambda _: None,
        again_after_s: float = AGAIN_AFTER_S,
    ) -> None:
        self._recipes = {recipe.name: recipe for recipe in recipes}
        self._tell = tell
        self._again_after_s = again_after_s
        self._children: dict[str, Child] = {}
        self._watches: dict[str, asyncio.Task[None]] = {}
        self._lives = dict.fromkeys(self._recipes, 0)
        self.over = asyncio.Event()
        self.why = ""
        self.failed = False

    async def __aenter__(self) -> Self:
        """Spawn all, those that wait once all before them are ready; none stays when one fails."""
        try:
            for names in self._groups():
                await self._start_together(names)
        except BaseException:
            await self._stop_all()
            raise
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End all in reverse order."""
        await self._stop_all()

    def alive(self, name: str) -> bool:
        """Whether a process is there."""
        return name in self._children

    def pid(self, name: str) -> int:
        """Give the id of a process that is there."""
        return self._children[name].process.pid

    def names(self) -> tuple[str, ...]:
        """Give the processes' names in the order of spawning."""
        return tuple(self._recipes)

    def banner(self, line: str, *, stays: bool = False) -> None:
        """Show a line in the window, if there is one: it reads its stdin."""
        for child in self._children.values():
            if child.recipe.ends_run:
                child.say(f"{STAYS if stays else ''}{line}")

    async def start(self, name: str) -> None:
        """Spawn a process that is not there and wait until it is ready; raises Unusable."""
        if name in self._children:
            return
        child = await Child.spawn(self._recipes[name])
        self._children[name] = child
        self._watches[name] = asyncio.create_task(self._watch(child))
        self._tell(f"{name} ready")

    def _groups(self) -> list[list[str]]:
        groups: list[list[str]] = []
        for name, recipe in self._recipes.items():
            if recipe.waits or not groups:
                groups.append([])
            groups[-1].append(name)
        return groups

    async def _start_together(self, names: list[str]) -> None:
        """Start several at once; the first that fails ends the others' start, and is raised."""
        starts = [asyncio.create_task(self.start(name)) for name in names]
        try:
            await asyncio.gather(*starts)
        finally:
            for start in starts:
                start.cancel()
            await asyncio.gather(*starts, return_exceptions=True)

    async def kill(self, name: str) -> None:
        """Kill a process on purpose, as a power cut would; it stays down until `start`."""
        await self._unwatch(name)
        child = self._children.pop(name, None)
        if child is not None:
            await child.kill()
            self._tell(f"{name} killed on purpose")

    async def _watch(self, child: Child) -> None:
        name = child.recipe.name
        code = await child.ended()
        self._children.pop(name, None)
        if child.recipe.ends_run and code == 0:
            self._end(f"{name} was closed", failed=False)
            return
        await self._again(name, f"{name} ended with exit code {code}")

    async def _again(self, name: str, what: str) -> None:
        while self._lives[name] < AGAIN_TIMES:
            self._lives[name] += 1
            self._note(f"{what}; starting it again ({self._lives[name]} of {AGAIN_TIMES})")
            await asyncio.sleep(self._again_after_s)
            try:
                await self.start(name)
            except Unusable as wrong:
                what = str(wrong)
            else:
                self.banner(f"{name} is back")
                return
        self._end(f"{what}; it was started again {AGAIN_TIMES} times", failed=True)

    def _note(self, line: str) -> None:
        self._tell(line)
        self.banner(line)

    def _end(self, why: str, *, failed: bool) -> None:
        self.why, self.failed = why, failed
        self._tell(why)
        self.over.set()

    async def _unwatch(self, name: str) -> None:
        watch = self._watches.pop(name, None)
        if watch is not None and watch is not asyncio.current_task():
            watch.cancel()
            await asyncio.gather(watch, return_exceptions=True)

    async def _stop_all(self) -> None:
        for name in reversed(self._recipes):
            await self._unwatch(name)
            child = self._children.pop(name, None)
            if child is not None:
                await child.stop()
                self._tell(f"{name} ended")
