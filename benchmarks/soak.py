"""What hours do to it: `python -m benchmarks.soak [--hours 24] [--minutes 60] [--busy]`.

First a whole venue in virtual time, with sessions, calls and incidents by the fault bench's marshal, but no
faults: memory of the process each hour, the record's growth, and at the end the kinds of object that became
more after the first hour. Then a real run on its own mosquitto: how regularly the beat comes at a bare
subscriber, and each process's memory at the start and the end; `--busy` keeps every processor occupied
meanwhile. The floor of the beat is a bare loop that wakes every 100 ms beside it, in the same minutes: what
the machine lets anybody have.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import multiprocessing
import os
import statistics
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

import async_solipsism

from benchmarks.bare import Bare
from benchmarks.faulting import POST, Disturbed, Marshal, Witness
from benchmarks.measure import MB, parser, resident_mb, say_where, show, verdict
from benchmarks.whole import wanted
from signals.caller import Caller
from signals.cli.data import credentials_of, prepare, read_credentials
from signals.cli.options import DEFAULT_VENUE, Address
from signals.cli.recipes import recipes
from signals.mqtt.topics import Topics
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.venue.model import Venue

PERIOD_MS = 100.0
WITHIN_MS = 20.0
"""How far p99.9 of the interval may be from the period."""
MORE = 8
"""Kinds of object named at most."""


# -- in virtual time -------------------------------------------------------------------------------------


async def hours(venue: Venue, count: int) -> None:
    """Let hours pass with a marshal at work; print memory and record after each."""
    dice = Random(1)  # noqa: S311 - no secrets
    async with Disturbed(venue, dice, seed=1) as stage:
        caller = Caller(Topics.of(venue.id, simulated=venue.simulated), POST, stage.link, device="soak")
        witness = Witness(stage)
        works = [
            asyncio.create_task(each) for each in (caller.run(), Marshal(caller, witness, venue, dice).work())
        ]
        print(
            f"{count} hours of venue time\n{'':>10} {'MB resident':>12} {'record MB':>10} {'processor s':>12}"
        )
        first = Counter[str]()
        for hour in range(count + 1):
            record_mb = stage.journal_path.stat().st_size / MB
            spent_s = time.process_time()
            print(f"{hour:>8} h {resident_mb():>12.1f} {record_mb:>10.1f} {spent_s:>12.0f}", flush=True)
            if hour <= 1:
                first = _objects()
            if hour < count:
                await asyncio.sleep(3600)
        more = ", ".join(f"{kind} {many}" for kind, many in (_objects() - first).most_common(MORE))
        print(f"more objects than after the first hour: {more or 'none'}")
        for work in works:
            work.cancel()
        await asyncio.wait(works)


def _objects() -> Counter[str]:
    """Count the objects that Python's collector knows, by kind."""
    gc.collect()
    return Counter(type(each).__qualname__ for each in gc.get_objects())


# -- in real time ----------------------------------------------------------------------------------------


def _spin() -> None:
    while True:
        pass


@contextmanager
def _occupied(*, wanted: bool) -> Iterator[None]:
    spinning = [multiprocessing.Process(target=_spin, daemon=True) for _ in range(os.cpu_count() or 1)]
    for each in spinning if wanted else ():
        each.start()
    try:
        yield
    finally:
        for each in spinning if wanted else ():
            each.terminate()


class Metronome(threading.Thread):
    """The floor: wakes every 100 ms and does nothing."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.intervals_ms: list[float] = []
        self.over = threading.Event()

    def run(self) -> None:
        """Wake on a fixed schedule until told."""
        due_s = last_s = time.perf_counter()
        while not self.over.is_set():
            due_s += PERIOD_MS / 1000
            time.sleep(max(0.0, due_s - time.perf_counter()))
            now_s = time.perf_counter()
            self.intervals_ms.append((now_s - last_s) * 1000)
            last_s = now_s


def _beats(venue: Venue, where: Address, data: Path, seconds: float) -> list[float]:
    """Give the intervals between beats as they arrive."""
    known = credentials_of(read_credentials(data), f"post-{POST}")
    topic = Topics.of(venue.id, simulated=venue.simulated).name("beat")
    bare = Bare(where.host, where.port, f"post-{POST}.soak", [(topic, 0)], known)
    intervals, last_s, ends_s = [], 0.0, time.perf_counter() + seconds
    while time.perf_counter() < ends_s:
        for _ in bare.receive():
            now_s = time.perf_counter()
            if last_s:
                intervals.append((now_s - last_s) * 1000)
            last_s = now_s
    bare.close()
    return intervals


async def minutes(
    venue_file: Path, count: float, *, busy: bool
) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Run for so long; give the rows of the beat and of the processes' memory."""
    venue = load(venue_file)
    with tempfile.TemporaryDirectory() as folder:
        asked = wanted(venue_file, prepare(Path(folder)))
        async with Supervisor(recipes(asked)):
            before = _memory()
            metronome = Metronome()
            with _occupied(wanted=busy):
                metronome.start()
                beats = await asyncio.to_thread(_beats, venue, asked.broker, asked.data, count * 60)
                metronome.over.set()
            after = _memory()
    rows = [_intervals("beat", beats), _intervals("floor: a bare loop", metronome.intervals_ms)]
    return rows, [(name, f"{before[name]:.1f}", f"{after.get(name, 0):.1f}") for name in before]


def _memory() -> dict[str, float]:
    """Give the memory of our children, by what they run."""
    found = {}
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = path.read_text(encoding="utf-8").split("\0")
            parent = int((path.parent / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()[1])
        except (OSError, IndexError, ValueError):
            continue
        if parent == os.getpid() and "signals.cli" in words:
            found[words[words.index("signals.cli") + 1]] = resident_mb(path.parent.name)
    return found


def _intervals(name: str, took: list[float]) -> tuple[str, ...]:
    cut = statistics.quantiles(took, n=1000)
    kept = verdict(cut[998] - PERIOD_MS <= WITHIN_MS)
    return (
        name,
        str(len(took)),
        *(f"{ms:.2f}" for ms in (cut[0], statistics.median(took), cut[998], max(took))),
        kept,
    )


def main() -> None:
    """Soak and print."""
    asked = parser(__doc__)
    asked.add_argument("--hours", type=int, default=24, help="of virtual time; 0 leaves it out")
    asked.add_argument("--minutes", type=float, default=60, help="of real time; 0 leaves it out")
    asked.add_argument("--busy", action="store_true", help="occupy every processor in the real part")
    asked.add_argument("--venue", type=Path, default=DEFAULT_VENUE)
    options = asked.parse_args()
    say_where()
    logging.disable()
    if options.minutes:
        beat, memory = asyncio.run(minutes(options.venue.resolve(), options.minutes, busy=options.busy))
        heads = ("ms between", "n", "p0.1", "median", "p99.9", "max", f"p99.9 ≤ {PERIOD_MS + WITHIN_MS:g}")
        show(
            f"{options.minutes:g} real minutes{', every processor occupied' if options.busy else ''}",
            heads,
            beat,
        )
        show("Memory", ("MB resident", "before", "after"), memory)
    if options.hours:
        with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
            runner.run(hours(load(options.venue), options.hours))


if __name__ == "__main__":
    main()
