"""`kerblight sightlines`: what it prints, writes, and refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from signals.cli.app import run
from signals.cli.options import configs

HARBOUR = str(configs() / "harbour-loop.toml")


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        run(["sightlines", *arguments])
    out, err = capsys.readouterr()
    return int(ended.value.code or 0), out, err


def test_blind_stretches_are_told_and_end_with_1(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = call(capsys, "--venue", HARBOUR)
    assert code == 1
    assert "Harbour Loop, 14 heads" in out
    assert "Blind: no head is seen (wet, eye 0.7 m)" in out
    assert "3 Hairpin" in out


def test_json_holds_every_condition_and_the_proposal(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = call(capsys, "--venue", HARBOUR, "--json", "--propose", "11", "--eye", "0.75")
    told = json.loads(out)
    assert code == 1
    assert [(each["surface"], each["eye_m"]) for each in told["conditions"]] == [("dry", 0.75), ("wet", 0.75)]
    assert told["conditions"][0]["blind"][0]["sectors"]
    assert told["proposal"]["proposed"]["seen"] == 1.0 > told["proposal"]["even"]["seen"]
    assert told["assumed"]["reaction_s"] == 1.6


def test_a_table_has_a_row_for_every_metre_and_condition(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    call(capsys, "--venue", HARBOUR, "--table", str(tmp_path / "seen.csv"))
    with (tmp_path / "seen.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 4 * 400
    blind = [row for row in rows if row["state"] == "blind"]
    assert blind
    assert all(not row["head"] and not row["sight_m"] for row in blind)


def test_maps_are_drawn_alike_each_time(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    files = [str(tmp_path / name) for name in ("one.svg", "two.svg", "three.png")]
    call(capsys, "--venue", HARBOUR, *(part for file in files for part in ("--map", file)))
    first, second, picture = (Path(file).read_bytes() for file in files)
    assert first == second
    assert picture.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--eye", "7"), "a seated eye is 0.3 to 2 m above the track"),
        (("--map", "seen.pdf"), "the file's name ends in .svg or .png"),
        (("--keep",), "say how many heads to add: --propose N"),
        (("--venue", "nowhere.toml"), "nowhere.toml"),
    ],
)
def test_bad_input_is_refused_in_a_sentence(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], told: str
) -> None:
    code, _, err = call(capsys, *arguments)
    assert code == 2
    assert told in err
