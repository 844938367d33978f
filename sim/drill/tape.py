"""The tape of a drill: every message a screen would hear, with its time. Scores and replays are made of it.

Times are ms since the drill began; what was said before stands at negative times. Beside the venue's
own topics the tape holds what the drill says itself, below `drill/`: `cue` (something happened),
`mark` (a trainee touched what was seen), `act` (somebody walked, or pressed a box), `over`.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec import Struct

from signals.files import own_folder
from signals.words import HoldKind, Word

T = TypeVar("T")
CUE, MARK, ACT, RADIO, OVER = "drill/cue", "drill/mark", "drill/act", "drill/radio", "drill/over"


LIVE = "live-"
"""Ids of what an instructor threw in begin so."""


class Cue(Struct, frozen=True, kw_only=True):
    """Something happened: the event's id in the drill, what, to whom and where; `until_ms` where known."""

    id: str
    event: str
    kart: int | None = None
    where: str | None = None
    head: str | None = None
    input: str | None = None
    sign: bool = True
    until_ms: int | None = None
    said: str = ""
    about: str = ""
    post: str | None = None
    call: Word | None = None
    kind: HoldKind | None = None


class Mark(Struct, frozen=True, kw_only=True):
    """A trainee touched a sector or a kart: he has seen something there."""

    post: str
    where: str | None = None
    kart: int | None = None


class Act(Struct, frozen=True, kw_only=True):
    """A trainee did something that is no call: walked out, came back, pressed a call box."""

    post: str
    what: str
    where: str | None = None
    input: str | None = None


class Radio(Struct, frozen=True, kw_only=True):
    """Something was heard on the radio, shown as text."""

    text: str


class Line(Struct, frozen=True, array_like=True):
    """One message: when (ms since the drill began), its topic below the venue's root, its payload."""

    at_ms: int
    topic: str
    payload: bytes


class Head(Struct, frozen=True, kw_only=True):
    """What a tape is of."""

    drill: str
    venue: str
    seed: int
    seats: dict[str, str]
    """post -> whose"""
    lean: bool
    began_ms: int = 0
    """UTC."""


class Whole(Struct, frozen=True):
    """A tape as it is kept."""

    head: Head
    lines: list[Line]


@dataclass(slots=True)
class Tape:
    """A tape while it is written, or read back."""

    head: Head
    lines: list[Line] = field(default_factory=list)

    def add(self, at_ms: int, topic: str, payload: bytes) -> None:
        """Write a message down."""
        self.lines.append(Line(at_ms, topic, payload))

    def say(self, at_ms: int, topic: str, message: Struct) -> None:
        """Write down what the drill says itself."""
        self.add(at_ms, topic, msgspec.json.encode(message))

    def of(self, prefix: str, kind: type[T]) -> Iterator[tuple[int, str, T]]:
        """Give the messages of a topic, or below it: time, what follows the prefix, message."""
        decode = msgspec.json.Decoder(kind).decode
        for line in self.lines:
            if line.topic.startswith(prefix):
                yield line.at_ms, line.topic[len(prefix) :], decode(line.payload)

    @property
    def ends_ms(self) -> int:
        """When the drill was over."""
        return next((line.at_ms for line in reversed(self.lines) if line.topic == OVER), self._last_ms)

    @property
    def _last_ms(self) -> int:
        return self.lines[-1].at_ms if self.lines else 0

    def save(self, path: Path) -> None:
        """Keep it."""
        own_folder(path.parent)
        path.write_bytes(zlib.compress(msgspec.msgpack.encode(Whole(self.head, self.lines)), 6))


def read(path: Path) -> Tape:
    """Read a kept tape; raises ValueError where it is none."""
    try:
        whole = msgspec.msgpack.decode(zlib.decompress(path.read_bytes()), type=Whole)
    except (zlib.error, msgspec.DecodeError) as error:
        raise ValueError(f"{path} is no tape of a drill: {error}") from None
    return Tape(whole.head, whole.lines)


TAPED = (
    "state",
    "group",
    "world",
    "call/+",
    "answer/+",
    "monitor/trip",
    "monitor/status",
    "controller/status",
)
"""What every tape holds."""
SHOWN = ("head/+/shown",)
"""What a replay shows besides."""
