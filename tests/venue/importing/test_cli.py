"""`kerblight venue import`: what it writes is a centreline that a venue can drive on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from signals.cli.app import run
from signals.cli.options import configs
from signals.venue import load


def call(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        run(["venue", "import", *map(str, arguments)])
    out, err = capsys.readouterr()
    return int(ended.value.code or 0), out, err


def test_an_imported_lap_is_a_centreline_of_a_venue(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rows = (configs() / "quarry-ring.csv").read_text(encoding="utf-8").splitlines()
    published = tmp_path / "published.csv"
    published.write_text("\n".join(["# x_m,y_m,w_tr_right_m,w_tr_left_m", *rows[1:]]), encoding="utf-8")
    code, out, _ = call(capsys, published, tmp_path / "quarry-ring.csv", "--step", 3)
    assert code == 0
    assert "893.2 m around, anticlockwise, 8.0 to 9.0 m wide" in out
    (tmp_path / "venue.toml").write_text(
        (configs() / "quarry-ring.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    assert load(tmp_path / "venue.toml").length_m == pytest.approx(
        load(configs() / "quarry-ring.toml").length_m, abs=0.6
    )


def test_json_tells_what_was_repaired_and_doubts_end_with_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    lap = tmp_path / "lap.csv"
    lap.write_text("0 0\n60 0\n60 40\n0 40\n0 40\n", encoding="utf-8")
    code, out, _ = call(capsys, lap, tmp_path / "out.csv", "--width", 1.5, "--json")
    told = json.loads(out)
    assert code == 1
    assert any("left out" in sentence for sentence in told["repaired"])
    assert told["doubts"] == ["the road is only 1.5 m wide at its narrowest"]


@pytest.mark.parametrize(
    ("arguments", "right"),
    [
        (("--direction", "backwards"), "one of clockwise, anticlockwise"),
        ((), "give --width M"),
    ],
)
def test_bad_input_is_refused_and_nothing_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, arguments: tuple[str, ...], right: str
) -> None:
    lap = tmp_path / "lap.csv"
    lap.write_text("0 0\n60 0\n60 40\n0 40\n", encoding="utf-8")
    code, _, err = call(capsys, lap, tmp_path / "out.csv", *arguments)
    assert code == 2
    assert right in err
    assert not (tmp_path / "out.csv").exists()


def test_a_folder_that_cannot_be_written_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    lap = tmp_path / "lap.csv"
    lap.write_text("0 0\n60 0\n60 40\n0 40\n", encoding="utf-8")
    code, _, err = call(capsys, lap, tmp_path / "nowhere" / "out.csv", "--width", 8)
    assert code == 2
    assert "cannot be written" in err
