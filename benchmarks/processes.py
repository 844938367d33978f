"""What a whole run takes: `python -m benchmarks.processes`.

`kerblight run` without a window, idle; and with its window on an X server of its own (Xvfb), while all
12 karts race. Each is started some times before, for the time a start takes. Memory is the sum over the
supervisor and all it spawned, the broker too: proportional (PSS: what is shared counts once in all) and
resident (RSS: it counts in each). A first frame is one that the X server shows. Floors: a bare Python
for each process, and the packages the window is built on, imported.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from benchmarks.measure import parser, say_where, show, verdict
from benchmarks.racing import bring_in, bring_out, everyone_drives
from benchmarks.xserver import x_server
from signals.caller import Caller
from signals.cli.links import links
from signals.mqtt.topics import Topics
from signals.venue import load

TARGET_MB = 400
TARGET_S = 3.0
STARTS = 3
SETTLES_S = 5.0
WATCHED_S = 10.0
PARTS = ("broker", "monitor", "sim", "controller", "nodes")
READY_WITHIN_S = 30.0
LOOK_AGAIN_S = 0.02


@dataclass(frozen=True, slots=True)
class Started:
    """What a start took: seconds on the wall, and of all processes' processor together."""

    took_s: float
    cpu_s: float


@dataclass(frozen=True, slots=True)
class Taken:
    """What one process has taken so far."""

    name: str
    pss_mb: float
    rss_mb: float
    cpu_s: float


def _family(pid: int) -> list[int]:
    """Give a process and all that come from it."""
    parents = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError):
                parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
    found = [pid]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return found


def _taken(pid: int) -> Taken:
    proc = Path(f"/proc/{pid}")
    rollup = dict(line.split(":", 1) for line in (proc / "smaps_rollup").read_text().splitlines()[1:])
    pss_mb, rss_mb = (int(rollup[key].split()[0]) / 1024 for key in ("Pss", "Rss"))
    fields = (proc / "stat").read_text().rpartition(")")[2].split()
    cpu_s = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    argv = (proc / "cmdline").read_bytes().split(b"\0")
    verb = argv[argv.index(b"signals.cli") + 1] if b"signals.cli" in argv else argv[0]
    return Taken(verb.decode().rpartition("/")[2], pss_mb, rss_mb, cpu_s)


def _all_taken(pid: int) -> list[Taken]:
    return [_taken(one) for one in _family(pid)]


@contextmanager
def _running(venue: Path, data: Path, *options: str, **environment: str) -> Iterator[subprocess.Popen[str]]:
    argv = [sys.executable, "-m", "signals.cli", "run", "--venue", str(venue), "--data", str(data), *options]
    with subprocess.Popen(
        argv, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env={**os.environ, **environment}
    ) as run:
        try:
            yield run
        finally:
            run.terminate()
            run.communicate()


def _until_ready(run: subprocess.Popen[str]) -> None:
    """Wait until every part has said so, in whatever order they are started."""
    assert run.stdout is not None
    said: list[str] = []
    for line in run.stdout:
        said.append(line.strip())
        if {f"{part} ready" for part in PARTS} <= set(said):
            return
    raise SystemExit("the run ended before it was ready:\n" + "\n".join(said))


def _until_a_frame(display: str) -> None:
    """Wait until the X server shows anything but black, by looking from outside."""
    argv = ["import", "-display", display, "-window", "root", "-resize", "16x10!", "-depth", "8", "gray:-"]
    deadline_s = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < deadline_s:
        if any(subprocess.run(argv, check=True, capture_output=True).stdout):
            return
        time.sleep(LOOK_AGAIN_S)
    raise SystemExit("no frame was shown")


async def _race(venue_file: Path, data: Path) -> None:
    venue = load(venue_file)
    topics = Topics.of(venue.id, simulated=venue.simulated)
    caller = Caller(topics, venue.posts[0].id, links("", data), device="bench")
    task = asyncio.create_task(caller.run())
    await caller.heard.wait()
    await bring_in(caller, venue)
    await bring_out(caller, venue)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


def _start(venue: Path, data: Path, display: str | None) -> Started:
    """Start once on a fresh record and end again; with a window where there is a display."""
    began_s = time.monotonic()
    with _opened(venue, data, display) as run:
        _until_a_frame(display) if display else _until_ready(run)
        took_s = time.monotonic() - began_s
        cpu_s = sum(one.cpu_s for one in _all_taken(run.pid))
        if display:
            _until_ready(run)
    return Started(took_s, cpu_s)


