"""Copies of the record: made while it is written, checked, put back, and nothing thrown away."""

from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from signals.errors import BadInput, Unusable
from signals.journal import Journal, Kind, reader
from signals.journal import backup as copies

NOW = datetime(2030, 6, 1, 4, 30, tzinfo=UTC)


def write(path: Path, count: int, begin: int = 0) -> None:
    journal = Journal(path)
    for n in range(begin, begin + count):
        journal.append(Kind.CHANGE, {"n": n}, at=n, boot="b1", seq=n)
    journal.close()


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    folder.mkdir()
    write(folder / "journal.sqlite", 20)
    (folder / "monitor-latch.json").write_text('{"tripped":true}')
    (folder / "opening/records").mkdir(parents=True)
    (folder / "opening/records/one.json").write_text("{}")
    (folder / "opening/lock").write_text("77")
    (folder / "credentials.json").write_text('{"controller": "secret"}')
    (folder / "panel-sessions.json").write_text('{"token": "secret"}')
    (folder / "mosquitto.users").write_text("controller:hash")
    (folder / "logs").mkdir()
    (folder / "logs/controller.log").write_text("…")
    (folder / "lock").write_text("")
    return folder


def test_a_copy_holds_the_record_and_what_goes_with_it_and_no_secret(data: Path, tmp_path: Path) -> None:
    copy, manifest = copies.backup(data, tmp_path / "copies", NOW)
    assert copy.name == "kerblight-20300601T043000Z"
    files = {str(file.relative_to(copy)) for file in copy.rglob("*") if file.is_file()}
    assert files == {"journal.sqlite", "manifest.json", "monitor-latch.json", "opening/records/one.json"}
    assert (manifest.entries, len(manifest.files)) == (20, 3)
    assert reader.verify(copy / "journal.sqlite", expect=manifest.last) == []
    assert all(not stat.S_IMODE(path.stat().st_mode) & 0o077 for path in (copy, *copy.rglob("*")))
    assert "secret" not in "".join(file.read_text(errors="replace") for file in copy.rglob("*.json"))


def test_a_copy_made_while_it_is_written_is_whole_up_to_some_entry(data: Path, tmp_path: Path) -> None:
    begun, enough = threading.Event(), threading.Event()

    def keep_writing() -> None:
        journal, n = Journal(data / "journal.sqlite"), 20
        while not enough.is_set():
            journal.append(Kind.CHANGE, {"n": n}, at=n, boot="b1", seq=n)
            begun.set()
            n += 1
        journal.close()

    writer = threading.Thread(target=keep_writing)
    writer.start()
    try:
        assert begun.wait(10)
        counts = []
        for n in range(5):
            copy, manifest = copies.backup(data, tmp_path / "copies", NOW + timedelta(seconds=n))
            assert copies.check(copy) == manifest
            counts.append(manifest.entries)
    finally:
        enough.set()
        writer.join()
    assert counts == sorted(counts)
    assert counts[0] > 20


def test_put_back_it_is_as_it_was_and_what_lay_there_is_kept_aside(data: Path, tmp_path: Path) -> None:
    copy, manifest = copies.backup(data, tmp_path / "copies", NOW)
    write(data / "journal.sqlite", 5, begin=20)
    later = reader.last(data / "journal.sqlite")
    put, aside = copies.restore(copy, data, NOW + timedelta(hours=1))
    assert put == manifest
    assert aside == data / "before-restore-20300601T053000Z"
    newest = reader.last(data / "journal.sqlite")
    assert newest is not None
    assert (newest.n, newest.hash) == (20, manifest.last)
    assert reader.last(aside / "journal.sqlite") == later
    write(data / "journal.sqlite", 3, begin=20)
    assert reader.verify(data / "journal.sqlite", expect=manifest.last) == []
    _, again = copies.backup(data, tmp_path / "copies", NOW + timedelta(hours=2))
    assert {kept.path for kept in again.files} == {kept.path for kept in manifest.files}


