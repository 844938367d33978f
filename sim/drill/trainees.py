"""Who practised what, and how it went: a local SQLite database. A name is all it knows of anybody.

One file in the data folder. `export` gives all there is about a trainee, `forget` deletes it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec
from msgspec import Struct

from signals.errors import Unusable
from signals.files import own_folder
from sim.drill.score import Score

NAME = "trainees.sqlite"
NAME_MAX = 40
VERSION = 1
_SCHEMA = """
create table trainee (
    id integer primary key, name text not null unique collate nocase, since_ms integer not null
);
create table run (
    id integer primary key,
    trainee integer not null references trainee on delete cascade,
    drill text not null, at_ms integer not null, percent real not null, passed integer not null,
    score blob not null
);
create index run_of on run (trainee, drill, at_ms);
create table quiz (
    trainee integer not null references trainee on delete cascade,
    at_ms integer not null, asked integer not null, correct integer not null
);
create table card (
    trainee integer not null references trainee on delete cascade,
    drill text not null, due_ms integer not null, card text not null,
    primary key (trainee, drill)
);
"""


class Run(Struct, frozen=True, kw_only=True):
    """One drill, played: `number` counts all runs of the database."""

    number: int
    at_ms: int
    score: Score


class Kept(Struct, frozen=True, kw_only=True):
    """A drill's place in the spaced repetition: when it is due, and what the scheduler remembers."""

    drill: str
    due_ms: int
    card: str


class Quizzed(Struct, frozen=True, kw_only=True):
    """A quiz that was answered."""

    at_ms: int
    asked: int
    right: int


class Everything(Struct, frozen=True, kw_only=True):
    """All there is about a trainee."""

    name: str
    since_ms: int
    runs: tuple[Run, ...]
    cards: tuple[Kept, ...]
    quizzes: tuple[Quizzed, ...]


class Trainees:
    """The database, as a context; made where it is not there.

    Raises:
        Unusable: the file is no such database, or of a newer version.

    """

    def __init__(self, path: Path) -> None:
        own_folder(path.parent)
        self._path = path
        self._db = sqlite3.connect(path, isolation_level=None)
        try:
            self._begin()
        except sqlite3.DatabaseError as error:
            self._db.close()
            raise Unusable(f"{path} is no database of trainees: {error}") from None

    def _begin(self) -> None:
        self._db.execute("pragma foreign_keys = on")
        self._db.execute("pragma journal_mode = wal")
        (version,) = self._db.execute("pragma user_version").fetchone()
        if version == 0:
            self._db.executescript(f"begin; {_SCHEMA} pragma user_version = {VERSION}; commit;")
        elif version != VERSION:
            self._db.close()
            raise Unusable(f"{self._path} is of version {version}; this kerblight reads version {VERSION}")

    def __enter__(self) -> Self:
        """Give the open database."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Close it."""
        self._db.close()

    def names(self) -> list[str]:
        """Give everybody there is, by name."""
        return [name for (name,) in self._db.execute("select name from trainee order by name")]

    def meet(self, name: str, now_ms: int) -> str:
        """Give the name as it was first written, and note who is new."""
        self._db.execute("insert or ignore into trainee (name, since_ms) values (?, ?)", (name, now_ms))
        (known,) = self._db.execute("select name from trainee where name = ?", (name,)).fetchone()
        return str(known)

    def add(self, name: str, score: Score, at_ms: int) -> Run:
        """Keep a run."""
        self.meet(name, at_ms)
        row = (self._id(name), score.drill, at_ms, score.percent, score.passed, msgspec.json.encode(score))
        added = self._db.execute(
            "insert into run (trainee, drill, at_ms, percent, passed, score) values (?, ?, ?, ?, ?, ?)", row
        )
        return Run(number=int(added.lastrowid or 0), at_ms=at_ms, score=score)

    def runs(self, name: str, drill: str | None = None) -> Iterator[Run]:
        """Give somebody's runs, of one drill or of all, oldest first."""
        rows = self._db.execute(
            "select run.id, at_ms, score from run join trainee on trainee.id = run.trainee "
            "where name = ? and (? is null or drill = ?) order by at_ms, run.id",
            (name, drill, drill),
        )
        for number, at_ms, score in rows:
            yield Run(number=number, at_ms=at_ms, score=msgspec.json.decode(score, type=Score))

    def best(self, name: str) -> dict[str, float]:
        """Give somebody's best mark in every drill, percent."""
        return dict(
            self._db.execute(
                "select drill, max(percent) from run join trainee on trainee.id = run.trainee "
                "where name = ? group by drill",
                (name,),
            )
        )

    def cards(self, name: str) -> dict[str, Kept]:
        """Give what the spaced repetition remembers, by drill."""
        rows = self._db.execute(
            "select drill, due_ms, card from card join trainee on trainee.id = card.trainee where name = ?",
            (name,),
        )
        return {drill: Kept(drill=drill, due_ms=due_ms, card=card) for drill, due_ms, card in rows}

    def keep(self, name: str, kept: Kept) -> None:
        """Keep a drill's place in the spaced repetition."""
        self._db.execute(
            "insert into card (trainee, drill, due_ms, card) values (?, ?, ?, ?) "
            "on conflict (trainee, drill) do update set due_ms = excluded.due_ms, card = excluded.card",
            (self._id(name), kept.drill, kept.due_ms, kept.card),
        )

    def export(self, name: str) -> Everything | None:
        """Give all there is about somebody; None where nobody of that name practised."""
        row = self._db.execute("select name, since_ms from trainee where name = ?", (name,)).fetchone()
        if row is None:
            return None
        return Everything(
            name=row[0],
            since_ms=row[1],
            runs=tuple(self.runs(name)),
            cards=tuple(self.cards(name).values()),
            quizzes=tuple(self.quizzes(name)),
        )

    def quizzed(self, name: str, asked: int, right: int, at_ms: int) -> None:
        """Keep what came of a quiz."""
        self.meet(name, at_ms)
        self._db.execute("insert into quiz values (?, ?, ?, ?)", (self._id(name), at_ms, asked, right))

    def quizzes(self, name: str) -> Iterator[Quizzed]:
        """Give somebody's quizzes, oldest first."""
        rows = self._db.execute(
            "select at_ms, asked, correct from quiz join trainee on trainee.id = quiz.trainee "
            "where name = ? order by at_ms",
            (name,),
        )
        for at_ms, asked, right in rows:
            yield Quizzed(at_ms=at_ms, asked=asked, right=right)

    def forget(self, name: str) -> bool:
        """Delete all there is about somebody, on the disk too; False where nobody of that name practised."""
        deleted = self._db.execute("delete from trainee where name = ?", (name,)).rowcount > 0
        self._db.execute("pragma wal_checkpoint(truncate)")
        self._db.execute("vacuum")
        return deleted

    def _id(self, name: str) -> int:
        (number,) = self._db.execute("select id from trainee where name = ?", (name,)).fetchone()
        return int(number)
