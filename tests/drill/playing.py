"""Play shipped drills by model answers and typical mistakes, in worker processes where there are many."""

from __future__ import annotations

import gc
import logging
import os
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from multiprocessing import get_context
from pathlib import Path

from signals.venue import load as load_venue
from signals.venue.model import Venue
from sim.drill.cast import cast
from sim.drill.load import Drill, load
from sim.drill.model import Marshal
from sim.drill.model.manner import manner_of
from sim.drill.play import play
from sim.drill.score import Score
from sim.drill.scoring import score
from sim.drill.seat import Answerer, Nobody
from sim.drill.tape import Tape

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = sorted((CONFIGS / "drills").glob("*.toml"))
MODEL, NOBODY = -1, -2


@cache
def venue(name: str = "harbour-loop") -> Venue:
    return load_venue(CONFIGS / f"{name}.toml")


@cache
def drill(name: str) -> Drill:
    return load(CONFIGS / "drills" / f"{name}.toml", venue())


@dataclass(frozen=True, slots=True)
class Job:
    """Who plays: the model, nobody, or the mistake of that number."""

    drill: str
    seed: int
    who: int = MODEL
    seat: str = ""


def answerer(job: Job) -> Answerer:
    if job.who == NOBODY:
        return Nobody()
    return (
        Marshal() if job.who == MODEL else Marshal(manner_of(drill(job.drill).file.mistake[job.who], venue()))
    )


def taped(job: Job, who: Answerer | None = None, *, compiled: bool = False) -> tuple[Tape, Score]:
    seat = job.seat or drill(job.drill).file.seats[0]
    drawn = cast(drill(job.drill), venue(), job.seed, [seat])
    tape = play(drawn, venue(), {seat: who or answerer(job)}, compiled=compiled, who=["tester"])
    return tape, score(tape, drawn, venue(), seat)


def played(job: Job, *, compiled: bool = False) -> Score:
    logging.disable(logging.WARNING)
    return taped(job, compiled=compiled)[1]


def played_all(jobs: Iterable[Job]) -> Iterator[tuple[Job, Score]]:
    """Play many, compiled, on every core; what all of them need is made before they part."""
    jobs = list(jobs)
    yield jobs[0], played(jobs[0], compiled=True)
    with ProcessPoolExecutor(os.cpu_count(), get_context("fork"), _collect_seldom) as workers:
        yield from zip(
            jobs[1:], workers.map(partial(played, compiled=True), jobs[1:], chunksize=4), strict=True
        )


def _collect_seldom() -> None:
    """Let a worker look for garbage seldom, and never among what all of them have: a fifth of its time."""
    gc.freeze()
    gc.set_threshold(50_000, 50, 50)


def lost(score: Score) -> list[str]:
    return [f"{line.name}: {line.said}" for line in score.lost()]
