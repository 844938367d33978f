"""Keys and lines from a terminal, or lines from a pipe, while lamps are kept lit beside.

At a terminal one key answers where one key is enough; a longer answer ends with Enter. From a pipe every
answer is a line. The end of either is None.
"""

from __future__ import annotations

import asyncio
import codecs
import os
import signal
import stat
import sys
import termios
import tty
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

ERASE = ("\x7f", "\b")
ENDS = "\x04"
"""Ctrl-D."""


class Keyboard:
    """What somebody types; made by `keyboard()`."""

    def __init__(self, *, terminal: bool) -> None:
        self._terminal = terminal
        self._typed: asyncio.Queue[str | None] = asyncio.Queue()
        self._utf8 = codecs.getincrementaldecoder("utf-8")("replace")
        self._over = False

    async def answer(self, singles: str = "") -> str | None:
        """Give the next answer; at a terminal a key among `singles`, typed first, is an answer by itself."""
        typed = ""
        while True:
            key = None if self._over else await self._typed.get()
            if key is None or (key == ENDS and not typed):
                self._over = True
                return typed.strip() or None
            if key == "\n":
                self._echo("\n")
                return typed.strip()
            if key in ERASE:
                self._echo("\b \b" if typed else "")
                typed = typed[:-1]
                continue
            typed += key
            self._echo(key)
            if self._terminal and len(typed) == 1 and key in singles:
                self._echo("\n")
                return key

    def close(self) -> None:
        """Let nobody wait any longer."""
        self._typed.put_nowait(None)

    def _echo(self, text: str) -> None:
        if self._terminal:
            sys.stderr.write(text)
            sys.stderr.flush()

    def take(self, data: bytes) -> None:
        """Take what came; nothing at all is the end."""
        for key in self._utf8.decode(data).replace("\r", "\n"):
            self._typed.put_nowait(key)
        if not data:
            self.close()


@asynccontextmanager
async def keyboard() -> AsyncIterator[Keyboard]:
    """Read stdin for as long as the context lasts; Ctrl-C ends it in good order."""
    fd = sys.stdin.fileno()
    keys = Keyboard(terminal=os.isatty(fd))
    loop = asyncio.get_running_loop()
    before = termios.tcgetattr(fd) if os.isatty(fd) else None
    watched = not stat.S_ISREG(os.fstat(fd).st_mode)
    loop.add_signal_handler(signal.SIGINT, keys.close)
    try:
        if before is not None:
            tty.setcbreak(fd)
        if watched:
            loop.add_reader(fd, lambda: keys.take(os.read(fd, 4096)))
        else:
            keys.take(sys.stdin.buffer.read())
            keys.close()
        yield keys
    finally:
        if watched:
            loop.remove_reader(fd)
        loop.remove_signal_handler(signal.SIGINT)
        if before is not None:
            termios.tcsetattr(fd, termios.TCSADRAIN, before)
