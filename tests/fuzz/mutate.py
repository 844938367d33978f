"""Spoil an input: bits, bytes, pieces, JSON by its structure, text by its lines. All from one `Random`."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from typing import Any

JUNK: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**53 + 1, -(2**63), 10**400, 1e308, -0.0, 0.1, "", "a", "0", "null",
    "\u0000", "\ud7ff", "é" * 300, "x" * 5000, "../..", "a/b", "+", "#", "\u202e", "\n", [], {}, [[]], [{}],
    {"": ""}, {"a": {"a": {"a": {}}}}, [0] * 200,
)  # fmt: skip
BYTES = (
    b"",
    b"\x00",
    b"\xff",
    b"\xc3",
    b"\xed\xa0\x80",
    b"{",
    b"}",
    b"[" * 3000,
    b'"',
    b"\\",
    b"\\u0000",
    b"NaN",
    b"1e999",
    b"-",
    b"\r\n",
    b"=",
    b"[[",
    b",",
    b"# ",
    b"'''",
)
LONGEST = 100_000


def mutated(rng: random.Random, corpus: Sequence[bytes]) -> bytes:
    """Give one of a corpus, spoilt once to four times."""
    data = rng.choice(corpus)
    for _ in range(rng.choice((1, 1, 1, 2, 2, 3, 4))):
        data = rng.choice(WAYS)(rng, data, corpus)[:LONGEST]
    return data


def _bit(rng: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    if not data:
        return data
    spoilt = bytearray(data)
    spoilt[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(spoilt)


def _cut(rng: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    begin = rng.randrange(len(data) + 1)
    return data[:begin] + data[begin + rng.choice((1, 1, 2, 8, 64, len(data))) :]


def _put_in(rng: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice((*BYTES, rng.randbytes(rng.choice((1, 4, 16))))) + data[at:]


def _splice(rng: random.Random, data: bytes, corpus: Sequence[bytes]) -> bytes:
    other = rng.choice(corpus)
    return data[: rng.randrange(len(data) + 1)] + other[rng.randrange(len(other) + 1) :]


def _again(rng: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    begin = rng.randrange(len(data) + 1)
    piece = data[begin : begin + rng.randrange(1, 200)]
    return data[:begin] + piece * rng.choice((2, 2, 3, 50)) + data[begin:]


def _structure(rng: random.Random, data: bytes, corpus: Sequence[bytes]) -> bytes:
    """Change one value, name or branch of a JSON text; another text is spoilt by a line."""
    try:
        tree = json.loads(data)
    except (ValueError, RecursionError):
        return _line(rng, data, corpus)
    holders = list(_holders(tree))
    if not holders:
        return json.dumps(rng.choice(JUNK)).encode()
    holder = rng.choice(holders)
    key = rng.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
    match rng.randrange(5):
        case 0:
            del holder[key]
        case 1 if isinstance(holder, dict):
            holder[rng.choice(("", "extra", str(key) + "x", str(key).upper()))] = holder.pop(key)
        case 2 if isinstance(holder, list):
            holder.extend([holder[key]] * rng.choice((1, 20, 300)))
        case _:
            holder[key] = rng.choice(JUNK)
    return json.dumps(tree, ensure_ascii=bool(rng.randrange(2))).encode("utf-8", "surrogatepass")


def _holders(tree: Any) -> list[Any]:
    found, waiting = [], [tree]
    while waiting:
        one = waiting.pop()
        if isinstance(one, (dict, list)) and one:
            found.append(one)
            waiting.extend(one.values() if isinstance(one, dict) else one)
    return found


def _line(rng: random.Random, data: bytes, corpus: Sequence[bytes]) -> bytes:
    """Drop, double, move or change a line; of `name = value` and of a table's row the value alone too."""
    lines = data.split(b"\n")
    at = rng.randrange(len(lines))
    match rng.randrange(6):
        case 0:
            del lines[at]
        case 1:
            lines.insert(at, lines[at])
        case 2:
            lines.insert(rng.randrange(len(lines)), lines.pop(at))
        case 3:
            lines.insert(at, rng.choice(rng.choice(corpus).split(b"\n")))
        case 4 if b"=" in lines[at]:
            name = lines[at].split(b"=")[0]
            lines[at] = name + b"= " + json.dumps(rng.choice(JUNK)).encode()
        case _:
            cells = lines[at].split(b",")
            cells[rng.randrange(len(cells))] = str(rng.choice(JUNK)).encode("utf-8", "replace")
            lines[at] = b",".join(cells)
    return b"\n".join(lines)


WAYS: tuple[Callable[[random.Random, bytes, Sequence[bytes]], bytes], ...] = (
    _bit, _cut, _put_in, _splice, _again, _structure, _structure, _structure, _line,
)  # fmt: skip
