"""What was played of a study, kept line by line, so that a study goes on where it was ended."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec
from msgspec import Struct

from sim.study.work import Piece


class Line(Struct, frozen=True):
    """One piece that was played; measures that were not reached are null."""

    cell: int
    first: int
    measures: list[list[float | None]]


class Store:
    """A study's results in a file; what a kill cut short is dropped when it is read again."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.done: dict[Piece, list[list[float | None]]] = {}
        whole = 0
        for end, line in _lines(path):
            self.done[Piece(line.cell, line.first, len(line.measures))] = line.measures
            whole = end
        path.parent.mkdir(parents=True, exist_ok=True)
        self._file = path.open("ab")
        self._file.truncate(whole)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def keep(self, piece: Piece, measures: list[tuple[float, ...]]) -> None:
        """Keep a piece that was played; it is on the disk when this returns."""
        rows = [[None if value != value else value for value in row] for row in measures]  # noqa: PLR0124 - NaN
        self._file.write(msgspec.json.encode(Line(piece.cell, piece.first, rows)) + b"\n")
        self._file.flush()
        os.fsync(self._file.fileno())
        self.done[piece] = rows

    def of(self, cell: int) -> list[list[float | None]]:
        """Give the measures of a cell's sessions, in the order of their seeds, each once.

        Pieces overlap where a study was played anew with more sessions.
        """
        by_seed = {
            piece.first + number: row
            for piece, rows in self.done.items()
            if piece.cell == cell
            for number, row in enumerate(rows)
        }
        return [by_seed[seed] for seed in sorted(by_seed)]


def _lines(path: Path) -> Iterator[tuple[int, Line]]:
    """Give the whole lines of a file, each with where it ends."""
    if not path.exists():
        return
    end = 0
    for raw in path.read_bytes().splitlines(keepends=True):
        try:
            line = msgspec.json.decode(raw, type=Line)
        except msgspec.DecodeError:
            return
        if not raw.endswith(b"\n"):
            return
        end += len(raw)
        yield end, line
