"""An X server without a screen, for as long as a benchmark needs it."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager

SIZE = "1280x800x24"


@contextmanager
def x_server() -> Iterator[str | None]:
    """Run Xvfb on a free display and give its name; None, and a word about it, where there is no Xvfb."""
    if shutil.which("Xvfb") is None:
        print("no Xvfb on the PATH: what needs an X server is left out")
        yield None
        return
    reads, writes = os.pipe()
    argv = ["Xvfb", "-displayfd", str(writes), "-screen", "0", SIZE, "-nolisten", "tcp"]
    with subprocess.Popen(argv, pass_fds=(writes,), stderr=subprocess.DEVNULL) as server:
        try:
            yield f":{os.read(reads, 16).decode().strip()}"
        finally:
            server.terminate()
            os.close(reads)
            os.close(writes)