def test_a_copy_goes_into_a_folder_that_is_not_there_yet(data: Path, tmp_path: Path) -> None:
    copy, manifest = copies.backup(data, tmp_path / "copies", NOW)
    shutil.rmtree(data)
    assert copies.restore(copy, data, NOW) == (manifest, None)
    assert (data / "monitor-latch.json").read_text() == '{"tripped":true}'


@pytest.mark.parametrize("spoil", ["flip", "cut", "remove", "other", "manifest", "outside"])
def test_a_copy_that_is_not_whole_is_refused_and_touches_nothing(
    data: Path, tmp_path: Path, spoil: str
) -> None:
    copy, _ = copies.backup(data, tmp_path / "copies", NOW)
    file = copy / "journal.sqlite"
    content = bytearray(file.read_bytes())
    match spoil:
        case "flip":
            content[len(content) // 2] ^= 1
            file.write_bytes(content)
        case "cut":
            file.write_bytes(content[:-100])
        case "remove":
            (copy / "monitor-latch.json").unlink()
        case "other":
            (copy / "opening/records/one.json").write_text("{ }")
        case "manifest":
            (copy / "manifest.json").write_text("{")
        case _:
            told = json.loads((copy / "manifest.json").read_text())
            told["files"][0]["path"] = "../elsewhere"
            (copy / "manifest.json").write_text(json.dumps(told))
    before = {path: path.read_bytes() for path in data.rglob("*") if path.is_file()}
    with pytest.raises(BadInput):
        copies.restore(copy, data, NOW)
    assert {path: path.read_bytes() for path in data.rglob("*") if path.is_file()} == before


def test_a_rewritten_record_with_a_right_checksum_is_found_by_its_chain(data: Path, tmp_path: Path) -> None:
    copy, manifest = copies.backup(data, tmp_path / "copies", NOW)
    (copy / "journal.sqlite").unlink()
    write(copy / "journal.sqlite", 20, begin=100)
    told = json.loads((copy / "manifest.json").read_text())
    told["files"][0]["sha256"] = copies._digest(copy / "journal.sqlite")
    assert told["files"][0]["path"] == "journal.sqlite"
    (copy / "manifest.json").write_text(json.dumps(told))
    with pytest.raises(BadInput, match=manifest.last):
        copies.check(copy)


def test_a_record_that_is_not_whole_is_not_copied(data: Path, tmp_path: Path) -> None:
    raw = (data / "journal.sqlite").read_bytes()
    place = raw.index(b'{"n":7}')
    (data / "journal.sqlite").write_bytes(raw[:place] + b'{"n":8}' + raw[place + 7 :])
    with pytest.raises(BadInput, match="it was changed"):
        copies.backup(data, tmp_path / "copies", NOW)
    assert list((tmp_path / "copies").iterdir()) == []


def test_a_disk_that_takes_nothing_leaves_no_half_copy(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Unusable, match="No space left"):
        copies.backup(data, tmp_path / "copies", NOW)
    assert list((tmp_path / "copies").iterdir()) == []


def kerblight(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "signals.cli", "journal", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_verbs_back_up_and_restore_and_refuse_while_it_is_in_use(data: Path, tmp_path: Path) -> None:
    made = kerblight("backup", tmp_path / "copies", "--data", data, "--json")
    assert made.returncode == 0, made.stderr
    copy = json.loads(made.stdout)["copy"]
    journal = Journal(data / "journal.sqlite")
    refused = kerblight("restore", copy, "--data", data)
    assert refused.returncode == 2
    assert f"processes {os.getpid()} use the record" in " ".join(refused.stderr.replace("│", " ").split())
    journal.close()
    put = kerblight("restore", copy, "--data", data)
    assert put.returncode == 0, put.stderr
    assert "20 entries, 3 files" in put.stdout
    assert "what lay there: " in put.stdout
    fresh = kerblight("restore", copy, "--data", tmp_path / "fresh")
    assert fresh.returncode == 0, fresh.stderr
    assert "what lay there: " not in fresh.stdout
    assert kerblight("restore", tmp_path, "--data", data).returncode == 2
    assert kerblight("backup", tmp_path / "copies", "--data", tmp_path).returncode == 2
