"""A display of its own, what stands on it, and a person's keys: Xvfb, ImageMagick, xdotool."""

from __future__ import annotations

import ctypes
import os
import re
import shutil
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
import pytest

from signals.look import BODY_PX, SMALL_PX, TITLE_PX

SIZE = (1280, 800)
TOOLS = ("Xvfb", "import", "xdotool", "xwininfo")
LOOKED_S = 15.0
PROBES = 40
"""Pixels by which places are ruled out before a whole line is compared."""

with_display = pytest.mark.skipif(
    not all(map(shutil.which, TOOLS)), reason=f"{', '.join(TOOLS)}: not all are installed"
)


class Display:
    """An X display without a window manager; keys go to the window below the pointer."""

    def __init__(self) -> None:
        reads, writes = os.pipe()
        argv = ["Xvfb", "-displayfd", str(writes), "-screen", "0", f"{SIZE[0]}x{SIZE[1]}x24"]
        self._process = subprocess.Popen(
            [*argv, "-nolisten", "tcp"], pass_fds=(writes,), stderr=subprocess.DEVNULL
        )
        os.close(writes)
        with os.fdopen(reads) as told:
            self.name = f":{told.readline().strip()}"
        self._environment = {**os.environ, "DISPLAY": self.name}

    def _run(self, *argv: str) -> bytes:
        came = subprocess.run(argv, env=self._environment, check=True, stdout=subprocess.PIPE, timeout=20)
        return came.stdout

    def press(self, *keys: str) -> None:
        """Press keys, as X names them."""
        self._run("xdotool", "key", *keys)

    def picture(self) -> Any:
        """Give what stands on the screen: rows of pixels, each red, green and blue in one number."""
        raw = self._run("import", "-window", "root", "-depth", "8", "rgb:-")
        return _numbers(np.frombuffer(raw, np.uint8).reshape(SIZE[1], SIZE[0], 3))

    def save(self, to: Path) -> None:
        """Keep a picture of the screen."""
        to.parent.mkdir(parents=True, exist_ok=True)
        self._run("import", "-window", "root", str(to))

    def shows(self, text: str, within_s: float = LOOKED_S) -> bool:
        """Look until a bold line stands on a panel, pixel for pixel; False after `within_s`."""
        due = [written(text, size) for size in (TITLE_PX, BODY_PX, SMALL_PX)]
        deadline = time.monotonic() + within_s
        while not any(stands_in(each, picture) for picture in (self.picture(),) for each in due):
            if time.monotonic() > deadline:
                return False
        return True

    def ask_to_close(self, title: str) -> None:
        """Do what a window manager does for its close button: WM_DELETE_WINDOW (ICCCM 4.2.8.1)."""
        tree = self._run("xwininfo", "-root", "-tree").decode()
        found = re.search(rf'(0x[0-9a-f]+) "{re.escape(title)}', tree)
        assert found, tree
        _send_delete(self.name, int(found[1], 16))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.terminate()
        self._process.wait(10)


def written(text: str, size: int) -> Any:
    """Give a line as the window writes it on a panel."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    import pygame  # noqa: PLC0415 - says hello unless told not to

    from sim.view.paint import Brush  # noqa: PLC0415 - needs pygame

    brush = Brush()
    line = brush.text(text, size, "text", bold=True)
    surface = pygame.Surface(line.get_size())
    surface.fill(brush.colour("surface"))
    surface.blit(line, (0, 0))
    return _numbers(pygame.surfarray.array3d(surface).swapaxes(0, 1))


def _numbers(pixels: Any) -> Any:
    return pixels.astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], np.uint32)


def stands_in(due: Any, picture: Any) -> bool:
    """Whether a smaller picture stands somewhere in a larger one, pixel for pixel."""
    high, wide = picture.shape[0] - due.shape[0] + 1, picture.shape[1] - due.shape[1] + 1
    inked = np.argwhere(due != due[0, 0])
    fits = np.ones((high, wide), bool)
    for row, column in inked[:: max(1, len(inked) // PROBES)]:
        fits &= picture[row : row + high, column : column + wide] == due[row, column]
    rows, columns = due.shape
    return any((picture[y : y + rows, x : x + columns] == due).all() for y, x in np.argwhere(fits))


class _Delete(ctypes.Structure):
    """XClientMessageEvent, padded to the size of an XEvent."""

    _fields_ = (
        ("type", ctypes.c_int),
        ("serial", ctypes.c_ulong),
        ("send_event", ctypes.c_int),
        ("display", ctypes.c_void_p),
        ("window", ctypes.c_ulong),
        ("message_type", ctypes.c_ulong),
        ("format", ctypes.c_int),
        ("data", ctypes.c_long * 5),
        ("padding", ctypes.c_long * 24),
    )


CLIENT_MESSAGE = 33


def _send_delete(display: str, window: int) -> None:
    x11 = ctypes.CDLL("libX11.so.6")
    x11.XOpenDisplay.restype = ctypes.c_void_p
    x11.XInternAtom.restype = ctypes.c_ulong
    x11.XInternAtom.argtypes = (ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int)
    x11.XSendEvent.argtypes = (
        ctypes.c_void_p,
        ctypes.c_ulong,
        ctypes.c_int,
        ctypes.c_long,
        ctypes.c_void_p,
    )
    x11.XCloseDisplay.argtypes = (ctypes.c_void_p,)
    link = x11.XOpenDisplay(display.encode())
    assert link, f"no display {display}"
    protocols, delete = (x11.XInternAtom(link, name, 0) for name in (b"WM_PROTOCOLS", b"WM_DELETE_WINDOW"))
    event = _Delete(type=CLIENT_MESSAGE, window=window, message_type=protocols, format=32)
    event.data[0] = delete
    assert x11.XSendEvent(link, window, 0, 0, ctypes.byref(event))
    x11.XCloseDisplay(link)  # sends what waits