def _warm_start(venue: Path, folder: Path, display: str | None) -> Started:
    """Give the quickest of some starts: the first ones warm the files, the quickest met least in its way."""
    kind = "window" if display else "headless"
    starts = [_start(venue, folder / f"{kind}-{number}", display) for number in range(STARTS)]
    return min(starts, key=lambda start: start.took_s)


def _opened(venue: Path, data: Path, display: str | None) -> AbstractContextManager[subprocess.Popen[str]]:
    return _running(venue, data, DISPLAY=display) if display else _running(venue, data, "--headless")


def _idle(venue: Path, data: Path) -> list[Taken]:
    """Run without a window, and give what all took."""
    with _opened(venue, data, None) as run:
        _until_ready(run)
        time.sleep(SETTLES_S)
        return _all_taken(run.pid)


def _racing(venue: Path, data: Path, display: str) -> tuple[list[Taken], list[float]]:
    """Run with a window and everyone racing; give what all took, and shares of a core."""
    with _opened(venue, data, display) as run:
        _until_ready(run)
        asyncio.run(_race(venue, data))
        before = _all_taken(run.pid)
        time.sleep(WATCHED_S)
        after = _all_taken(run.pid)
    return after, [(now.cpu_s - then.cpu_s) / WATCHED_S for then, now in zip(before, after, strict=True)]


def _seconds_of(code: str) -> float:
    """Give the best of three runs of a bare Python."""
    took = []
    for _ in range(3):
        began_s = time.monotonic()
        subprocess.run([sys.executable, "-c", code], check=True)
        took.append(time.monotonic() - began_s)
    return min(took)


def _bare_mb(count: int) -> tuple[float, float]:
    """Give PSS and RSS of as many Pythons that do nothing."""
    argv = [sys.executable, "-c", "input()"]
    bare = [subprocess.Popen(argv, stdin=subprocess.PIPE) for _ in range(count)]
    time.sleep(1)
    taken = [_taken(one.pid) for one in bare]
    for one in bare:
        one.communicate(b"\n")
    return sum(one.pss_mb for one in taken), sum(one.rss_mb for one in taken)


def _show_memory(title: str, taken: list[Taken], shares: list[float] | None = None) -> None:
    pss_mb, rss_mb = sum(one.pss_mb for one in taken), sum(one.rss_mb for one in taken)
    bare_pss_mb, bare_rss_mb = _bare_mb(len(taken))
    said = [f"{share:.0%}" for share in shares] if shares else [""] * len(taken)
    rows = [
        (one.name, f"{one.pss_mb:.0f}", f"{one.rss_mb:.0f}", share, "")
        for one, share in zip(taken, said, strict=True)
    ]
    rows.append(
        (
            "together",
            f"{pss_mb:.0f}",
            f"{rss_mb:.0f}",
            f"{sum(shares):.0%}" if shares else "",
            verdict(rss_mb < TARGET_MB),
        )
    )
    rows.append((f"floor: {len(taken)} bare Pythons", f"{bare_pss_mb:.0f}", f"{bare_rss_mb:.0f}", "", ""))
    rows.append(("÷ floor", f"{pss_mb / bare_pss_mb:.1f}", f"{rss_mb / bare_rss_mb:.1f}", "", ""))
    show(title, ("MB", "PSS", "RSS", "of a core", f"RSS < {TARGET_MB}"), rows)


def main() -> None:
    """Run the product twice and print what it took."""
    parser(__doc__).parse_args()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a warm start has its byte code kept
    say_where()
    with tempfile.TemporaryDirectory() as kept, x_server() as display:
        folder = Path(kept)
        venue = everyone_drives(folder)
        starts = [("without a window, all ready", _warm_start(venue, folder, None))]
        _show_memory("kerblight run --headless, idle", _idle(venue, folder / "idle"))
        if display is not None:
            starts.append(("first frame", _warm_start(venue, folder, display)))
            _show_memory("kerblight run, 12 karts racing", *_racing(venue, folder / "racing", display))
    floor_s = _seconds_of("import pygame, numpy, scipy, shapely")
    rows = [
        (
            what,
            f"{start.took_s:.2f}",
            f"{start.cpu_s:.2f}",
            f"{start.took_s / floor_s:.1f}",
            verdict(start.took_s < TARGET_S),
        )
        for what, start in starts
    ]
    rows.append(("floor: import the packages", f"{floor_s:.2f}", "", "", ""))
    columns = ("warm start, s", "took", "processor", "÷ floor", f"< {TARGET_S:g} s")
    show(f"the quickest of {STARTS} starts", columns, rows)


if __name__ == "__main__":
    main()
