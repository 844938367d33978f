"""Sessions are alike plain and compiled, on one thread and on two, and read no table where nothing stands."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import pytest

from sim.study.run import MEASURES, Player, plain
from sim.study.session import play
from sim.study.variants import with_ramp
from tests.sim.study.made import prepared

if TYPE_CHECKING:
    from signals.venue.model import Venue


class Checked(list[Any]):
    """A table that is never read below 0, as a list would allow."""

    def __getitem__(self, at: Any) -> Any:
        assert at >= 0
        return super().__getitem__(at)

    def __setitem__(self, at: Any, value: Any) -> None:
        assert at >= 0
        super().__setitem__(at, value)


def checked(value: Any) -> Any:
    if hasattr(value, "_fields"):
        return type(value)(*map(checked, value))
    return Checked(value) if isinstance(value, list) else value


def test_no_table_is_read_where_nothing_stands(venue: Venue) -> None:
    """Compiled, nobody checks an index; plain, everybody's are, on the same functions."""
    play_checked(venue, longest_s=60.0, begins_s=20.0, finish_s=40.0)


@pytest.mark.gate
@pytest.mark.parametrize("name", ["venue", "quarry"])
def test_nor_is_it_in_long_sessions(request: pytest.FixtureRequest, name: str) -> None:
    play_checked(request.getfixturevalue(name), longest_s=180.0, begins_s=40.0, finish_s=120.0)


def play_checked(venue: Venue, **choices: Any) -> None:
    ready = prepared(venue, hertz=20, losses_per_hour=600.0, **choices)
    stage = checked(ready.stage(1))
    play(*map(checked, ready.tables), stage, 1, ready.wet)
    assert stage.case[0].begun_s >= choices["begins_s"]


def test_the_same_seed_gives_the_same_and_another_another(venue: Venue) -> None:
    ready = prepared(venue, hertz=20, longest_s=60.0)
    one, two, other = (plain(ready, seed) for seed in (3, 3, 4))
    assert one == two
    assert one.digest != other.digest


def test_what_is_called_is_shown_and_slows(venue: Venue) -> None:
    outcome = dict(
        zip(
            MEASURES,
            plain(prepared(venue, hertz=20, finish_s=150.0, longest_s=150.0), 1).measures,
            strict=True,
        )
    )
    assert 0.5 < outcome["called_s"] < 8.0
    assert outcome["called_s"] < outcome["shown_s"] < outcome["called_s"] + 0.3
    assert outcome["false_s"] == pytest.approx(outcome["shown_s"], abs=0.11)
    assert outcome["over_s"] > outcome["shown_s"]


def test_red_lets_everybody_stand(venue: Venue) -> None:
    outcome = dict(zip(MEASURES, plain(prepared(venue, hertz=20, stops=True), 1).measures, strict=True))
    top_mps = max(venue.limits.classes.values()) / 3.6
    assert 0.0 < outcome["stood_s"] - outcome["shown_s"] < top_mps / venue.ramp.fall + 1.0


def test_only_a_steep_limiter_asks_for_more_than_tyres_hold_in_a_bend(venue: Venue) -> None:
    found = {}
    for fall in (2.0, 9.0):
        steep = with_ramp(venue, fall)
        measures = plain(prepared(steep, hertz=20, stops=True), 1).measures
        found[fall] = dict(zip(MEASURES, measures, strict=True))["strained_s"]
    assert found[9.0] > 0.0
    assert found[2.0] == 0.0


@pytest.mark.gate
@pytest.mark.parametrize("hertz", [20, 60])
@pytest.mark.parametrize(
    ("name", "choices"),
    [
        ("venue", {}),
        ("venue", {"stops": True, "losses_per_hour": 600.0}),
        ("venue", {"wet": True}),
        ("quarry", {"longest_s": 150.0, "finish_s": 60.0}),
    ],
)
def test_plain_and_compiled_are_alike_to_the_last_bit(
    request: pytest.FixtureRequest, name: str, choices: dict[str, Any], hertz: int
) -> None:
    ready = prepared(request.getfixturevalue(name), hertz=hertz, **choices)
    player = Player(ready)
    for seed in (1, 2):
        assert player.play(seed).digest == plain(ready, seed).digest


@pytest.mark.gate
def test_one_thread_and_two_give_the_same(venue: Venue) -> None:
    ready, seeds = prepared(venue, hertz=20, losses_per_hour=100.0), range(1, 41)
    alone = [outcome.digest for outcome in Player(ready).play_all(seeds)]
    together = [outcome.digest for outcome in Player(ready, threads=2).play_all(seeds)]
    assert alone == together
    assert len(set(alone)) == len(alone)


KEPT = """
import pickle, sys
from numba import types
from sim.blobs import BlobType
sys.stdout.buffer.write(pickle.dumps({BlobType("Pair", (("one", types.float64, 0),)): "kept"}))
"""


def test_what_one_process_compiled_another_finds() -> None:
    """Texts hash otherwise in every process; what is kept under a type is found all the same."""
    from numba import types  # noqa: PLC0415 - half a second

    from sim.blobs import BlobType  # noqa: PLC0415

    kept = subprocess.run(
        [sys.executable, "-c", KEPT],
        env=os.environ | {"PYTHONHASHSEED": "77"},
        check=True,
        capture_output=True,
    ).stdout
    found = pickle.loads(kept)  # noqa: S301 - just made
    assert found[BlobType("Pair", (("one", types.float64, 0),))] == "kept"
