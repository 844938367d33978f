"""Whole, checked copies of a data folder: made while a venue runs, put back while none does.

A copy holds what cannot be made anew: the record and whatever else lies there. Left out are secrets that a
run makes by itself, sign-ins, logs, and what only means something while a process lives.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from hashlib import file_digest
from importlib.metadata import version
from pathlib import Path

import msgspec
from msgspec import Struct

from signals.errors import BadInput, Finding, Unusable
from signals.files import OWN, own_folder, sync_folder, write_whole
from signals.journal import reader

JOURNAL = "journal.sqlite"
MANIFEST = "manifest.json"
SQLITE = b"SQLite format 3\0"
LEFT_OUT = (
    *("logs", "status", "lock", "broker", "broker.log", "credentials.json", "panel-sessions.json"),
    *("mosquitto.acl", "mosquitto.conf", "mosquitto.users"),
)
"""Names at the top of a data folder."""
OF_SQLITE = ("-wal", "-shm", "-journal")
"""Ends of the names of files that belong to another: the copy holds what is in them."""


class Kept(Struct, frozen=True):
    """One file of a copy: its path below the folder, its size and SHA-256."""

    path: str
    size_bytes: int
    sha256: str


class Manifest(Struct, frozen=True):
    """What a copy holds; `entries` and `last` are the record's count and newest hash."""

    made: str
    version: str
    entries: int
    last: str
    files: tuple[Kept, ...]


def backup(data: Path, into: Path, now: datetime) -> tuple[Path, Manifest]:
    """Copy a data folder into a new folder below `into`; nothing is left of a copy that did not come about.

    Raises:
        BadInput: there is no record, or it is not whole.
        Unusable: something cannot be read or written.

    """
    target = into / f"kerblight-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    partial = target.with_name(f".{target.name}")
    if target.exists():
        raise Unusable(f"{target} is there already; wait a second, or give another folder")
    try:
        into.mkdir(parents=True, exist_ok=True)
        partial.mkdir(mode=OWN)
        manifest = _copied(data, partial, now)
        partial.rename(target)
        sync_folder(into)
    except (OSError, sqlite3.Error) as error:
        shutil.rmtree(partial, ignore_errors=True)
        raise Unusable(f"the copy in {into} did not come about: {error}") from error
    except BaseException:
        shutil.rmtree(partial, ignore_errors=True)
        raise
    return target, manifest


def check(copy: Path) -> Manifest:
    """Check a copy: every file is there as it was copied, and the record is whole up to its last entry.

    Raises:
        BadInput: it is not; names every file.

    """
    manifest = _manifest(copy)
    findings = [
        Finding(str(copy / kept.path), 0, "sha256", seen or "missing", f"must be {kept.sha256}")
        for kept in manifest.files
        if (seen := _seen(copy / kept.path)) != kept.sha256
    ]
    if not findings:
        findings = reader.verify(copy / JOURNAL, expect=manifest.last if manifest.entries else None)
    if findings:
        raise BadInput(findings)
    return manifest


def restore(copy: Path, data: Path, now: datetime) -> tuple[Manifest, Path | None]:
    """Put a checked copy into a data folder; gives where what lay there was moved to, None if nothing did.

    Whoever calls this has seen to it that nothing uses the folder (`in_use`).

    Raises:
        BadInput: the copy is not whole; nothing was touched.
        Unusable: something cannot be read or written.

    """
    manifest = check(copy)
    try:
        own_folder(data)
        aside = _set_aside(data, data / f"before-restore-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}")
        for kept in manifest.files:
            (data / kept.path).parent.mkdir(parents=True, exist_ok=True)
            _copy(copy / kept.path, data / kept.path)
        sync_folder(data)
    except OSError as error:
        raise Unusable(f"{copy} could not be put into {data}: {error}") from error
    return manifest, aside


def in_use(data: Path) -> list[int]:
    """Give the processes that have the record open, as far as this user can see (Linux)."""
    record = data / JOURNAL
    if not record.exists():
        return []
    wanted = {str(record.resolve()), f"{record.resolve()}-wal", f"{record.resolve()}-shm"}
    return sorted({int(fd.parts[2]) for fd in _open_files() if _leads_to(fd) in wanted})


