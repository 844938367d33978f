"""Play sequence files in virtual time, on everything that really runs but the broker.

What was proved of the rules is watched in the record of every run.
"""

from __future__ import annotations

import asyncio
from functools import cache
from pathlib import Path

import async_solipsism

from signals.core.machine import Core
from signals.core.state import Layout
from signals.proof.watch import JournalWatch
from signals.sequence.load import load, venue_id
from signals.sequence.player import Player
from signals.sequence.result import Result
from signals.sequence.stage import Stage
from signals.venue import load as load_venue
from signals.venue.model import Venue

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = sorted((CONFIGS / "sequences").glob("*.toml"))
_CORES: list[Core] = []


def core_for(layout: Layout) -> Core:
    known = next((core for core in _CORES if core.layout == layout), None)
    if known is None:
        known = Core(layout)
        _CORES.append(known)
    return known


@cache
def venue(name: str = "harbour-loop") -> Venue:
    return load_venue(CONFIGS / f"{name}.toml")


def play(path: Path, *, with_processes: bool = True) -> Result:
    return play_in_turn(path, with_processes=with_processes)[-1]


def play_in_turn(*paths: Path, with_processes: bool = True) -> list[Result]:
    """Play one after another on the same venue, as it was left by the one before."""

    async def whole() -> list[Result]:
        here = venue(venue_id(paths[0]))
        sequences = [load(path, here) for path in paths]
        async with Stage(here, seed=sequences[0].file.start.seed) as stage:
            kept = stage if with_processes else None
            results = [await Player(each, here, stage.link, processes=kept).run() for each in sequences]
            assert stage.journal is not None
            watch = JournalWatch()
            assert [breach for entry in stage.journal.entries() for breach in watch.take(entry)] == []
            return results

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(whole())
