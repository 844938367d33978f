"""`Journal`: the only thing that writes the record. An entry is on the disk when `append` returns."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec

from signals.errors import KerblightError
from signals.journal import reader
from signals.journal.chain import APPLICATION_ID, GENESIS, SCHEMA, Draft, Entry, Kind, Row, chain

_INSERT = "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
_BUSY_S = 1.0


class JournalFailed(KerblightError, OSError):
    """The record could not be written: nothing of what was asked is known to be on the disk."""


class Journal:
    """An append-only SQLite file (write-ahead log, synced at every append) with a hash chain.

    May be used from one thread at a time, not always the same. After a failure the file is opened
    anew by the next append, so that a disk that has room again, or is back, is used again.
    A second writer is not kept out here but by the lock of the data directory; should one slip in,
    the chain still holds: every append reads the last entry under the file's write lock.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._open: sqlite3.Connection | None = None
        with self._failures("opened"):
            self._connection()

    def append(self, kind: Kind, body: Any, *, at: int, boot: str, seq: int) -> Entry:
        """Record one thing; durable when it returns. Raises JournalFailed."""
        (entry,) = self.append_many([Draft(kind=kind, body=body, at=at, boot=boot, seq=seq)])
        return entry

    def append_many(self, drafts: Iterable[Draft]) -> tuple[Entry, ...]:
        """Record all or nothing, in order, with one sync. Raises JournalFailed."""
        with self._failures("written"):
            connection = self._connection()
            connection.execute("BEGIN IMMEDIATE")
            rows = tuple(_chained(drafts, *_last_of(connection)))
            connection.executemany(_INSERT, map(msgspec.structs.astuple, rows))
            connection.execute("COMMIT")
        return tuple(row.entry() for row in rows)

    def entries(self, *, since: int | None = None, kind: Kind | None = None) -> Iterator[Entry]:
        """Read in order; `since` is the earliest `at` (UTC ms)."""
        return reader.entries(self.path, since=since, kind=kind)

    def last(self, kind: Kind | None = None) -> Entry | None:
        """Give the newest entry (of a kind)."""
        return reader.last(self.path, kind)

    def close(self) -> None:
        """Let go of the file; the next append would open it again."""
        connection, self._open = self._open, None
        if connection is not None:
            connection.close()

    def _connection(self) -> sqlite3.Connection:
        if self._open is None:
            connection = sqlite3.connect(
                self.path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False
            )
            try:
                _prepare(connection)
            except BaseException:
                connection.close()
                raise
            self._open = connection
        return self._open

    @contextmanager
    def _failures(self, done: str) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, OSError) as error:
            self._drop()
            raise JournalFailed(f"the journal {self.path} could not be {done}: {error}") from error
        except BaseException:
            self._drop()
            raise

    def _drop(self) -> None:
        """Close whatever state the connection is in; an open transaction is rolled back by that."""
        try:
            self.close()
        except sqlite3.Error:
            self._open = None


def _prepare(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("BEGIN IMMEDIATE")
    if not connection.execute("SELECT 1 FROM sqlite_schema").fetchone():
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        for statement in SCHEMA.values():
            connection.execute(statement)
    connection.execute("COMMIT")
    (found,) = connection.execute("PRAGMA application_id").fetchone()
    if found != APPLICATION_ID:
        raise sqlite3.DatabaseError("this file is a database of something else")


def _last_of(connection: sqlite3.Connection) -> tuple[int, str]:
    row = connection.execute("SELECT n, hash FROM entry ORDER BY n DESC LIMIT 1").fetchone()
    return row or (0, GENESIS)


def _chained(drafts: Iterable[Draft], n: int, previous: str) -> Iterator[Row]:
    for draft in drafts:
        n += 1
        row = chain(draft, n, previous)
        previous = row.hash
        yield row
