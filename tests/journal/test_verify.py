"""Every way a record can be spoilt is found, and the first bad entry is named."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from signals.errors import BadInput
from signals.journal import Draft, Journal, Kind, reader
from signals.journal.chain import GENESIS, SCHEMA, chain


@pytest.fixture
def path(tmp_path: Path) -> Path:
    journal = Journal(tmp_path / "journal.sqlite")
    journal.append_many(
        Draft(kind=Kind.CHANGE, body={"at_step": i, "text": "a" * 40}, at=i, boot="b000", seq=i)
        for i in range(1, 201)
    )
    journal.close()
    return journal.path


def tamper(path: Path, *statements: str) -> None:
    """Change the file as somebody would who also puts the guards back."""
    with sqlite3.connect(path, isolation_level=None) as file:
        for name in ("entry_is_final", "entry_stays", "entry_follows"):
            file.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            file.execute(statement)
        for name in ("entry_is_final", "entry_stays", "entry_follows"):
            file.execute(SCHEMA[name])
    file.close()


SPOILT = {
    "body": (["UPDATE entry SET body = replace(body, '17', '18') WHERE n = 17"], 17),
    "time": (["UPDATE entry SET at = at + 1 WHERE n = 20"], 20),
    "kind": (["UPDATE entry SET kind = 'call' WHERE n = 21"], 21),
    "hash": (["UPDATE entry SET hash = previous WHERE n = 40"], 40),
    "first": (["UPDATE entry SET boot = 'b001' WHERE n = 1"], 1),
    "removed": (["DELETE FROM entry WHERE n = 50"], 51),
    "removed first": (["DELETE FROM entry WHERE n = 1"], 2),
    "removed and closed up": (
        [
            "DELETE FROM entry WHERE n = 50",
            *(f"UPDATE entry SET n = {n - 1} WHERE n = {n}" for n in range(51, 201)),  # noqa: S608 - numbers
        ],
        50,
    ),
    "removed last": (["DELETE FROM entry WHERE n > 190"], 191),
    "removed all": (["DELETE FROM entry"], 1),
    "swapped": (
        [
            "UPDATE entry SET n = 999 WHERE n = 60",
            "UPDATE entry SET n = 60 WHERE n = 61",
            "UPDATE entry SET n = 61 WHERE n = 999",
            "UPDATE sqlite_sequence SET seq = 200",
        ],
        60,
    ),
    "inserted": (
        [
            *(f"UPDATE entry SET n = {n + 1} WHERE n = {n}" for n in range(200, 69, -1)),  # noqa: S608 - numbers
            "INSERT INTO entry SELECT 70, at, boot, seq, kind, body, previous, hash FROM entry WHERE n = 69",
        ],
        70,
    ),
    "appended": (
        ["INSERT INTO entry SELECT 201, at, boot, seq, kind, body, hash, hash FROM entry WHERE n = 200"],
        201,
    ),
}


@pytest.mark.parametrize("name", SPOILT)
def test_the_first_bad_entry_is_named(path: Path, name: str) -> None:
    statements, first = SPOILT[name]
    assert reader.verify(path) == []
    tamper(path, *statements)
    assert reader.verify(path)[0].line == first


def test_guards_taken_away_are_missed(path: Path) -> None:
    with sqlite3.connect(path) as file:
        file.execute("DROP TRIGGER entry_stays")
    file.close()
    (finding,) = reader.verify(path)
    assert finding.key == "entry_stays"


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_file_cut_short(path: Path, share: float) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    assert reader.verify(path)


def test_a_flipped_bit_in_an_entry_is_found_wherever_it_is(path: Path, tmp_path: Path) -> None:
    whole = path.read_bytes()
    places = [at for at in range(0, len(whole) - 9, 997) if whole[at : at + 9].isalnum()]
    assert len(places) > 20
    for at in places:
        copy = tmp_path / "copy.sqlite"
        copy.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert reader.verify(copy), f"byte {at} of {len(whole)}"


def test_a_chain_rewritten_as_a_whole_is_found_by_a_noted_hash(path: Path, tmp_path: Path) -> None:
    noted = reader.last(path).hash
    forged = Journal(tmp_path / "forged.sqlite")
    forged.append_many(
        Draft(kind=e.kind, body=e.body, at=e.at + 1, boot=e.boot, seq=e.seq) for e in reader.entries(path)
    )
    forged.close()
    assert reader.verify(forged.path) == []
    assert [f.key for f in reader.verify(forged.path, expect=noted)] == ["noted hash"]
    assert reader.verify(path, expect=noted) == []


def test_a_copy_is_read_as_it_lies(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "elsewhere" / "journal.sqlite"
    copy.parent.mkdir()
    shutil.copy(path, copy)
    assert reader.verify(copy) == []
    assert reader.last(copy).n == 200


def test_what_is_no_journal_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no such file"):
        reader.verify(tmp_path / "journal.sqlite")
    (tmp_path / "text").write_text("lap times " * 1000)
    with pytest.raises(BadInput, match="not a database"):
        reader.entries(tmp_path / "text")
    sqlite3.connect(tmp_path / "empty").close()
    (tmp_path / "empty").touch()
    with pytest.raises(BadInput, match="application id"):
        reader.last(tmp_path / "empty")


def test_a_row_is_hashed_over_everything_but_its_hash() -> None:
    draft = Draft(kind=Kind.CALL, body={}, at=1, boot="b000", seq=1)
    rows = [
        chain(draft, 1, GENESIS),
        chain(draft, 2, GENESIS),
        chain(draft, 1, "f" * 64),
        chain(Draft(kind=Kind.CALL, body={}, at=2, boot="b000", seq=1), 1, GENESIS),
        chain(Draft(kind=Kind.CALL, body={}, at=1, boot="b001", seq=1), 1, GENESIS),
        chain(Draft(kind=Kind.CALL, body={}, at=1, boot="b000", seq=2), 1, GENESIS),
        chain(Draft(kind=Kind.FAULT, body={}, at=1, boot="b000", seq=1), 1, GENESIS),
        chain(Draft(kind=Kind.CALL, body={"a": 1}, at=1, boot="b000", seq=1), 1, GENESIS),
    ]
    assert len({row.hash for row in rows}) == len(rows)
