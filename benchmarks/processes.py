"""What a whole run takes: `python -m benchmarks.processes`.

`kerblight run` twice, each from cold processes on warm files: without a window, idle; and with its
window on an X server of its own (Xvfb), while all 12 karts race. Memory is the sum over the supervisor
and all it spawned, the broker too: proportional (PSS: what is shared counts once in all) and resident
(RSS: it counts in each). A first frame is one that the X server shows. Floors: a bare Python for each
process, and `import pygame`.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from benchmarks.measure import say_where, show, verdict
from benchmarks.racing import bring_in, bring_out, everyone_drives
from benchmarks.xserver import x_server
from signals.caller import Caller
from signals.cli.links import links
from signals.mqtt.topics import Topics
from signals.venue import load

TARGET_MB = 400
TARGET_S = 3.0
SETTLES_S = 5.0
WATCHED_S = 10.0
READY_WITHIN_S = 30.0
LOOK_AGAIN_S = 0.02


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
    assert run.stdout is not None
    said = []
    for line in run.stdout:
        said.append(line)
        if line.strip() == "sim ready":
            return
    raise SystemExit("the run ended before it was ready:\n" + "".join(said))


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


def _idle(venue: Path, data: Path) -> tuple[float, list[Taken]]:
    """Run without a window; give the seconds until all was ready, and what it took."""
    began_s = time.monotonic()
    with _running(venue, data, "--headless") as run:
        _until_ready(run)
        ready_s = time.monotonic() - began_s
        time.sleep(SETTLES_S)
        return ready_s, _all_taken(run.pid)


def _racing(venue: Path, data: Path, display: str) -> tuple[float, list[Taken], list[float]]:
    """Run with a window; give the seconds to the first frame, what all took, and shares of a core."""
    began_s = time.monotonic()
    with _running(venue, data, DISPLAY=display) as run:
        _until_a_frame(display)
        frame_s = time.monotonic() - began_s
        _until_ready(run)
        asyncio.run(_race(venue, data))
        before = _all_taken(run.pid)
        time.sleep(WATCHED_S)
        after = _all_taken(run.pid)
    shares = [(now.cpu_s - then.cpu_s) / WATCHED_S for then, now in zip(before, after, strict=True)]
    return frame_s, after, shares


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
    say_where()
    with tempfile.TemporaryDirectory() as folder, x_server() as display:
        venue = everyone_drives(Path(folder))
        ready_s, taken = _idle(venue, Path(folder) / "idle")
        _show_memory("kerblight run --headless, idle", taken)
        starts = [("without a window, all ready", ready_s)]
        if display is not None:
            frame_s, taken, shares = _racing(venue, Path(folder) / "racing", display)
            _show_memory("kerblight run, 12 karts racing", taken, shares)
            starts.append(("first frame", frame_s))
    floor_s = _seconds_of("import pygame")
    rows = [(what, f"{s:.2f}", f"{s / floor_s:.1f}", verdict(s < TARGET_S)) for what, s in starts]
    rows.append(("floor: import pygame", f"{floor_s:.2f}", "", ""))
    show("warm start", ("s", "took", "÷ floor", f"< {TARGET_S:g} s"), rows)


if __name__ == "__main__":
    main()
