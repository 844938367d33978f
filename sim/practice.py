"""The practice file: what the referee saw and what befell the world, a JSON line each, in the data folder."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec
from msgspec import Struct

from signals.mqtt.contract import WorldFinding

NAME = "practice.jsonl"


class Began(Struct, frozen=True, kw_only=True, tag_field="kind", tag="began"):
    """The first line of each world: what it was begun with."""

    at_ms: int
    venue: str
    seed: int
    incidents: dict[str, float]
    """Events that chance brings, and how many of each an hour."""


class Seen(Struct, frozen=True, kw_only=True, tag_field="kind", tag="seen"):
    """What the referee saw; `time_s` is the world's own."""

    time_s: float
    finding: WorldFinding


class Happened(Struct, frozen=True, kw_only=True, tag_field="kind", tag="happened"):
    """Something befell the world, asked for or by chance; `kart` where it befell one."""

    at_ms: int
    time_s: float
    event: str
    kart: int | None


Line = Began | Seen | Happened


class Practice:
    """Appends lines to a file; each is on disk's way at once."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("ab")
        self._encode = msgspec.json.Encoder().encode

    def write(self, line: Line) -> None:
        """Append a line."""
        self._file.write(self._encode(line) + b"\n")
        self._file.flush()

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def __enter__(self) -> Self:
        """Give the open file."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file."""
        self.close()


def read(path: Path) -> list[Line]:
    """Read a practice file; raises msgspec.DecodeError where a line is none of ours."""
    decoder = msgspec.json.Decoder(Line)
    return [decoder.decode(line) for line in path.read_bytes().splitlines() if line]
