from __future__ import annotations

import resource
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import msgspec
import pytest

from signals.errors import KerblightError
from signals.journal import Draft, Journal, JournalFailed, Kind, reader


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    journal = Journal(tmp_path / "journal.sqlite")
    yield journal
    journal.close()


def add(journal: Journal, count: int, *, kind: Kind = Kind.CALL) -> None:
    journal.append_many(
        Draft(kind=kind, body={"id": f"c{i}", "call": "stop"}, at=1000 + i, boot="boot1", seq=i + 1)
        for i in range(count)
    )


def test_an_entry_carries_what_was_given_and_follows_the_last(journal: Journal) -> None:
    first = journal.append(Kind.BOOT, {"venue": "harbour-loop"}, at=5, boot="b000", seq=1)
    second = journal.append(Kind.CALL, {"call": "stop", "why": "Öl"}, at=7, boot="b000", seq=2)
    assert (first.n, first.previous) == (1, "0" * 64)
    assert (second.n, second.previous) == (2, first.hash)
    assert list(journal.entries()) == [first, second]
    assert reader.verify(journal.path) == []


def test_the_hash_can_be_made_with_nothing_but_json_and_sha256(journal: Journal) -> None:
    entry = journal.append(Kind.CALL, {"z": 1, "a": [True, None, "é"]}, at=7, boot="b000", seq=2)
    text = '{"at":7,"body":{"a":[true,null,"é"],"z":1},"boot":"b000","kind":"call","n":1,"seq":2}'
    assert entry.hash == sha256(("0" * 64 + text).encode()).hexdigest()


def test_reading_by_time_and_kind(journal: Journal) -> None:
    add(journal, 3)
    journal.append(Kind.FAULT, {"what": "head"}, at=2000, boot="b000", seq=9)
    add(journal, 2)
    assert [entry.n for entry in journal.entries(since=1002)] == [3, 4]
    assert [entry.n for entry in journal.entries(kind=Kind.FAULT)] == [4]
    assert journal.last().n == 6
    assert journal.last(Kind.FAULT).n == 4
    assert journal.last(Kind.CHECK) is None


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET body = '{}' WHERE n = 2",
        "DELETE FROM entry WHERE n = 3",
        "REPLACE INTO entry SELECT n, 0, boot, 1, kind, body, previous, hash FROM entry WHERE n = 2",
        "INSERT INTO entry SELECT n + 7, at, boot, seq, kind, body, hash, 'x' FROM entry WHERE n = 3",
        "INSERT INTO entry SELECT n + 1, at, boot, seq, kind, body, 'x', 'y' FROM entry WHERE n = 3",
    ],
)
def test_the_file_itself_refuses_to_be_changed(journal: Journal, statement: str) -> None:
    add(journal, 3)
    with sqlite3.connect(journal.path) as other, pytest.raises(sqlite3.IntegrityError):
        other.execute(statement)
    other.close()
    assert reader.verify(journal.path) == []


def test_a_second_writer_that_slips_in_does_not_break_the_chain(journal: Journal) -> None:
    other = Journal(journal.path)
    for _ in range(3):
        add(journal, 2)
        add(other, 1)
    other.close()
    assert reader.verify(journal.path) == []
    assert journal.last().n == 9


def test_a_message_of_the_contract_can_be_a_body(journal: Journal) -> None:
    class Said(msgspec.Struct):
        call: str

    assert journal.append(Kind.CALL, Said("stop"), at=1, boot="b000", seq=1).body == {"call": "stop"}


def test_a_body_that_is_no_json_is_the_callers_mistake_and_leaves_nothing(journal: Journal) -> None:
    with pytest.raises(TypeError):
        journal.append_many(
            [
                Draft(kind=Kind.CALL, body={"fine": 1}, at=1, boot="b000", seq=1),
                Draft(kind=Kind.CALL, body={"no": object()}, at=1, boot="b000", seq=1),
            ]
        )
    assert journal.last() is None
    add(journal, 1)
    assert reader.verify(journal.path) == []


@pytest.mark.parametrize("path", ["/proc/journal.sqlite", "/nowhere/at/all/journal.sqlite"])
def test_a_folder_that_cannot_be_written_is_said_at_once(path: str) -> None:
    with pytest.raises(JournalFailed, match=path) as failed:
        Journal(Path(path))
    assert isinstance(failed.value, OSError)
    assert isinstance(failed.value, KerblightError)


def test_another_database_is_not_written_into(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE lap (n)")
    other.close()
    with pytest.raises(JournalFailed, match="something else"):
        Journal(path)


def test_full_then_room_again(journal: Journal) -> None:
    add(journal, 3)
    (pages,) = journal._connection().execute("PRAGMA page_count").fetchone()
    journal._connection().execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(JournalFailed, match="full"):
        add(journal, 2000)
    assert journal.last().n == 3
    add(journal, 2000)  # the file is opened anew, without the limit
    assert journal.last().n == 2003
    assert reader.verify(journal.path) == []


def _limit_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))


FILL = """
import sys
from pathlib import Path
from signals.journal import Journal, JournalFailed, Kind
journal = Journal(Path(sys.argv[1]))
for n in range(1, 10_000):
    try:
        entry = journal.append(Kind.CALL, {"filler": "x" * 500}, at=n, boot="b000", seq=n)
    except JournalFailed as failed:
        print("failed", failed)
        break
    print(entry.n, flush=True)
"""


def test_a_disk_that_takes_no_more_fails_loudly_and_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    done = subprocess.run(
        [sys.executable, "-c", FILL, str(path)],
        preexec_fn=_limit_files,
        capture_output=True,
        text=True,
        check=True,
    )
    *acknowledged, failed = done.stdout.splitlines()
    assert failed.startswith("failed the journal"), done.stderr
    assert len(acknowledged) > 10
    assert reader.last(path).n >= int(acknowledged[-1])
    assert reader.verify(path) == []


def test_reading_does_not_load_the_writer() -> None:
    code = "import sys, signals.journal.reader; sys.exit('signals.journal.store' in sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)
