"""Read and verify a journal; needs no writer and takes no lock that could hold one up."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Collection, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from signals.errors import BadInput, Finding
from signals.journal.chain import APPLICATION_ID, GENESIS, SCHEMA, Entry, Kind, Row

_COLUMNS = "n, at, boot, seq, kind, body, previous, hash"


def entries(path: Path, *, since: int | None = None, kind: Kind | None = None) -> Iterator[Entry]:
    """Read in order; `since` is the earliest `at` (UTC ms).

    Raises BadInput at once for a file that is no journal, and on the way for an entry that cannot be read.
    """
    connection = _connect(path)
    where, values = _filter(since, kind)
    query = f"SELECT {_COLUMNS} FROM entry{where} ORDER BY n"  # noqa: S608 (fixed texts only)
    return _decoded(connection, path, query, values)


def follow(path: Path, *, to_now: bool = False, every_s: float = 0.2) -> Iterator[Entry]:
    """Read in order, then wait for what is written next, as long as the caller asks; `to_now`: do not wait.

    Raises BadInput as `entries` does.
    """
    n = 0
    while True:
        query = f"SELECT {_COLUMNS} FROM entry WHERE n > :n ORDER BY n"  # noqa: S608 (fixed texts only)
        for entry in _decoded(_connect(path), path, query, {"n": n}):
            n = entry.n
            yield entry
        if to_now:
            return
        time.sleep(every_s)


def last(path: Path, kind: Kind | None = None) -> Entry | None:
    """Give the newest entry (of a kind), None where there is none. Raises BadInput as `entries` does."""
    connection = _connect(path)
    where, values = _filter(None, kind)
    query = f"SELECT {_COLUMNS} FROM entry{where} ORDER BY n DESC LIMIT 1"  # noqa: S608 (fixed texts only)
    return next(_decoded(connection, path, query, values), None)


def newest(
    path: Path, count: int, *, before: int | None = None, kinds: Collection[Kind] = frozenset(Kind)
) -> list[Entry]:
    """Give the last entries of some kinds, newest first; `before` is the number they come before.

    Raises BadInput as `entries` does.
    """
    connection = _connect(path)
    marks = ", ".join(f":kind{index}" for index, _ in enumerate(kinds))
    values: dict[str, Any] = {f"kind{index}": kind for index, kind in enumerate(kinds)}
    query = (
        f"SELECT {_COLUMNS} FROM entry WHERE kind IN ({marks}) AND (:before IS NULL OR n < :before)"  # noqa: S608 (fixed texts only)
        " ORDER BY n DESC LIMIT :count"
    )
    return list(_decoded(connection, path, query, {**values, "before": before, "count": count}))


def verify(path: Path, *, expect: str | None = None) -> list[Finding]:
    """Check every entry against its own hash and the one before; the first finding is the first bad entry.

    Finds entries that were changed, moved, put in or taken out, also at the end, a file cut short,
    and guards against change that were removed. A hash noted elsewhere and given as `expect` must be
    in the chain: only that finds a chain rewritten as a whole, or cut back together with its counter.
    `line` of a finding is the entry's number. Raises BadInput for a file that is no journal.
    """
    try:
        connection = _connect(path)
    except _Damaged as damaged:
        return damaged.findings
    with closing(connection):
        check = _Verification(str(path), expect)
        try:
            for row in connection.execute(f"SELECT {_COLUMNS} FROM entry ORDER BY n"):  # noqa: S608
                check.take(Row(*row))
            check.end(connection)
        except sqlite3.Error as error:
            check.unreadable(error)
        return check.findings


class _Damaged(BadInput):
    """It was a journal once: cut short, or overwritten at its beginning."""


class _Verification:
    """Walks the chain; keeps what the next entry must be."""

    def __init__(self, file: str, expect: str | None) -> None:
        self.file = file
        self.findings: list[Finding] = []
        self._expect = expect
        self._n = 0
        self._hash = GENESIS

    def take(self, row: Row) -> None:
        if row.n != self._n + 1:
            self._find(
                row.n, "n", str(row.n), f"{self._n + 1} follows {self._n}: entries are missing between"
            )
        elif row.previous != self._hash:
            self._find(row.n, "previous", row.previous, f"must be the hash of the entry before, {self._hash}")
        due = row.digest()
        if row.hash != due:
            self._find(row.n, "hash", row.hash, f"what the entry says now has the hash {due}: it was changed")
        self._n, self._hash = row.n, row.hash
        if row.hash == self._expect:
            self._expect = None

    def end(self, connection: sqlite3.Connection) -> None:
        written = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'entry'").fetchone()
        if written and written[0] != self._n:
            right = f"{written[0]} were written: entries after {self._n} are missing"
            self._find(self._n + 1, "last n", str(self._n), right)
        if self._expect:
            self._find(0, "noted hash", self._expect, "is nowhere in this journal")
        self._guards(connection)
        for (said,) in connection.execute("PRAGMA integrity_check(10)"):
            if said != "ok":
                self._find(0, "file", str(said), "the file itself is damaged")

    def _guards(self, connection: sqlite3.Connection) -> None:
        stand = dict(connection.execute("SELECT name, sql FROM sqlite_schema"))
        for name, statement in SCHEMA.items():
            if stand.get(name) != statement:
                self._find(0, name, str(stand.get(name)), f"must be: {statement}")

    def unreadable(self, error: sqlite3.Error) -> None:
        self._find(self._n + 1, "entry", f"unreadable ({error})", f"entries are whole up to {self._n}")

    def _find(self, n: int, key: str, value: str, right: str) -> None:
        self.findings.append(Finding(self.file, n, key, value, right))


def _filter(since: int | None, kind: Kind | None) -> tuple[str, dict[str, Any]]:
    terms = [text for text, value in (("at >= :since", since), ("kind = :kind", kind)) if value is not None]
    return (" WHERE " + " AND ".join(terms) if terms else ""), {"since": since, "kind": kind}


def _decoded(
    connection: sqlite3.Connection, path: Path, query: str, values: dict[str, Any]
) -> Iterator[Entry]:
    n = 0
    with closing(connection):
        try:
            for row in connection.execute(query, values):
                entry = Row(*row).entry()
                n = entry.n
                yield entry
        except (sqlite3.Error, ValueError) as error:
            raise _bad(
                path, f"after entry {n}", str(error), "check it with: kerblight journal verify"
            ) from error


def _connect(path: Path) -> sqlite3.Connection:
    """Open for reading; raises BadInput for what is no journal."""
    if not path.is_file():
        raise _bad(path, "journal", "missing", "no such file; --data names the data directory of a run")
    try:
        connection = _opened(path)
    except sqlite3.Error as error:
        findings = [
            _finding(path, "journal", f"unreadable ({error})", "must be a whole journal of kerblight")
        ]
        damaged = error.sqlite_errorcode == sqlite3.SQLITE_CORRUPT
        raise (_Damaged if damaged else BadInput)(findings) from error
    (found,) = connection.execute("PRAGMA application_id").fetchone()
    if found != APPLICATION_ID:
        connection.close()
        raise _bad(path, "application id", str(found), f"must be {APPLICATION_ID}: this is no journal")
    return connection


def _opened(path: Path) -> sqlite3.Connection:
    """Open beside a running writer, or, on a medium that cannot be written, as it lies there."""
    uri = path.resolve().as_uri()
    wal = path.with_name(path.name + "-wal")
    try:
        return _tried(f"{uri}?mode=ro")
    except sqlite3.OperationalError:
        if wal.exists() and wal.stat().st_size:
            raise  # its newest entries are in there: reading without them would be a lie
        return _tried(f"{uri}?mode=ro&immutable=1")


def _tried(uri: str) -> sqlite3.Connection:
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA application_id").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def _finding(path: Path, key: str, value: str, right: str) -> Finding:
    return Finding(str(path), 0, key, value, right)


def _bad(path: Path, key: str, value: str, right: str) -> BadInput:
    return BadInput([_finding(path, key, value, right)])
