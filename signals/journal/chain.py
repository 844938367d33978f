"""What an entry is and how entries are chained: `hash = SHA-256(previous + canonical JSON of the entry)`.

Canonical JSON: UTF-8, keys sorted, no spaces, the fields at, body, boot, kind, n, seq. Anyone can
check a journal without this package: the columns hold exactly the text that was hashed.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from hashlib import sha256
from typing import Any

import msgspec
from msgspec import Raw, Struct


class Kind(StrEnum):
    """What an entry records."""

    CALL = "call"
    ANSWER = "answer"
    CHANGE = "change"
    FAULT = "fault"
    BOOT = "boot"
    CHECK = "check"
    PLACE = "place"


GENESIS = "0" * 64
"""What the first entry names as the hash before it."""
APPLICATION_ID = 0x6B6A6E6C
"""Marks an SQLite file as a journal of this product ("kjnl")."""

SCHEMA = {
    "entry": (
        "CREATE TABLE entry (n INTEGER PRIMARY KEY AUTOINCREMENT, at INTEGER NOT NULL, boot TEXT NOT NULL,"
        " seq INTEGER NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL, previous TEXT NOT NULL,"
        " hash TEXT NOT NULL) STRICT"
    ),
    "entry_is_final": (
        "CREATE TRIGGER entry_is_final BEFORE UPDATE ON entry"
        " BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END"
    ),
    "entry_stays": (
        "CREATE TRIGGER entry_stays BEFORE DELETE ON entry"
        " BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END"
    ),
    # Also what keeps INSERT OR REPLACE out: a replaced row is deleted without its trigger.
    "entry_follows": (
        "CREATE TRIGGER entry_follows BEFORE INSERT ON entry"
        " WHEN NEW.n IS NOT (SELECT coalesce(max(n), 0) + 1 FROM entry)"
        " OR NEW.previous IS NOT"
        " (SELECT coalesce(max(hash), hex(zeroblob(32))) FROM entry WHERE n = NEW.n - 1)"
        " BEGIN SELECT RAISE(ABORT, 'an entry follows the last one'); END"
    ),
}
"""Name → statement. AUTOINCREMENT remembers the highest `n` ever: entries cut off the end are missed."""


class Draft(Struct, frozen=True, kw_only=True):
    """Something to record. `at` is UTC ms; `boot` and `seq` are those of the `state` it belongs to.

    `body` is an object of JSON values, or anything msgspec encodes as one (a message of the contract).
    """

    kind: Kind
    body: Any
    at: int
    boot: str
    seq: int


class Entry(Struct, frozen=True, kw_only=True):
    """One line of the record; `n` counts from 1 without gaps."""

    n: int
    at: int
    boot: str
    seq: int
    kind: Kind
    body: Mapping[str, Any]
    previous: str
    hash: str


class Row(Struct, frozen=True):
    """An entry as it is stored; `body` is canonical JSON text."""

    n: int
    at: int
    boot: str
    seq: int
    kind: str
    body: str
    previous: str
    hash: str

    def digest(self) -> str:
        """Give what `hash` must be, from every other column."""
        fields = {
            "at": self.at,
            "body": Raw(self.body.encode()),
            "boot": self.boot,
            "kind": self.kind,
            "n": self.n,
            "seq": self.seq,
        }
        return sha256(self.previous.encode() + canonical(fields)).hexdigest()

    def entry(self) -> Entry:
        """Decode the body; raises ValueError for a body that is no JSON object or an unknown kind."""
        body = msgspec.json.decode(self.body, type=dict[str, Any])
        return Entry(
            n=self.n,
            at=self.at,
            boot=self.boot,
            seq=self.seq,
            kind=Kind(self.kind),
            body=body,
            previous=self.previous,
            hash=self.hash,
        )


def canonical(value: object) -> bytes:
    """Encode as canonical JSON."""
    return msgspec.json.encode(value, order="sorted")


def chain(draft: Draft, n: int, previous: str) -> Row:
    """Make the row that records `draft` as number `n`, after the entry whose hash is `previous`."""
    body = canonical(draft.body).decode()
    unsigned = Row(n, draft.at, draft.boot, draft.seq, str(Kind(draft.kind)), body, previous, "")
    return msgspec.structs.replace(unsigned, hash=unsigned.digest())
