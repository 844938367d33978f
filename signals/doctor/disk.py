"""The data folder and the disk under it: room, rights, how long a sync takes, the record itself."""

from __future__ import annotations

import os
import shutil
import stat
import time
from pathlib import Path
from statistics import median

from signals.cli.data import credentials_file, journal_file
from signals.doctor.seen import Look, Seen
from signals.errors import BadInput
from signals.files import own_folder
from signals.journal import reader

ROOM_BYTES = 2**30
"""Less is soon used up by logs and pictures (typical, no source)."""
SYNCS, SYNC_BYTES = 20, 4096
SYNC_MAX_S = 0.25
"""A call is answered once it is on the disk; a second is the longest that is waited for."""
GOES_AWAY = frozenset({"tmpfs", "ramfs", "overlay"})
OVER_A_NETWORK = frozenset({"nfs", "nfs4", "cifs", "smb3", "9p", "fuse.sshfs"})
"""Where a write-ahead log cannot be trusted (sqlite.org, "Write-Ahead Logging", section 1)."""


def look(data: Path) -> list[Seen]:
    """Look at a data folder, making it if it is not there."""
    seen = Look("disk")
    try:
        own_folder(data)
        syncs_s = _syncs_s(data)
    except OSError as error:
        said = f"{data}: {error.strerror or error}"
        seen.at("data folder", False, said, "give --data a folder that can be written and has room")
        return seen.seen
    seen.at("data folder", True, str(data.resolve()))
    _medium(seen, data)
    slowest_s = max(syncs_s)
    said = f"{median(syncs_s) * 1000:.1f} ms, at most {slowest_s * 1000:.0f} ms (of {SYNCS})"
    seen.at("sync", slowest_s < SYNC_MAX_S, said, "use a faster disk, or take work off this one")
    _rights(seen, data)
    _record(seen, data)
    return seen.seen


def _syncs_s(data: Path) -> list[float]:
    """Write and sync as the journal does; gives how long each took."""
    probe = data / f".doctor-{os.getpid()}"
    taken_s = []
    try:
        with probe.open("wb") as file:
            for _ in range(SYNCS):
                begun_s = time.perf_counter()
                file.write(b"\0" * SYNC_BYTES)
                file.flush()
                os.fsync(file.fileno())
                taken_s.append(time.perf_counter() - begun_s)
    finally:
        probe.unlink(missing_ok=True)
    return taken_s


def _medium(seen: Look, data: Path) -> None:
    free = shutil.disk_usage(data).free
    mend = "make room, or give --data another disk"
    seen.at("room", free >= ROOM_BYTES, f"{free / 2**30:.1f} GiB free", mend)
    kind = filesystem(data)
    if kind in GOES_AWAY:
        mend = "give --data a folder on a disk: this one is gone when the power or the container is"
        seen.at("file system", False, kind, mend, needed=False)
    elif kind:
        mend = "give --data a folder on a disk of this machine: over a network the record cannot be trusted"
        seen.at("file system", kind not in OVER_A_NETWORK, kind, mend)


def filesystem(path: Path) -> str:
    """Give the kind of file system a path lies on; "" where the system does not tell."""
    best, kind = Path("/"), ""
    where = path.resolve()
    try:
        mounts = Path("/proc/self/mounts").read_text(encoding="utf-8").splitlines()
    except OSError:
        return ""
    for mount in mounts:
        _, place, its, *_ = mount.split()
        at = Path(place.replace("\\040", " "))
        if where.is_relative_to(at) and (len(at.parts) >= len(best.parts)):
            best, kind = at, its
    return kind


def _rights(seen: Look, data: Path) -> None:
    """Tell what others on this machine can read that is none of theirs."""
    secret = [file for file in (credentials_file(data),) if file.exists() and _others_read(file)]
    for file in secret:
        seen.at("rights", False, f"others can read {file}", f"chmod 600 {file}")
    if not secret:
        shut = not _others_read(data) or not _others_enter(data)
        said = "nobody else can look in" if shut else "others can read the record, with names of persons"
        seen.at("rights", shut, said, f"chmod 700 {data}", needed=False)


def _others_read(path: Path) -> bool:
    return bool(stat.S_IMODE(path.stat().st_mode) & stat.S_IROTH)


def _others_enter(path: Path) -> bool:
    return bool(stat.S_IMODE(path.stat().st_mode) & stat.S_IXOTH)


def _record(seen: Look, data: Path) -> None:
    path = journal_file(data)
    if not path.exists():
        seen.at("record", True, "none yet")
        return
    try:
        newest = reader.last(path)
    except BadInput as wrong:
        mend = (
            "kerblight journal verify names the first bad entry; kerblight journal restore puts a copy back"
        )
        seen.at("record", False, str(wrong.findings[0]), mend)
        return
    seen.at("record", True, f"{newest.n if newest else 0} entries, {path.stat().st_size / 2**20:.1f} MiB")
