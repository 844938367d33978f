"""Study files, what is kept of them, what is worked out, and the page that tells it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import pytest
from msgspec.structs import replace

from signals.cli.app import run
from signals.cli.options import configs
from signals.errors import BadInput, Unusable
from signals.venue import load
from sim.study.figures import count, difference, mean, share
from sim.study.form import MEASURES, load_study
from sim.study.play import cells_of
from sim.study.report import found, page
from sim.study.store import Store
from sim.study.variants import with_caution, with_heads, with_karts, with_ramp
from sim.study.work import Piece, pieces, play_piece

if TYPE_CHECKING:
    from collections.abc import Iterator

    from signals.venue.model import Venue

STUDIES = configs() / "studies"
SHORT = """
title = "Short"
venue = "{venue}"
sessions = {sessions}
seed = 5
[session]
karts = 4
begins_s = 30
drives_s = 40
longest_s = 60
[vary]
delay_s = [1, 4]
wet = [false, true]
[show]
against = "delay_s"
measures = ["false_s", "contacts"]
"""


def write(folder: Path, text: str) -> Path:
    file = folder / "short.toml"
    file.write_text(text, encoding="utf-8")
    return file


def short(folder: Path, sessions: int = 6) -> Path:
    return write(folder, SHORT.format(venue=configs() / "harbour-loop.toml", sessions=sessions))


@pytest.mark.parametrize("name", ["ramp", "marshal-delay"])
def test_the_studies_that_come_along_are_sound(name: str) -> None:
    study = load_study(STUDIES / f"{name}.toml")
    assert len(list(study.cells())) >= 10
    assert load(study.venue).id == "harbour-loop"


def test_cells_are_every_combination_and_share_their_seeds(tmp_path: Path) -> None:
    study = load_study(short(tmp_path))
    assert list(study.cells()) == [
        {"wet": wet, "delay_s": delay_s} for wet in (False, True) for delay_s in (1.0, 4.0)
    ]
    assert pieces(2, 5, 25) == [Piece(0, 5, 20), Piece(0, 25, 5), Piece(1, 5, 20), Piece(1, 25, 5)]


def test_every_mistake_of_a_study_comes_at_once(tmp_path: Path) -> None:
    text = SHORT.format(venue="nowhere.toml", sessions=1)
    text = text.replace("delay_s = [1, 4]", "delay_s = [-1]\nbogus = 3").replace('"contacts"', '"crashes"')
    with pytest.raises(BadInput) as wrong:
        load_study(write(tmp_path, text))
    told = str(wrong.value)
    assert len(wrong.value.findings) >= 3
    assert "short.toml" in told
    assert {finding.key for finding in wrong.value.findings} >= {
        "venue", "sessions", "vary delay_s 1", "vary bogus", "show measures 2",
    }  # fmt: skip


def test_what_a_plot_is_drawn_against_must_be_varied(tmp_path: Path) -> None:
    text = SHORT.format(venue=configs() / "harbour-loop.toml", sessions=4)
    with pytest.raises(BadInput, match="must be varied: one of wet, delay_s"):
        load_study(write(tmp_path, text.replace('against = "delay_s"', 'against = "heads"')))


# --- what is kept


def rows(sessions: int, value: float = 1.0) -> list[tuple[float, ...]]:
    return [tuple(value for _ in MEASURES) for _ in range(sessions)]


def test_what_a_kill_cut_short_is_dropped_and_the_rest_stays(tmp_path: Path) -> None:
    path = tmp_path / "kept.jsonl"
    with Store(path) as store:
        store.keep(Piece(0, 1, 2), rows(2))
        store.keep(Piece(1, 1, 2), [*rows(1, float("nan")), *rows(1, 3.0)])
    whole = path.read_bytes()
    for cut in range(len(whole)):
        path.write_bytes(whole[: len(whole) - cut])
        with Store(path) as store:
            kept = [piece for piece in (Piece(0, 1, 2), Piece(1, 1, 2)) if piece in store.done]
            assert len(kept) == whole[: len(whole) - cut].count(b"\n")
            store.keep(Piece(2, 1, 1), rows(1))
        with Store(path) as store:
            assert Piece(2, 1, 1) in store.done
    assert Piece(0, 1, 2) not in store.done


def test_what_was_not_reached_is_kept_as_nothing(tmp_path: Path) -> None:
    with Store(tmp_path / "kept.jsonl") as store:
        store.keep(Piece(0, 1, 1), rows(1, float("nan")))
    with Store(tmp_path / "kept.jsonl") as store:
        assert store.of(0) == [[None] * len(MEASURES)]


def test_a_session_counts_once_though_it_was_played_in_two_pieces(tmp_path: Path) -> None:
    with Store(tmp_path / "kept.jsonl") as store:
        store.keep(Piece(0, 5, 2), rows(2, 1.0))
        store.keep(Piece(0, 5, 4), [*rows(2, 1.0), *rows(2, 2.0)])
        assert [row[0] for row in store.of(0)] == [1.0, 1.0, 2.0, 2.0]


def test_another_model_keeps_its_own_results_and_plays_no_others_cells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = load_study(short(tmp_path))
    assert study.digest("venue", "one model") != study.digest("venue", "another")
    (first, *_) = cells_of(study)
    monkeypatch.setattr("sim.study.work.model_digest", lambda: "another")
    with pytest.raises(Unusable, match="this worker plays by model another"):
        play_piece(first, Piece(0, 5, 1))


# --- figures


def test_wilsons_interval_is_the_textbooks() -> None:
    """10 of 20: 0.299 to 0.701; 0 of 10: 0 to 0.278 (Wilson's score, by arithmetic on its formula)."""
    half = share(10, 20)
    assert (half.low, half.high) == (pytest.approx(0.2993, abs=5e-4), pytest.approx(0.7007, abs=5e-4))
    assert share(0, 10).high == pytest.approx(1.96**2 / (10 + 1.96**2), abs=1e-3)


def test_what_never_happened_may_happen_yet() -> None:
    """0 events give 3.69 at most, 10 events 4.80 to 18.39 (tables of Poisson limits, from memory).

    Beside them: 0 events give at most -ln 0.025, by arithmetic.
    """
    none = count([0.0] * 100)
    assert none is not None
    assert (none.value, none.low) == (0.0, 0.0)
    assert none.high == pytest.approx(3.689 / 100, abs=1e-4)
    assert none.high == pytest.approx(-np.log(0.025) / 100)
    ten = count([1.0] * 10 + [0.0] * 990)
    assert ten is not None
    assert ten.low <= 4.796 / 1000
    assert ten.high >= 18.39 / 1000


def test_a_bootstrap_covers_the_mean_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(3)
    covered = 0
    for _ in range(200):
        estimate = mean(list(rng.exponential(2.0, 60)))
        assert estimate is not None
        covered += estimate.low <= 2.0 <= estimate.high
    assert 0.88 <= covered / 200 <= 0.98


def test_differences_pair_sessions_of_the_same_seed() -> None:
    first, last = [1.0, None, 3.0, 5.0], [2.0, 9.0, 4.0, None]
    apart = difference(first, last)
    assert apart is not None
    assert (apart.value, apart.low, apart.high, apart.sessions) == (1.0, 1.0, 1.0, 2)
    assert mean([None, None]) is None


# --- variants


def test_a_venue_varied_by_what_it_has_is_the_same(venue: Venue, quarry: Venue) -> None:
    for each in (venue, quarry):
        assert with_ramp(each, each.ramp.fall).sectors == each.sectors
        assert with_caution(each, each.limits.caution).sectors == each.sectors


def test_a_gentler_ramp_reaches_farther_back(venue: Venue) -> None:
    gentle, steep = with_ramp(venue, 0.5), with_ramp(venue, 8.0)
    assert sum(len(s.approach) for s in gentle.sectors) > sum(len(s.approach) for s in steep.sectors)
    assert gentle.ramp_wet.fall / gentle.ramp.fall == pytest.approx(venue.ramp_wet.fall / venue.ramp.fall)


def test_heads_stand_as_they_are_asked_to(venue: Venue) -> None:
    even = with_heads(venue, "even-9")
    track = [head for head in even.heads if head.role in ("track", "finish")]
    assert len(track) == 9
    assert {head.id for head in even.heads if head.role == "pit-exit"} == {"px1", "px2"}
    assert all(any("pit" in head.protects for head in track) for _ in (1,))
    assert all(head.before in {each.id for each in track} for head in even.heads)


@pytest.mark.parametrize(
    ("vary", "right"),
    [
        (lambda venue: with_heads(venue, "many"), "one of as-it-stands, even-N and best-N"),
        (lambda venue: with_karts(venue, 4, "giant"), "there is no class 'giant'"),
        (lambda venue: with_caution(venue, 60.0), "above the slowest class"),
    ],
)
def test_what_a_venue_cannot_be_is_refused(venue: Venue, vary: Any, right: str) -> None:
    with pytest.raises(Unusable, match=right):
        vary(venue)


# --- the page


def test_a_page_carries_everything_and_says_what_it_is_not(tmp_path: Path, venue: Venue) -> None:
    study = load_study(short(tmp_path, sessions=20))
    with Store(tmp_path / "kept.jsonl") as store:
        for cell in range(4):
            store.keep(Piece(cell, 5, 20), [*rows(10, float(cell)), *rows(10, cell + 1.0)])
        result = found(study, store)
    text = page(result, replace(venue, name="Harbour <Loop>"))
    assert "Harbour &lt;Loop&gt;" in text
    assert text.count("<svg") == 2
    assert not re.findall(r'(?:src|href)="https?:', text)
    assert "no evidence\nabout a real kart" in text
    assert "Not an emergency stop" in text
    assert result.answers[0].startswith("Dry: false comfort")
    assert "+1.00 s, 95 % interval +1.00 to +1.00, from 20 sessions" in result.answers[0]
    assert "least at 1 s (0.50 s); worse at 4 s." in result.short[0]
    assert all(sentence in text for sentence in result.short)


# --- the command


def words(file: Path, out: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", "signals.cli", "study", str(file), "--out", str(out), "--json", *more]


def measures_in(out: Path) -> dict[tuple[int, int], Any]:
    lines = [json.loads(line) for line in next(out.glob("*.jsonl")).read_text().splitlines()]
    return {(line["cell"], line["first"]): line["measures"] for line in lines}


def test_bad_input_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as ended:
        run(["study", str(tmp_path / "none.toml")])
    assert ended.value.code == 2
    assert "none.toml" in re.sub(r"[│\s]", "", capsys.readouterr().err)


PATIENCE_S = 3600
"""For a study on a busy machine, compiling too: what hangs ends at last. Nothing is timed."""


@contextmanager
def begun(argv: list[str]) -> Iterator[subprocess.Popen[bytes]]:
    """Begin a study as a process; it is over when this is."""
    process = subprocess.Popen(argv, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def until_kept(out: Path, pieces_kept: int, process: subprocess.Popen[bytes]) -> None:
    """Wait until a study has kept some pieces and still plays."""
    deadline = time.monotonic() + PATIENCE_S
    while not any(path.read_bytes().count(b"\n") >= pieces_kept for path in out.glob("*.jsonl")):
        assert process.poll() is None, "it was over before anything could be killed"
        assert time.monotonic() < deadline
        time.sleep(0.02)


@pytest.mark.gate
def test_a_study_that_was_killed_goes_on_where_it_was(tmp_path: Path) -> None:
    file, broken, whole = short(tmp_path, sessions=60), tmp_path / "broken", tmp_path / "whole"
    with begun(words(file, broken)) as first:
        until_kept(broken, 2, first)
    kept = measures_in_whole_lines(broken)
    assert 2 <= len(kept) < 12
    subprocess.run(words(file, broken), check=True, capture_output=True)
    told = subprocess.run(words(file, whole), check=True, capture_output=True, text=True)
    assert measures_in(broken) == measures_in(whole)
    assert {key: measures_in(broken)[key] for key in kept} == kept
    assert len(json.loads(told.stdout)["cells"]) == 4


def measures_in_whole_lines(out: Path) -> dict[tuple[int, int], Any]:
    text = next(out.glob("*.jsonl")).read_text()
    lines = [json.loads(line) for line in text.splitlines(keepends=True) if line.endswith("\n")]
    return {(line["cell"], line["first"]): line["measures"] for line in lines}


@pytest.mark.gate
def test_two_workers_play_a_study_though_one_is_killed(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    file, there, here = short(tmp_path, sessions=200), tmp_path / "there", tmp_path / "here"
    with Cluster(tmp_path) as cluster, begun(words(file, there, "--dask", cluster.address)) as asked:
        until_kept(there, 2, asked)
        cluster.kill_a_worker()
        assert asked.wait(timeout=PATIENCE_S) == 0
    subprocess.run(words(file, here), check=True, capture_output=True)
    assert measures_in(there) == measures_in(here)


class Cluster:
    """A dask scheduler and two workers on this machine."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "scheduler.json"
        self._folder = folder
        self._all: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Self:
        self._start("scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(self._file))
        deadline = time.monotonic() + PATIENCE_S
        while not self._file.exists() or not self._file.read_text().strip():
            assert time.monotonic() < deadline
            time.sleep(0.05)
        for _ in range(2):
            self._start(
                "worker", "--scheduler-file", str(self._file), "--nthreads", "1", "--no-nanny",
                "--no-dashboard", "--local-directory", str(self._folder),
            )  # fmt: skip
        self.address = json.loads(self._file.read_text())["address"]
        return self

    def _start(self, what: str, *arguments: str) -> None:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", "--host", "127.0.0.1", *arguments]
        self._all.append(subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))

    def kill_a_worker(self) -> None:
        os.kill(self._all[1].pid, signal.SIGKILL)

    def __exit__(self, *_: object) -> None:
        for process in reversed(self._all):
            process.kill()
            process.wait()
