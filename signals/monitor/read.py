"""The monitor's own reader of the contract: plain `json` and a hand-written table of fields.

Shares nothing with the controller's decoder on purpose: a mistake there must not blind both.
Unknown, missing, doubled and wrong fields are refused.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from signals.errors import KerblightError

PAYLOAD_MAX = 65_536
"""Bytes; the largest `state` of a large venue takes a tenth of it."""

Check = Callable[[Any], bool]


class Unreadable(KerblightError, ValueError):
    """A message the monitor cannot take; says which field is wrong."""


def _text(pattern: str) -> Check:
    compiled = re.compile(pattern, re.DOTALL)
    return lambda value: isinstance(value, str) and compiled.fullmatch(value) is not None


def _whole(low: int, high: int = 2**53) -> Check:
    return lambda value: type(value) is int and low <= value <= high


def _number(low: float, high: float) -> Check:
    return lambda value: type(value) in (int, float) and low <= value <= high


def _flag(value: Any) -> bool:
    return value is True or value is False


def _word(*words: str) -> Check:
    return lambda value: isinstance(value, str) and value in words


def _or_null(check: Check) -> Check:
    return lambda value: value is None or check(value)


def _each(check: Check) -> Check:
    return lambda value: isinstance(value, list) and all(map(check, value))


def _by_name(check: Check) -> Check:
    return lambda value: isinstance(value, dict) and all(map(check, value.values()))


@dataclass(frozen=True, slots=True)
class Shape:
    """The fields of a message; those in `may` can be missing."""

    must: dict[str, Check]
    may: dict[str, Check]

    def wrong(self, value: Any) -> Iterable[str]:
        """Name what is wrong, field by field."""
        if not isinstance(value, dict):
            yield "no object"
            return
        yield from (f"{name} is missing" for name in self.must.keys() - value.keys())
        for name, content in value.items():
            check = self.must.get(name) or self.may.get(name)
            if check is None:
                yield f"{name} is unknown"
            elif not check(content):
                yield f"{name} is {json.dumps(content)[:40]}"

    def __call__(self, value: Any) -> bool:
        """Check it as a part of something larger."""
        return not any(True for _ in self.wrong(value))


def _shape(may: dict[str, Check] | None = None, /, **must: Check) -> Shape:
    return Shape(must, may or {})


_ANY: Check = lambda _: True  # noqa: E731 - a check like the others
_SEQ = _whole(1, 2**31 - 1)
_COUNT = _whole(0, 2**31 - 1)
_BOOT = _text("[a-z0-9]{4,16}")
_INC = _text("[a-z0-9]{0,16}")
_KMH = _number(0, 200)
_SAID = _text(".{0,200}")
_ID = _text("[a-z0-9-]{1,16}")
_LAMPS = _each(_text(".{1,40}"))
_ASPECT = _word("red", "yellow-flash", "yellow", "red-yellow", "number", "blue-flash", "dark", "green")
_PHASE = _word("closed", "test", "staging", "armed", "racing", "finishing")
_CONDITION = _word("stop", "caution", "finish", "clear")
_HOLD_KIND = _word("incident", "fire", "medical", "person-on-track", "equipment")

_HOLD = _shape(
    {"partner": _or_null(_SAID)},
    what=_word("stop", "caution", "recovery"),
    where=_or_null(_ID),
    kind=_or_null(_HOLD_KIND),
    post=_or_null(_text("E|[a-z0-9-]{1,16}")),
    reason=_text(".*"),
    since=_whole(0),
    id=_text(".*"),
)
_KART = _shape(
    place=_ID,
    call=_word("none", "move-over", "disqualified"),
    slowed=_word("none", "slow", "stop"),
    limit_kmh=_KMH,
    because=_ID,
    link=_flag,
    let_out=_flag,
    button=_flag,
)
_HEAD = _shape(
    {"number": _or_null(_whole(1, 999))},
    aspect=_ASPECT,
    shown=_or_null(_ASPECT),
    health=_word("ok", "lost", "out-of-service"),
)

SHAPES = {
    "beat": _shape(boot=_BOOT, seq=_SEQ, epoch=_COUNT, stop=_flag, test=_flag, at=_whole(0)),
    "state": _shape(
        boot=_BOOT,
        seq=_SEQ,
        epoch=_COUNT,
        at=_whole(0),
        phase=_PHASE,
        condition=_CONDITION,
        surface=_word("dry", "wet"),
        monitor=_word("ok", "lost", "tripped"),
        journal=_word("ok", "failed"),
        ready=_flag,
        sectors=_by_name(_CONDITION),
        holds=_each(_HOLD),
        karts=_by_name(_KART),
        heads=_by_name(_HEAD),
        faults=_each(_text(".*")),
    ),
    "aspect": _shape(
        {
            "flash": _or_null(_shape(period_ms=_whole(200, 5000), lit_ms=_whole(50, 5000))),
            "number": _or_null(_whole(1, 999)),
            "lamps": _or_null(_LAMPS),
        },
        boot=_BOOT,
        seq=_SEQ,
        epoch=_COUNT,
        inc=_INC,
        aspect=_ASPECT,
    ),
    "shown": _shape(
        {"flash_hz": _or_null(_number(0, 50))},
        boot=_BOOT,
        seq=_SEQ,
        beat_seq=_COUNT,
        after_ms=_whole(0),
        aspect=_ASPECT,
        driven=_LAMPS,
        proven=_or_null(_LAMPS),
    ),
    "limit": _shape(
        boot=_BOOT, seq=_SEQ, epoch=_COUNT, inc=_INC, limit_kmh=_KMH, boosts=_whole(0, 9), because=_ID
    ),
    "taken": _shape(boot=_BOOT, seq=_SEQ, beat_seq=_COUNT, limit_kmh=_KMH),
    "controller": _shape(status=_word("ready", "gone"), boot=_BOOT),
    "call": Shape(
        {"id": _text(".{1,36}"), "call": _ID},
        {
            **dict.fromkeys(
                ("kart", "karts", "entries", "to", "item", "kind", "partner", "checked", "aspect", "lamp"),
                _ANY,
            ),
            **dict.fromkeys(("limit_kmh", "verdict", "until", "reason", "by", "boot", "seq"), _ANY),
            "where": _text(".{1,40}"),
            "hold": _text(".{1,60}"),
            "head": _ID,
        },
    ),
    "answer": _shape(
        id=_text(".{1,36}"),
        accepted=_flag,
        recorded=_flag,
        refusals=_each(_shape(rule=_text(".*"), sentence=_text(".*"))),
        seq=_COUNT,
    ),
    "trip": _shape(
        tripped=_flag, what=_SAID, where=_text(".*"), due=_text(".*"), shown=_text(".*"), at=_whole(0)
    ),
    "reset": _shape(reason=_text(r".{0,199}\S.{0,199}")),
}
"""What each kind of message carries. Only `where`, `hold`, `head`, `id` and `call` of a call matter here."""


def decode(kind: str, payload: bytes) -> dict[str, Any]:
    """Read one message, or raise Unreadable with all that is wrong."""
    if len(payload) > PAYLOAD_MAX:
        raise Unreadable(f"{kind}: {len(payload)} bytes, at most {PAYLOAD_MAX} are read")
    try:
        message = json.loads(payload.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise Unreadable(f"{kind}: {error}") from None
    wrong = sorted(SHAPES[kind].wrong(message))
    if wrong:
        raise Unreadable(f"{kind}: {', '.join(wrong)}"[:500])
    fields: dict[str, Any] = message
    return fields


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    fields = dict(pairs)
    if len(fields) != len(pairs):
        raise ValueError("a field stands twice")
    return fields


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no number")
