"""What the doctor sees of machine, clock, disk and keys, and that it sees what was spoilt."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from importlib.metadata import version
from pathlib import Path

import pytest

from signals.cli import data
from signals.doctor import certificates, clock, disk, machine, running, sockets
from signals.doctor.seen import Seen, falls_short
from signals.health.watch import Status, status_folder
from signals.journal import Journal, Kind
from tests.broker.site import make_keys
from tests.mqtt.small import small_venue

REAL = small_venue(simulated=False)
NOW = datetime(2030, 6, 1, 12, tzinfo=UTC)


def by_name(seen: list[Seen]) -> dict[str, Seen]:
    return {one.what: one for one in seen}


def test_whatever_is_not_well_says_how_to_mend_it(tmp_path: Path) -> None:
    seen = [*machine.look(), *clock.look(), *disk.look(tmp_path), *certificates.look(tmp_path)]
    assert {one.about for one in seen} == {"machine", "clock", "disk", "keys"}
    for one in seen:
        assert one.said, one
        assert bool(one.mend) is not one.ok, one


# --- machine


def test_a_package_that_is_missing_or_too_old_is_named_with_what_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = ["msgspec>=0.20", "numpy>=999", "no-such-thing>=2", "only-elsewhere>=1; sys_platform == 'none'"]
    monkeypatch.setattr(machine, "requires", lambda _: asked)
    seen = by_name(machine.look())
    assert seen["numpy"].said == version("numpy")
    assert seen["numpy"].mend == "pip install 'numpy>=999'"
    assert seen["no-such-thing"].said == "missing"
    assert seen["packages"].said.startswith("1 of 3 ")
    assert not {"msgspec", "only-elsewhere"} & set(seen)


def test_who_listens_is_told_with_its_address_and_process() -> None:
    with socket.socket() as here, socket.socket(socket.AF_INET6) as there:
        here.bind(("127.0.0.1", 0))
        there.bind(("::", 0))
        for each in (here, there):
            each.listen()
        ports = here.getsockname()[1], there.getsockname()[1]
        found = {each.port: each for each in sockets.listening()}
    assert (found[ports[0]].address, found[ports[0]].loopback) == ("127.0.0.1", True)
    assert (found[ports[1]].address, found[ports[1]].loopback) == ("::", False)
    assert "python" in found[ports[0]].process


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("0100007F", "127.0.0.1"),
        ("0A07A8C0", "192.168.7.10"),
        ("00000000000000000000000001000000", "::1"),
        ("0000000000000000FFFF00000100007F", "::ffff:127.0.0.1"),
    ],
)
def test_addresses_as_the_kernel_writes_them(written: str, meant: str) -> None:
    """As proc(5) has /proc/net/tcp on a little-endian machine."""
    read = sockets.address(written)
    assert socket.inet_pton(socket.AF_INET6 if ":" in meant else socket.AF_INET, read) == socket.inet_pton(
        socket.AF_INET6 if ":" in meant else socket.AF_INET, meant
    )


# --- disk


def test_a_folder_that_cannot_be_written_falls_short(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    (only,) = disk.look(tmp_path / "file" / "data")
    assert only.short
    assert "--data" in only.mend


def test_slow_syncs_and_little_room_fall_short(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk, "SYNC_MAX_S", 0.0)
    monkeypatch.setattr(disk, "ROOM_BYTES", 2**70)
    seen = by_name(disk.look(tmp_path))
    assert seen["sync"].short
    assert seen["room"].short
    assert [path.name for path in tmp_path.iterdir()] == []


@pytest.mark.parametrize(("kind", "needed"), [("tmpfs", False), ("nfs4", True), ("cifs", True)])
def test_a_file_system_a_record_cannot_stay_on_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, needed: bool
) -> None:
    monkeypatch.setattr(disk, "filesystem", lambda _: kind)
    seen = by_name(disk.look(tmp_path))["file system"]
    assert (seen.ok, seen.needed, seen.said) == (False, needed, kind)


def test_the_kind_of_file_system_is_the_deepest_mounts() -> None:
    assert disk.filesystem(Path("/proc/self")) == "proc"
    assert disk.filesystem(Path("/")) not in ("", "proc")


def test_what_others_can_read_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    assert not by_name(disk.look(tmp_path))["rights"].needed
    secret = tmp_path / "credentials.json"
    secret.write_text("{}")
    secret.chmod(0o644)
    assert by_name(disk.look(tmp_path))["rights"].mend == f"chmod 600 {secret}"
    secret.chmod(0o600)
    tmp_path.chmod(0o700)
    assert by_name(disk.look(tmp_path))["rights"].ok


def test_what_a_run_makes_for_its_record_nobody_else_can_look_into(tmp_path: Path) -> None:
    kept = os.umask(0o022)
    try:
        for made in (data.prepare(tmp_path / "made" / "var"), tmp_path / "looked-at"):
            assert by_name(disk.look(made))["rights"].said == "nobody else can look in"
    finally:
        os.umask(kept)
    assert (tmp_path / "made").stat().st_mode & 0o777 == 0o700
    tmp_path.chmod(0o755)
    data.prepare(tmp_path)
    assert tmp_path.stat().st_mode & 0o777 == 0o755, "what is there is its owner's to shut"


def test_a_record_is_counted_and_a_spoilt_one_falls_short(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    journal.append(Kind.CHANGE, {}, at=1, boot="b", seq=1)
    assert by_name(disk.look(tmp_path))["record"].said.startswith("1 entries")
    journal.close()
    (tmp_path / "journal.sqlite").write_bytes(b"something else")
    assert by_name(disk.look(tmp_path))["record"].short


# --- keys


def test_keys_are_told_by_holder_and_what_ends_soon_by_name(tmp_path: Path) -> None:
    make_keys(tmp_path, REAL, NOW)
    well = certificates.look(tmp_path, NOW)
    assert all(one.ok for one in well)
    assert {"controller", "panel", "broker", "list of the revoked"} <= {one.what for one in well}
    later = by_name(certificates.look(tmp_path, NOW + timedelta(days=10)))
    assert later["controller/controller"].said == "20 days left"
    assert "--renew" in later["controller/controller"].mend
    after = by_name(certificates.look(tmp_path, NOW + timedelta(days=31)))
    assert after["panel/post-p1"].said == "expired"
    (alone,) = certificates.look(tmp_path / "controller", NOW)
    assert (alone.what, alone.ok) == ("controller", True)


def test_each_way_to_spoil_keys_is_told(tmp_path: Path) -> None:
    make_keys(tmp_path, REAL, NOW)
    other = tmp_path.parent / f"{tmp_path.name}-other"
    make_keys(other, REAL, NOW)
    (tmp_path / "monitor/monitor.key").chmod(0o644)
    (tmp_path / "node-n1/node-n1.crt").write_bytes((other / "node-n1/node-n1.crt").read_bytes())
    (tmp_path / "node-n1/node-n1.key").write_bytes((other / "node-n1/node-n1.key").read_bytes())
    (tmp_path / "node-n2/node-n2.key").write_bytes((tmp_path / "node-k1/node-k1.key").read_bytes())
    for part in ("crt", "key"):
        (tmp_path / f"post-p1/post-p1.{part}").write_bytes((tmp_path / f"reader/reader.{part}").read_bytes())
    (tmp_path / "gateway/gateway.key").unlink()
    (tmp_path / "controller/ca.crt").write_text("nonsense")
    seen = by_name(certificates.look(tmp_path, NOW))
    assert seen["monitor/monitor"].said == "others can read its key"
    assert seen["monitor/monitor"].mend.startswith("chmod 600 ")
    assert seen["node-n1/node-n1"].said == "another authority signed it"
    assert seen["node-n2/node-n2"].said == "its key is another's"
    assert seen["post-p1/post-p1"].said == "it is reader's"
    assert "gateway.key" in seen["gateway/gateway"].said
    assert not seen["controller/ca.crt"].ok
    assert (
        "valid only from"
        in by_name(certificates.look(tmp_path, NOW - timedelta(days=2)))["reader/reader"].said
    )


# --- what runs


def test_a_process_that_went_silent_falls_short(tmp_path: Path) -> None:
    folder = status_folder(tmp_path)
    folder.mkdir()
    now_ms = round(datetime.now(UTC).timestamp() * 1000)
    for part, age_s, well in (("controller", 1, True), ("monitor", 2, False), ("nodes", 60, True)):
        status = Status(part, os.getpid(), now_ms - age_s * 1000, well, f"{part} says so")
        (folder / f"{part}.json").write_bytes(
            json.dumps({f: getattr(status, f) for f in status.__struct_fields__}).encode()
        )
    seen = by_name(running.look(tmp_path))
    assert (seen["controller"].ok, seen["controller"].said) == (True, "controller says so")
    assert (seen["monitor"].ok, seen["monitor"].short) == (False, False)
    assert seen["nodes"].short
    assert "said nothing for 60 s" in seen["nodes"].said


# --- the verb


def doctor(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "signals.cli", "doctor", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_verb_exits_with_1_where_something_needed_falls_short(tmp_path: Path) -> None:
    make_keys(tmp_path / "keys", REAL, datetime.now(UTC) - timedelta(days=25))
    came = doctor("--data", tmp_path / "data", "--keys", tmp_path / "keys", "--json")
    assert came.returncode == 1
    seen = [Seen(**one) for one in json.loads(came.stdout)]
    assert falls_short(seen)
    assert {one.about for one in seen if one.short} == {"keys"}
    told = doctor("--data", tmp_path / "data", "--keys", tmp_path / "keys")
    assert "→" in told.stdout
    assert "--renew" in told.stdout


def test_the_verb_exits_with_2_for_what_it_cannot_look_at(tmp_path: Path) -> None:
    assert doctor("--venue", tmp_path / "none.toml").returncode == 2
    assert doctor("--broker", "mqtts://host", "--data", tmp_path).returncode == 2
