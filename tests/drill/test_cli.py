"""The command line: lists, a recorded set of calls played and scored, kept, exported, forgotten."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from signals.errors import BadInput
from sim.drill.cli import app
from tests.drill.playing import SHIPPED

CALLS = """\
[[deed]]
at_s = 2.0
seen = "s2"

[[deed]]
at_s = 11.0
call = "caution"
where = "s3"
"""


def run(*arguments: str) -> Any:
    return CliRunner().invoke(app, list(arguments))


def test_every_shipped_drill_is_listed_as_json() -> None:
    listed = json.loads(run("list", "--json").stdout)
    assert {each["name"] for each in listed} == {path.stem for path in SHIPPED}
    assert all(each["trains"] and each["seats"] for each in listed)


def test_recorded_calls_are_played_scored_kept_exported_and_forgotten(tmp_path: Path) -> None:
    calls, data, tape = tmp_path / "calls.toml", tmp_path / "var", tmp_path / "a.tape"
    calls.write_text(CALLS, encoding="utf-8")
    as_ada, kept = ["--as", "Ada"], ["--data", str(data)]
    played = ["--headless", "--with", str(calls), "--tape", str(tape), "--json"]
    said = run("spin-rejoins", "--seed", "4", *as_ada, *played, *kept)
    score = json.loads(said.stdout)
    assert said.exit_code == 1, "nothing was lifted"
    assert [line["name"] for line in score["lines"] if line["got"] == line["of"]] == [
        "yellow.seen", "yellow.call", "yellow.where", "yellow.time",
    ]  # fmt: skip
    listed = json.loads(run("list", *as_ada, "--json", *kept).stdout)
    assert {each["name"]: each["best"] for each in listed}["spin-rejoins"] == score["percent"]
    assert len(json.loads(run("progress", *as_ada, "--json", *kept).stdout)) == 1
    page = tmp_path / "debrief.html"
    assert run("report", str(tape), str(page), *kept).exit_code == 0
    assert "A spin that rejoins" in page.read_text(encoding="utf-8")
    assert run("export", str(tmp_path / "ada.json"), *as_ada, *kept).exit_code == 0
    assert json.loads((tmp_path / "ada.json").read_text())["runs"][0]["score"]["drill"] == "spin-rejoins"
    assert run("forget", *as_ada, *kept).exit_code == 0
    assert json.loads(run("trainees", "--json", *kept).stdout) == []


@pytest.mark.parametrize(
    ("arguments", "right"),
    [
        (["spin-rejoin", "--headless"], "did you mean"),
        (["spin-rejoins", "--headless", "--seat", "p9"], "one of desk, p1, p2"),
        (["spin-rejoins", "--model"], "needs --headless"),
        (["spin-rejoins", "--headless", "--with", "nowhere.toml"], "nowhere.toml"),
        (["inject", "hail"], "one of"),
        (["inject", "spin"], "spin needs it"),
        (["join", "--post", "p9"], "one of desk, p1, p2"),
        (["host", "two-at-once", "--seat", "p9=Ada"], "POST=NAME"),
        (["forget", "--as", "Nobody"], "practised nothing here"),
        (["quiz", "--count", "2", "--answers", "1"], "one for each of the 2 questions"),
    ],
)
def test_what_cannot_be_used_is_told_with_what_would_be_right(
    arguments: list[str], right: str, tmp_path: Path
) -> None:
    more = [] if arguments[0] in ("spin-rejoin", "spin-rejoins") else ["--data", str(tmp_path)]
    said = run(*arguments, *more)
    assert isinstance(said.exception, BadInput)
    assert right in str(said.exception)
