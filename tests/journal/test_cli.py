from __future__ import annotations

import csv
import json
import sqlite3
from pathlib import Path

import pytest

from signals.cli.app import run
from signals.journal import Draft, Journal, Kind


@pytest.fixture
def data(tmp_path: Path) -> Path:
    journal = Journal(tmp_path / "journal.sqlite")
    journal.append_many(
        Draft(kind=kind, body={"id": f"c{i}"}, at=1_900_000_000_000 + i * 1000, boot="b000", seq=i)
        for i, kind in enumerate([Kind.BOOT, Kind.CALL, Kind.ANSWER, Kind.CALL], start=1)
    )
    journal.close()
    return tmp_path


def kerblight(*arguments: object) -> int:
    with pytest.raises(SystemExit) as ended:
        run(["journal", *map(str, arguments)])
    return int(ended.value.code or 0)


def test_list(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert kerblight("list", "--data", data) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 4
    assert lines[1].split() == ["2", "2030-03-17", "17:46:42.000+00:00", "call", "b000/2", '{"id":"c2"}']


def test_list_json_by_kind_and_time(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ("list", "--data", data, "--kind", "call", "--since", "2030-03-17T18:46:43+01:00", "--json")
    assert kerblight(*arguments) == 0
    assert [entry["n"] for entry in json.loads(capsys.readouterr().out)] == [4]


def test_verify(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert kerblight("verify", "--data", data, "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["whole"], said["last"]["n"]) == (True, 4)
    assert kerblight("verify", "--data", data, "--expect", said["last"]["hash"]) == 0
    assert kerblight("verify", "--data", data, "--expect", "f" * 64) == 1


def test_verify_names_the_bad_entry(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with sqlite3.connect(data / "journal.sqlite") as file:
        file.execute("DROP TRIGGER entry_is_final")
        file.execute("UPDATE entry SET at = 5 WHERE n = 3")
    file.close()
    assert kerblight("verify", "--data", data) == 1
    said = capsys.readouterr().err.splitlines()
    assert f"{data / 'journal.sqlite'}:3: hash" in said[1]


def test_export(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert kerblight("export", "--data", data) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["n"] for line in lines] == [1, 2, 3, 4]
    assert kerblight("export", "--data", data, "--format", "csv", "--kind", "answer") == 0
    (row,) = csv.DictReader(capsys.readouterr().out.splitlines())
    assert (row["n"], row["body"], row["hash"]) == ("3", '{"id":"c3"}', lines[2]["hash"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["list", "--data", "/nowhere"], "no such file"),
        (["verify", "--data", "/nowhere"], "no such file"),
        (["export", "--data", "/nowhere"], "no such file"),
        (["list", "--data", "DATA", "--since", "yesterday"], "write a time such as"),
        (["list", "--data", "DATA", "--kind", "rumour"], "rumour"),
        (["export", "--data", "DATA", "--format", "xml"], "xml"),
    ],
)
def test_bad_input_is_2(
    data: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert kerblight(*[str(data) if word == "DATA" else word for word in arguments]) == 2
    assert said in " ".join(capsys.readouterr().err.replace("│", "").split())
