"""The node under test as a process, where the kit has its power: started, killed, told to leave."""

from __future__ import annotations

import asyncio
import shlex
import signal
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from signals.conform.declared import Declared
from signals.conform.verdict import Inconclusive, NotDeclared
from signals.errors import Unusable

END_S = 5.0
COMMAND_S = 30.0
LOG_TAIL = 5


@dataclass(frozen=True, slots=True)
class Line:
    """What the bench said, and when (loop time, s)."""

    at_s: float
    text: str


@dataclass(slots=True)
class Subject:
    """A node by its declaration. `changed` is called on every line of the witness."""

    declared: Declared
    places: Mapping[str, str]
    log: Path
    changed: Callable[[], None]
    lines: list[Line] = field(default_factory=list)
    _process: asyncio.subprocess.Process | None = None
    _reading: asyncio.Task[None] | None = None

    @property
    def has_power(self) -> bool:
        """Whether the kit can take its power away and give it back."""
        return bool(self.declared.start or self.declared.restart)

    @property
    def can_leave(self) -> bool:
        """Whether the kit can tell it to leave in good order, and start it again."""
        return bool(self.declared.start)

    @property
    def ended(self) -> str:
        """Say how a node that was started here has ended by itself; "" while it runs."""
        if self._process is None or self._process.returncode is None:
            return ""
        return f"it ended by itself with exit code {self._process.returncode}: {self.tail()}"

    async def start(self) -> None:
        """Start it, if that is the kit's to do. Raises Unusable where the command cannot be run."""
        if not self.declared.start:
            return
        with self.log.open("ab") as log:
            self._process = await self._spawn(self.declared.start, asyncio.subprocess.PIPE, log)
        self._reading = asyncio.ensure_future(self._read(self._process))

    async def power_cycle(self) -> None:
        """Take its power away without a warning, and give it back."""
        if self.declared.restart:
            await self.command(self.declared.restart)
        elif self.declared.start:
            await self.start_anew()
        else:
            raise NotDeclared("the kit has no power over it: give --start-with or --restart-with")

    async def start_anew(self) -> None:
        """Kill what was started here, if it still runs, and start it again."""
        await self._end(signal.SIGKILL)
        await self.start()

    async def leave(self) -> None:
        """Tell it to leave in good order, and wait until it has."""
        if self.declared.stop:
            await self.command(self.declared.stop)
        await self._end(signal.SIGTERM)

    async def kill(self) -> None:
        """End what was started here."""
        await self._end(signal.SIGKILL)

    async def command(self, command: str) -> None:
        """Run one command of the declaration to its end. Raises Inconclusive if it fails."""
        process = await self._spawn(command, asyncio.subprocess.DEVNULL, asyncio.subprocess.DEVNULL)
        try:
            code = await asyncio.wait_for(process.wait(), COMMAND_S)
        except TimeoutError:
            process.kill()
            await process.wait()
            raise Inconclusive(f"the command does not end: {command}") from None
        if code:
            raise Inconclusive(f"the command ended with exit code {code}: {command}")

    def waited_s(self) -> float:
        """Give how long a node started here has waited, ready to run, for this machine's processor.

        0 where the system does not tell: only Linux does.
        """
        if self._process is None:
            return 0.0
        waited_ns = 0
        with suppress(OSError, ValueError, IndexError):
            for thread in Path(f"/proc/{self._process.pid}/task").iterdir():
                waited_ns += int((thread / "schedstat").read_text(encoding="ascii").split()[1])
        return waited_ns / 1e9

    def tail(self) -> str:
        """Give the last lines of what it said on stderr, or where it said nothing there, on stdout."""
        said = self.log.read_text(encoding="utf-8", errors="replace") if self.log.exists() else ""
        lines = said.splitlines() or [line.text for line in self.lines]
        return "\n".join(lines[-LOG_TAIL:])

    async def _spawn(self, command: str, stdout: int, stderr: int | IO[bytes]) -> asyncio.subprocess.Process:
        words = [word.format(**self.places) for word in shlex.split(command)]
        try:
            return await asyncio.create_subprocess_exec(
                *words,
                stdin=asyncio.subprocess.PIPE,
                stdout=stdout,
                stderr=stderr,
            )
        except (OSError, IndexError) as wrong:
            raise Unusable(f"{words[0] if words else command!r} cannot be started: {wrong}") from None

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        if process.stdout is None:
            return
        async for line in process.stdout:
            text = line.decode("utf-8", "replace").strip()
            self.lines.append(Line(asyncio.get_running_loop().time(), text))
            self.changed()
        await process.wait()
        self.changed()

    async def _end(self, by: signal.Signals) -> None:
        process, reading = self._process, self._reading
        if process is None or reading is None:
            return
        self._process = self._reading = None
        with suppress(ProcessLookupError):
            process.send_signal(by)
        try:
            await asyncio.wait_for(process.wait(), END_S)
        except TimeoutError:
            process.kill()
            await process.wait()
        if process.stdin:
            process.stdin.close()
        await reading