def _open_files() -> Iterator[Path]:
    for folder in Path("/proc").glob("[0-9]*/fd"):
        try:
            yield from folder.iterdir()
        except OSError:
            continue  # ended meanwhile, or another user's


def _leads_to(fd: Path) -> str:
    try:
        return str(fd.readlink())
    except OSError:
        return ""


def _copied(data: Path, target: Path, now: datetime) -> Manifest:
    if not (data / JOURNAL).is_file():
        right = "must be there; --data names the data folder of a run"
        raise BadInput([Finding(str(data / JOURNAL), 0, "journal", "missing", right)])
    paths = sorted(_worth_keeping(data))
    for path in paths:
        for folder in reversed(path.parents[:-1]):
            (target / folder).mkdir(exist_ok=True, mode=OWN)
        _copy(data / path, target / path)
    if findings := reader.verify(target / JOURNAL):
        raise BadInput(findings)
    newest = reader.last(target / JOURNAL)
    manifest = Manifest(
        made=now.astimezone(UTC).isoformat(timespec="seconds"),
        version=version("kerblight"),
        entries=newest.n if newest else 0,
        last=newest.hash if newest else "",
        files=tuple(_kept(target, path) for path in paths),
    )
    write_whole(target / MANIFEST, msgspec.json.format(msgspec.json.encode(manifest), indent=1))
    return manifest


def _worth_keeping(data: Path) -> Iterator[Path]:
    """Give paths below the folder."""
    for folder, _, names in os.walk(data):
        for name in names:
            file = Path(folder) / name
            path = file.relative_to(data)
            transient = name.endswith(OF_SQLITE) or path.suffix == ".new" or path.name == "lock"
            other = path.parts[0] in LEFT_OUT or path.parts[0].startswith("before-restore-")
            if not transient and not other and file.is_file() and not file.is_symlink():
                yield path


def _copy(source: Path, target: Path) -> None:
    """Copy a file, to the disk; a database as of one instant, whoever writes to it meanwhile."""
    with source.open("rb") as file:
        is_database = file.read(len(SQLITE)) == SQLITE
    if is_database:
        with (
            closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)) as there,
            closing(sqlite3.connect(target)) as here,
        ):
            there.backup(here)
            here.execute("PRAGMA journal_mode = DELETE")  # one file, also once somebody has read it
    else:
        shutil.copyfile(source, target)
    target.chmod(0o600)
    with target.open("rb") as file:
        os.fsync(file.fileno())


def _kept(folder: Path, path: Path) -> Kept:
    file = folder / path
    return Kept(str(path), file.stat().st_size, _digest(file))


def _digest(file: Path) -> str:
    with file.open("rb") as content:
        return file_digest(content, "sha256").hexdigest()


def _seen(file: Path) -> str:
    try:
        return _digest(file)
    except OSError:
        return ""


def _manifest(copy: Path) -> Manifest:
    right = "must be what `kerblight journal backup` made"
    try:
        manifest = msgspec.json.decode((copy / MANIFEST).read_bytes(), type=Manifest)
    except FileNotFoundError:
        raise BadInput([Finding(str(copy / MANIFEST), 0, "manifest", "missing", right)]) from None
    except (OSError, msgspec.DecodeError) as wrong:
        raise BadInput([Finding(str(copy / MANIFEST), 0, "manifest", str(wrong), right)]) from None
    paths = [Path(kept.path) for kept in manifest.files]
    if Path(JOURNAL) not in paths or any(path.is_absolute() or ".." in path.parts for path in paths):
        raise BadInput([Finding(str(copy / MANIFEST), 0, "files", "", right)])
    return manifest


def _set_aside(data: Path, aside: Path) -> Path | None:
    """Move all that lies in a folder away, the record's companions with it; nothing is thrown away."""
    lying: Sequence[Path] = [
        path
        for path in data.iterdir()
        if path.name != "lock" and not path.name.startswith("before-restore-") and not _bare(path)
    ]
    if not lying:
        return None
    aside.mkdir(mode=OWN)
    for path in lying:
        path.rename(aside / path.name)
    return aside


def _bare(path: Path) -> bool:
    """Whether it is the empty folder of logs that taking the lock leaves."""
    return path.name == "logs" and path.is_dir() and not any(path.iterdir())
