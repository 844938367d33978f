"""Play sessions, plain or compiled, on as many threads as there are cores; the same seed gives the same.

A session depends on its seed and its tables alone, and each thread has a stage of its own: how many threads
there are, and which plays what, changes nothing.
"""

from __future__ import annotations

import hashlib
import math
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import numpy as np

from sim.blobs import Blob
from sim.compiled import compiled, records, table
from sim.drivers import Drawn
from sim.scene import Kart
from sim.study.prepared import Prepared, Tables, cast
from sim.study.session import Stage, play
from sim.study.tally import Tally

MEASURES = tuple(Tally.__struct_fields__)
BATCH = 8
"""Sessions a thread takes at a time."""


class Outcome(NamedTuple):
    """What came of one session.

    Attributes:
        seed: it was played with.
        steps: after how many it was over.
        measures: by `MEASURES`.
        digest: SHA-256 of karts, facts and measures at the end.

    """

    seed: int
    steps: int
    measures: tuple[float, ...]
    digest: str


def plain(prepared: Prepared, seed: int) -> Outcome:
    """Play a session as the functions stand."""
    stage = prepared.stage(seed)
    steps = play(*prepared.tables, stage, seed, prepared.wet)
    measures = tuple(float(getattr(stage.tally[0], name)) for name in MEASURES)
    return Outcome(seed, steps, measures, digest(records(Kart, stage.karts), stage.facts, measures))


def digest(karts: Any, facts: Sequence[int], measures: Sequence[float]) -> str:
    """Give a digest of where a session ended: equal digests, equal sessions."""
    sha = hashlib.sha256(karts.tobytes())
    sha.update(np.asarray(facts, np.int64).tobytes())
    sha.update(np.asarray(measures, np.float64).tobytes())
    return sha.hexdigest()


class Room:
    """A stage of records that sessions are played on, one after another."""

    def __init__(self, prepared: Prepared) -> None:
        self.prepared = prepared
        self.stage: Stage = table(prepared.stage(0))
        self.blob = Blob(self.stage)
        self._first = {id(array): array.copy() for array in _arrays(self.stage)}
        karts: Any = self.stage.karts
        self._drivers = karts["driver"]
        self._cast: Callable[[int, int, float], Drawn] = compiled(cast)

    def set_up(self, seed: int) -> None:
        """Put everything back to the beginning, with the drivers of a seed."""
        for array in _arrays(self.stage):
            np.copyto(array, self._first[id(array)])
        self._drivers[:] = self.prepared.drivers(seed, self._cast)

    def outcome(self, seed: int, steps: int) -> Outcome:
        """Read what came of the session that was played."""
        tally: Any = self.stage.tally[0]
        measures = tuple(float(tally[name]) for name in MEASURES)
        return Outcome(seed, steps, measures, digest(self.stage.karts, self.stage.facts, measures))


def _arrays(value: Any) -> Iterator[Any]:
    for each in value:
        if isinstance(each, np.ndarray):
            yield each
        elif isinstance(each, tuple):
            yield from _arrays(each)


class Player:
    """Plays a prepared plan's sessions, compiled.

    Args:
        prepared: what is played.
        threads: how many at a time.

    """

    def __init__(self, prepared: Prepared, threads: int = 1) -> None:
        self._prepared = prepared
        self._tables = [Blob(table(each), fixed=True) for each in _checked(prepared.tables)]
        self._play: Callable[..., int] = compiled(play)
        self._threads = threads
        self._rooms = threading.local()

    def play(self, seed: int) -> Outcome:
        """Play one session on this thread's stage."""
        room = self._room()
        room.set_up(seed)
        steps = self._play(*self._tables, room.blob, seed, self._prepared.wet)
        return room.outcome(seed, steps)

    def play_all(self, seeds: Sequence[int]) -> Iterator[Outcome]:
        """Play many; gives them in the order of their seeds, as they are ready."""
        if self._threads == 1:
            yield from map(self.play, seeds)
            return
        if seeds:
            yield self.play(seeds[0])  # compiled by one thread, before the others want it
        batches = [seeds[at : at + BATCH] for at in range(1, len(seeds), BATCH)]
        with ThreadPoolExecutor(self._threads) as pool:
            for played in pool.map(lambda batch: [self.play(seed) for seed in batch], batches):
                yield from played

    def _room(self) -> Room:
        room: Room | None = getattr(self._rooms, "mine", None)
        if room is None:
            room = self._rooms.mine = Room(self._prepared)
        return room


def _checked(tables: Tables) -> Tables:
    """Give tables whose whole numbers that stand for measures are floats: compiled forms tell them apart."""
    plan = tables.plan._replace(
        begins_s=float(tables.plan.begins_s),
        lasts_s=float(tables.plan.lasts_s),
        delay_s=float(tables.plan.delay_s),
        checks_s=float(tables.plan.checks_s),
        finish_s=float(tables.plan.finish_s),
    )
    return tables._replace(plan=plan)


def measured(values: Sequence[float]) -> list[float]:
    """Give the values that were reached; those that were not are no number."""
    return [value for value in values if not math.isnan(value)]
