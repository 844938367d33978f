"""What is kept of opening checks, in a folder: the walk under way, and every signed record.

`walk.json` is the walk under way, replaced as a whole at every answer; `sequences` has a file for every
cause as it was last tried; `records/RUN.json` is a signed check and `records/RUN.pdf` its printed form.
Nothing here deletes a record: they are to be kept for three calendar years at least (Ohio Admin. Code
901:9-1-45(D)(1), as quoted), and then it is the venue's own decision.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import msgspec

from signals.errors import BadInput, Finding, Unusable
from signals.files import own_folder
from signals.opening.sheet import Sheet

KEPT_YEARS = 3


class Book:
    """The folder of one venue's checks; one walk at a time is written in it (`held`)."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.records = folder / "records"
        self.sequences = folder / "sequences"
        self.walk = folder / "walk.json"

    @contextmanager
    def held(self) -> Iterator[None]:
        """Keep other walks out for as long as this one goes on; the kernel lets go however it ends.

        Raises:
            Unusable: another process walks, or the folder cannot be written.

        """
        try:
            own_folder(self.records)
            lock = (self.folder / "lock").open("a+", encoding="ascii")
        except OSError as error:
            raise Unusable(f"{self.folder}: {error.strerror}; give a folder that can be written") from error
        with lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                lock.seek(0)
                owner = lock.read().strip() or "unknown"
                right = "go on there, or end it first; nothing that was said is lost"
                raise Unusable(f"the walk is under way elsewhere (process {owner}): {right}") from None
            lock.truncate(0)
            lock.write(str(os.getpid()))
            lock.flush()
            yield

    def sheet(self) -> Sheet | None:
        """Give the walk under way, None where there is none. Raises BadInput for one that cannot be read."""
        return _read(self.walk) if self.walk.exists() else None

    def keep(self, sheet: Sheet) -> None:
        """Write the walk under way: it is on the disk, whole, when this returns. Raises Unusable."""
        _replace(self.walk, _encode(sheet))

    def file(self, sheet: Sheet) -> Path:
        """File a signed sheet as a record, and give its file; a record is never written twice."""
        path = self.records / f"{sheet.run}.json"
        if path.exists():
            raise Unusable(f"{path} is there already: a record is never written over")
        _replace(path, _encode(sheet))
        return path

    def signed(self) -> list[Sheet]:
        """Give every record, the oldest first. Raises BadInput naming every one that cannot be read."""
        found, wrong = [], []
        for path in sorted(self.records.glob("*.json")):
            try:
                found.append(_read(path))
            except BadInput as bad:
                wrong += bad.findings
        if wrong:
            raise BadInput(wrong)
        return sorted(found, key=lambda sheet: sheet.began_at)

    def printed(self, run: str) -> Path:
        """Give where a record's printed form is."""
        return self.records / f"{run}.pdf"


def digest_of(path: Path) -> str:
    """Give the SHA-256 (hex) of a record's file, as its entry in the journal names it."""
    return sha256(path.read_bytes()).hexdigest()


def _encode(sheet: Sheet) -> bytes:
    return msgspec.json.format(msgspec.json.encode(sheet), indent=1) + b"\n"


def _read(path: Path) -> Sheet:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Sheet)
    except (OSError, msgspec.DecodeError) as error:
        right = f"is no record of an opening check that can be read ({error})"
        raise BadInput([Finding(str(path), 0, "record", "", right)]) from None


def _replace(path: Path, text: bytes) -> None:
    """Replace a file as a whole, on the disk: a power cut leaves the old one or the new one."""
    fresh = path.with_suffix(".new")
    try:
        with fresh.open("wb") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        raise Unusable(f"{path}: {error.strerror}; nothing was recorded") from error
