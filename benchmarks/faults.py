"""A thousand things go wrong: `python -m benchmarks.faults [--n 1000] [--seed 1]`.

Sessions of ten faults each, in virtual time, on all processors; what may never be is counted, by the kind of
fault (`benchmarks/faulting.py` says what is looked at and how). The same seed gives the same table.
"""

from __future__ import annotations

import asyncio
import logging
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

import async_solipsism
from rich.progress import Progress

from benchmarks.faulting import AFTERWARDS, BAD, FAULTS, Outcome, bench
from benchmarks.measure import parser, show
from signals.cli.options import DEFAULT_VENUE
from signals.venue import load

A_SESSION = 10


def session(venue: Path, seed: int, faults: int, only: tuple[str, ...] = ()) -> dict[str, Outcome]:
    """Run one session in virtual time."""
    logging.disable()  # what goes wrong is meant to
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(bench(load(venue), seed=seed, faults=faults, only=only))


def sessions(venue: Path, seed: int, faults: int, only: tuple[str, ...] = ()) -> dict[str, Outcome]:
    """Run as many sessions as the faults need, and give what came of all."""
    sizes = [A_SESSION] * (faults // A_SESSION) + ([faults % A_SESSION] if faults % A_SESSION else [])
    table = {name: Outcome() for name in (*FAULTS, AFTERWARDS)}
    with ProcessPoolExecutor(os.cpu_count()) as pool, Progress(transient=True) as progress:
        task = progress.add_task("faults", total=faults)
        runs = {
            pool.submit(session, venue, seed * 100_000 + number, size, only): size
            for number, size in enumerate(sizes)
        }
        for run in as_completed(runs):
            for name, outcome in run.result().items():
                table[name].add(outcome)
            progress.advance(task, runs[run])
    return table


def rows(table: dict[str, Outcome]) -> list[Sequence[str]]:
    """Give the table, with a sum."""
    total = Outcome()
    for outcome in table.values():
        total.add(outcome)
    return [
        (name, str(each.faults), str(each.while_green), *(str(each.bad[bad]) for bad in BAD))
        for name, each in [*table.items(), ("all", total)]
        if each.faults or name in (AFTERWARDS, "all")
    ]


def main() -> None:
    """Run and print; exit code 1 where anything is in a bad column."""
    asked = parser(__doc__)
    asked.add_argument("--n", type=int, default=1000, help="faults")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--venue", type=Path, default=DEFAULT_VENUE)
    asked.add_argument(
        "--only", action="append", default=[], choices=list(FAULTS), help="this kind; may come again"
    )
    options = asked.parse_args()
    table = sessions(options.venue, options.seed, options.n, tuple(options.only))
    show(f"{options.n} faults, seed {options.seed}", ("fault", "n", "on green", *BAD), rows(table))
    raise SystemExit(any(outcome.bad.total() for outcome in table.values()))


if __name__ == "__main__":
    main()
