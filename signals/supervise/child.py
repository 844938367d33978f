"""One process under watch: spawned, ready, ended. Never forked: its stdin is its leash."""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import dataclass, field
from pathlib import Path

from signals.errors import Unusable


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How to spawn a process. It says `ready NAME` on stdout and ends when its stdin closes."""

    name: str
    argv: tuple[str, ...]
    log: Path
    """Where its stderr goes; appended."""
    waits: bool = True
    """Whether it is spawned only once all before it are ready; else along with the one before it."""
    ready_s: float = 10.0
    stop_s: float = 5.0
    """How long it may take to end once its stdin closed; then it is killed."""
    ends_run: bool = False
    """Whether its own end with exit code 0 (a closed window) ends the run."""


@dataclass(slots=True)
class Child:
    """One life of a recipe's process."""

    recipe: Recipe
    process: asyncio.subprocess.Process
    _reader: asyncio.Task[None]
    _ready: asyncio.Event = field(default_factory=asyncio.Event)

    @classmethod
    async def spawn(cls, recipe: Recipe) -> Child:
        """Start the process and wait for its ready line.

        Raises:
            Unusable: it cannot be started, or is not ready in time; with the end of its log.

        """
        try:
            with recipe.log.open("ab") as log:
                process = await asyncio.create_subprocess_exec(
                    *recipe.argv,
                    stdin=asyncio.subprocess.PIPE,
                    stdout=asyncio.subprocess.PIPE,
                    stderr=log,
                    start_new_session=True,  # a terminal's Ctrl-C is the supervisor's to answer
                )
        except OSError as error:
            raise Unusable(f"{recipe.name} cannot be started: {error}") from error
        ready = asyncio.Event()
        reader = asyncio.create_task(_read(process, f"ready {recipe.name}".encode(), ready))
        child = cls(recipe, process, reader, ready)
        try:
            await child._until_ready()
        except BaseException:
            await child.kill()
            raise
        return child

    async def _until_ready(self) -> None:
        ready = asyncio.create_task(self._ready.wait())
        ended = asyncio.create_task(self.process.wait())
        try:
            await asyncio.wait(
                (ready, ended), timeout=self.recipe.ready_s, return_when=asyncio.FIRST_COMPLETED
            )
        finally:
            ready.cancel()
            ended.cancel()
        if self._ready.is_set():
            return
        code = self.process.returncode
        what = "was not ready" if code is None else f"ended with exit code {code} before it was ready"
        within = f" within {self.recipe.ready_s:g} s" if code is None else ""
        raise Unusable(f"{self.recipe.name} {what}{within}.\n{tail(self.recipe.log)}".rstrip())

    async def ended(self) -> int:
        """Wait for its end; gives the exit code."""
        return await self.process.wait()

    def say(self, line: str) -> None:
        """Write a line to its stdin; nothing happens where it is gone."""
        if self.process.stdin is not None and not self.process.stdin.is_closing():
            self.process.stdin.write(f"{line}\n".encode())

    async def stop(self) -> None:
        """Close its stdin, wait for its end, and kill it where it does not end."""
        if self.process.stdin is not None:
            self.process.stdin.close()
        try:
            await asyncio.wait_for(self.process.wait(), self.recipe.stop_s)
        except TimeoutError:
            await self.kill()
        await self._reader

    async def kill(self) -> None:
        """End it at once, as a power cut would."""
        with contextlib.suppress(ProcessLookupError):
            self.process.kill()
        await self.process.wait()
        if self.process.stdin is not None:
            self.process.stdin.close()
        await self._reader


async def _read(process: asyncio.subprocess.Process, due: bytes, ready: asyncio.Event) -> None:
    """Read stdout to its end, so that the process never blocks on it."""
    if process.stdout is None:  # pragma: no cover - it is always a pipe
        return
    async for line in process.stdout:
        if line.strip() == due:
            ready.set()


def tail(log: Path, lines: int = 8) -> str:
    """Give the last lines of a log, indented; empty where there is none."""
    try:
        written = log.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    return "\n".join(f"  {line}" for line in written[-lines:])
