"""A reader takes what comes in, or says its one documented error: thousands here, a million at night."""

from __future__ import annotations

import gc
import os
import random
import resource
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.mutate import mutated
from tests.fuzz.targets import TARGETS, Target

NIGHTS = int(os.environ.get("FUZZ_INPUTS", "1000000"))
GATES = 200
"""Inputs for each reader in `make gate`; files, which take longer to read, a quarter of it."""
SLOW = 0.005
GROWTH_MIB = 64
"""What a reader's process may grow by after its first tenth: what it keeps must have a bound."""
SEED = 20_300_601

NAMES = [target.name for target in TARGETS]


def test_every_input_of_a_night_belongs_to_some_reader() -> None:
    assert sum(target.share for target in TARGETS) == pytest.approx(1.0)
    assert len(set(NAMES)) == len(NAMES)


@pytest.mark.parametrize("target", TARGETS, ids=NAMES)
def test_what_is_well_formed_is_read(target: Target, tmp_path: Path) -> None:
    for data in target.corpus:
        target.run(data, tmp_path)


@pytest.mark.gate
@pytest.mark.parametrize("target", TARGETS, ids=NAMES)
def test_no_input_ends_in_anything_but_the_documented_error(target: Target, tmp_path: Path) -> None:
    @settings(
        max_examples=GATES if target.share > SLOW else GATES // 4,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(rng=st.randoms(use_true_random=False))
    def holds(rng: random.Random) -> None:
        target.run(mutated(rng, target.corpus), tmp_path)

    holds()


@pytest.mark.night
@pytest.mark.parametrize("target", TARGETS, ids=NAMES)
def test_a_nights_inputs_crash_nothing_and_fill_no_memory(target: Target, tmp_path: Path) -> None:
    """Hypothesis takes a millisecond to draw what this takes a tenth of: each input has a seed of its own."""
    count = max(1, round(NIGHTS * target.share))
    warm = 0
    for number in range(count):
        data = mutated(random.Random(SEED + number), target.corpus)  # noqa: S311 - to be repeated
        try:
            target.run(data, tmp_path)
        except Exception as mistake:  # noqa: BLE001 - whatever it is, it is told with its input
            pytest.fail(f"{target.name}, seed {SEED + number}: {mistake!r} of {data[:500]!r}")
        if number == count // 10:
            gc.collect()
            warm = most_mib()
    grown = most_mib() - warm
    print(f"{target.name}: {count} inputs, {grown:.0f} MiB grown after the first tenth")
    assert grown < GROWTH_MIB


def most_mib() -> float:
    """Give the most memory this process ever had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
