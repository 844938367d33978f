from __future__ import annotations

import csv
import json
import re
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from signals.cli.app import run
from signals.cli.options import configs
from signals.journal import Draft, Journal, Kind

ENTRIES = (
    (Kind.BOOT, {"venue": "harbour-loop", "version": "0.1.0", "restart": False}),
    (Kind.CALL, {"id": "c2", "post": "p1", "by": "Tove", "call": "caution", "where": "s3", "reason": "spin"}),
    (Kind.ANSWER, {"id": "c2", "post": "p1", "accepted": True, "refusals": []}),
    (Kind.CALL, {"id": "c4", "post": "desk", "call": "lift", "hold": "caution:s3:p1"}),
)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return recorded(tmp_path, ENTRIES)


def recorded(folder: Path, entries: Iterable[tuple[Kind, dict[str, Any]]]) -> Path:
    journal = Journal(folder / "journal.sqlite")
    journal.append_many(
        Draft(kind=kind, body=body, at=1_900_000_000_000 + i * 1000, boot="b000", seq=i)
        for i, (kind, body) in enumerate(entries, start=1)
    )
    journal.close()
    return folder


def kerblight(*arguments: object) -> int:
    with pytest.raises(SystemExit) as ended:
        run(["journal", *map(str, arguments)])
    return int(ended.value.code or 0)


def listed(capsys: pytest.CaptureFixture[str], *arguments: object) -> list[tuple[str, ...]]:
    """Give the columns of what `list` prints: entry, time, kind, who, what."""
    assert kerblight("list", *arguments) == 0
    return [tuple(re.split(r"\s{2,}", line.strip())) for line in capsys.readouterr().out.splitlines()]


def test_list_tells_each_entry_in_the_venues_names(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert listed(capsys, "--data", data) == [
        ("entry", "time, UTC", "kind", "who", "what"),
        ("1", "2030-03-17 17:46:41.000", "boot", "Controller", "begins, version 0.1.0"),
        ("2", "2030-03-17 17:46:42.000", "call", "Post 1, Tove", "Yellow 3 Hairpin (spin)"),
        ("3", "2030-03-17 17:46:43.000", "answer", "Post 1", "accepted"),
        ("4", "2030-03-17 17:46:44.000", "call", "Race desk", "Lift yellow 3 Hairpin by Post 1"),
    ]


def test_list_names_what_came_of_a_call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    why = {"rule": "not-armed", "sentence": "Start is not for now (Group in), but for Ready."}
    fields = {"where": "s3", "reason": "spin"}
    found = {"cause": "red", "outcome": "failed", "came": "start: no answer", "cells": []}
    recorded(tmp_path, [
        ENTRIES[0],
        (Kind.ANSWER, {"id": "c1", "post": "desk", "accepted": False, "refusals": [why]}),
        (Kind.CHANGE, {"what": "caution", "post": "p1", "fields": fields, "happened": [],
                       "placed": ["caution:s3:p1"], "ended": [], "state": {"phase": "racing"}}),
        (Kind.PLACE, {"what": "kart-at", "post": "E", "fields": {"kart": 3, "where": "s3"}}),
        (Kind.CHECK, {"what": "cause", "found": found}),
    ])  # fmt: skip
    assert [line[3:] for line in listed(capsys, "--data", tmp_path)[2:]] == [
        ("Race desk", f"refused: {why['sentence']}"),
        ("Post 1", "Yellow 3 Hairpin by Post 1 stands"),
        ("Equipment", "kart at, kart 3, 3 Hairpin"),
        ("Opening check", "cause red: failed: start: no answer"),
    ]


def test_list_of_a_venue_that_does_not_come_along(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recorded(tmp_path, [(Kind.BOOT, {**ENTRIES[0][1], "venue": "elsewhere"}), *ENTRIES[1:]])
    assert listed(capsys, "--data", tmp_path)[2][3:] == ("Post p1, Tove", "Yellow s3 (spin)")
    asked = ("--venue", configs() / "harbour-loop.toml")
    assert listed(capsys, "--data", tmp_path, *asked)[2][3:] == ("Post 1, Tove", "Yellow 3 Hairpin (spin)")


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
    assert (row["n"], row["body"], row["hash"]) == (
        "3",
        json.dumps(ENTRIES[2][1], separators=(",", ":"), sort_keys=True),
        lines[2]["hash"],
    )


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
