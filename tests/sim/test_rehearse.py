"""A rehearsal is the same every time it is played: twice, in other processes, looked at or not."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image
from typer.testing import CliRunner

from signals.cli.options import configs
from signals.errors import BadInput
from signals.sequence.load import load
from sim.rehearse.cli import app
from sim.rehearse.play import Rehearsed, rehearse

if TYPE_CHECKING:
    from signals.venue.model import Venue

SHORT = """
title = "A spin and its yellow"

[start]
venue = "harbour-loop"
phase = "racing"
seed = 3
group = [
  {number = 1, driver = "Ada Fenwick", class = "adult"},
  {number = 2, driver = "Bo Lindqvar", class = "adult"},
]
out = [1]

[[step]]
event = "kart-enters"
kart = 1

[[step]]
limit_of = 1
at_least_kmh = 45
within_ms = 20000

[[step]]
after_ms = 8000
event = "spin"
kart = 1

[[step]]
after_ms = 500
call = "caution"
post = "desk"
where = "s1"

[[step]]
limit_of = 1
at_most_kmh = 15
within_ms = 20000
"""


@pytest.fixture
def short(tmp_path: Path) -> Path:
    file = tmp_path / "short.toml"
    file.write_text(SHORT, encoding="utf-8")
    return file


def played(file: Path, venue: Venue, **more: Any) -> Rehearsed:
    sequence = load(file, venue)
    return rehearse(sequence, venue, **{"seed": sequence.file.start.seed, "every_s": 1, **more})


@pytest.fixture(scope="module")
def once(venue: Venue, tmp_path_factory: pytest.TempPathFactory) -> Rehearsed:
    file = tmp_path_factory.mktemp("rehearsed") / "short.toml"
    file.write_text(SHORT, encoding="utf-8")
    return played(file, venue)


def test_looked_at_in_a_window_it_is_the_same_every_second(
    short: Path, venue: Venue, once: Rehearsed
) -> None:
    from sim.view.onlooker import Onlooker  # noqa: PLC0415 - the display is chosen in conftest

    window = Onlooker(venue, shown=True)
    looked_at = played(short, venue, onlooker=window)
    window.close()
    assert once.held
    assert len(once.digests) >= 15
    assert len({each.digest for each in once.digests}) == len(once.digests)
    assert (once.digests, once.end) == (looked_at.digests, looked_at.end)
    assert len(window.desk.worlds[-1][1].karts) == 12, "and it did look"


@pytest.mark.gate
def test_another_seed_is_another_world_with_the_same_answers(
    short: Path, venue: Venue, once: Rehearsed
) -> None:
    other = played(short, venue, seed=4)
    assert other.held
    assert other.end.digest != once.end.digest


def test_the_verb_tells_digests_and_keeps_a_picture(short: Path, tmp_path: Path) -> None:
    picture = tmp_path / "end.png"
    words = [str(short), "--every", "5", "--json", "--picture", str(picture)]
    came = CliRunner().invoke(app, words)
    assert came.exit_code == 0, came.output
    told = json.loads(came.stdout)
    assert [each["time_s"] for each in told["digests"]][:3] == [5.0, 10.0, 15.0]
    assert told["end"]["steps"] == round(told["end"]["time_s"] * 60)
    assert [step["outcome"] for step in told["sequence"]["steps"]] == ["met"] * 6
    with Image.open(picture) as shown:
        assert shown.size == (1280, 800)


@pytest.mark.gate
def test_what_falls_short_ends_with_1(short: Path) -> None:
    short.write_text(SHORT.replace('"caution"', '"lift"').replace('where = "s1"', 'hold = "caution:s1:p1"'))
    came = CliRunner().invoke(app, [str(short)])
    assert came.exit_code == 1
    assert "✗" in came.output


def test_all_that_is_wrong_is_told_at_once_before_anything_is_played(short: Path) -> None:
    short.write_text(SHORT.replace('event = "spin"', 'event = "spun"'), encoding="utf-8")
    words = [str(short), "--picture", "nowhere/a.png", "--film", "nowhere/b.gif"]
    came = CliRunner().invoke(app, words)
    assert isinstance(came.exception, BadInput)
    keys = [finding.key for finding in came.exception.findings]
    assert keys == ["step 3 event", "nowhere/a.png", "nowhere/b.gif"]


@pytest.mark.gate
def test_the_verb_plays_it_again_and_keeps_a_film(short: Path, tmp_path: Path) -> None:
    film = tmp_path / "end.gif"
    assert CliRunner().invoke(app, [str(short), "--again", "--film", str(film)]).exit_code == 0
    with Image.open(film) as moving:
        assert moving.n_frames > 50  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "name",
    [
        pytest.param("spin-in-the-hairpin", marks=pytest.mark.gate),
        pytest.param("quarry-day", marks=pytest.mark.night),
    ],
)
def test_processes_of_their_own_come_to_the_same_with_a_window_and_without(name: str) -> None:
    """Hash seeds differ from process to process: no order of a set has a say."""
    file = configs() / "sequences" / f"{name}.toml"

    def of_its_own(hash_seed: int, *more: str) -> tuple[Any, Any]:
        words = ["-m", "signals.cli", "rehearse", str(file), "--every", "5", "--json", *more]
        place = os.environ | {"PYTHONHASHSEED": str(hash_seed), "SDL_VIDEODRIVER": "dummy"}
        came = subprocess.run(
            [sys.executable, *words], env=place, capture_output=True, text=True, check=False
        )
        assert came.returncode == 0, came.stderr
        told = json.loads(came.stdout)
        return told["digests"], told["end"]

    assert of_its_own(1) == of_its_own(2, "--window")
