"""Timing and printing shared by the benchmarks; nothing of the product."""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")  # before anything brings pygame in

MB = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Sample:
    """What many runs of one thing took, in µs."""

    median_us: float
    mean_us: float
    p99_us: float


def parser(about: str | None) -> argparse.ArgumentParser:
    """Make a benchmark's command line: `about` is what its module says of itself, shown by `--help`."""
    spec = sys.modules["__main__"].__spec__
    return argparse.ArgumentParser(
        prog=f"python -m {spec.name}" if spec else None,
        description=about,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def measure(
    work: Callable[[], object], *, times: int, before: Callable[[], object] = lambda: None, rounds: int = 7
) -> Sample:
    """Time `work` by itself, `before` it unmeasured; the best of some rounds.

    Processor time of this process: what else the machine does hardly counts.
    """
    return min((_round(work, times, before) for _ in range(rounds)), key=lambda sample: sample.mean_us)


def _round(work: Callable[[], object], times: int, before: Callable[[], object]) -> Sample:
    clock, took = time.process_time_ns, []
    for _ in range(times):
        before()
        began = clock()
        work()
        took.append(clock() - began)
    return Sample(statistics.median(took) / 1000, statistics.mean(took) / 1000, p99(took) / 1000)


def p99(took: Sequence[float]) -> float:
    """Give the 99th percentile."""
    return statistics.quantiles(took, n=100)[98]


def show(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table; the first column names, the others are numbers."""
    table = Table(title=title, title_justify="left", title_style="bold")
    for number, column in enumerate(columns):
        table.add_column(column, justify="right" if number else "left", no_wrap=True)
    for row in rows:
        table.add_row(*row)
    Console(width=110).print(table)


def resident_mb(pid: int | str = "self") -> float:
    """Give the memory a process has in use."""
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / MB


def say_where() -> None:
    """Say what was measured on, and how busy it was: numbers of a busy machine are upper bounds."""
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, Python {platform.python_version()}, load {load:.1f} before\n")


def verdict(held: bool) -> str:  # noqa: FBT001 - it reads as what it prints
    """Say whether a target was kept."""
    return "yes" if held else "NO"
