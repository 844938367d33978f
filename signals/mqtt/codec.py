"""Bytes to messages and back: strict where the controller and the screens read, lenient in nodes.

Strict: one JSON object in UTF-8, at most `most_bytes` long, every field known, given once, of
its type and within its range. What fails is `Malformed` with a sentence for the log. Lenient: the
same, but fields a node does not know are dropped. Also the order of messages: `next_seq`,
`is_newer`, `Newest`.
"""

from __future__ import annotations

import json
import re
import types
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import Annotated, Any, TypeVar, Union, cast, get_args, get_origin

import msgspec
from msgspec import Struct

from signals.errors import KerblightError
from signals.mqtt.contract import (
    NODE_MESSAGE_MAX,
    PAYLOAD_MAX,
    SCREEN_MAX,
    Group,
    Message,
    State,
    WorldView,
)

SEQ_MAX = 2**31 - 1
BOOTS_KEPT = 4
"""Boots of one sender whose newest message is remembered per topic."""

_CONTROL = re.compile(r"(?<!\\)(?:\\\\)*\\(?:[bfnrt]|u00[01][0-9a-fA-F]|u007[fF])")

M = TypeVar("M", bound=Message)


class Malformed(KerblightError, ValueError):
    """A message that cannot be taken; says why in a sentence."""


def encode(message: Message) -> bytes:
    """Write a message as JSON in UTF-8, without spaces."""
    return _ENCODER.encode(message)


def encode_for_node(topic: str, message: Message) -> bytes:
    """Write a message a node reads; ValueError if it and its topic exceed `NODE_MESSAGE_MAX` bytes.

    With ids and numbers inside the contract's bounds that cannot happen (a test proves it).
    """
    payload = encode(message)
    size = len(topic.encode()) + len(payload)
    if size > NODE_MESSAGE_MAX:
        raise ValueError(f"{topic}: {size} bytes, a node takes at most {NODE_MESSAGE_MAX}")
    return payload


def decode(kind: type[M], payload: bytes) -> M:
    """Read a message strictly, or raise `Malformed`."""
    text = _text(payload, most_bytes(kind))
    try:
        message = cast("M", _decoder(kind).decode(text))
        _KEYS_ONCE.decode(text)
    except (msgspec.DecodeError, RecursionError, UnicodeError) as mistake:
        raise Malformed(f"{kind.__name__}: {mistake}") from None
    return message


def decode_lenient(kind: type[M], payload: bytes) -> M:
    """Read a message as a node does: unknown fields are dropped, all else as in `decode`."""
    return cast("M", _decoded(kind, payload))


@lru_cache(maxsize=16)  # a process of many nodes hears each beat as often
def _decoded(kind: type[Message], payload: bytes) -> Message:
    if len(payload) <= most_bytes(kind) and b"\\" not in payload:
        try:
            return _decoder(kind).decode(payload)  # nothing odd in it: so it is nearly always
        except (msgspec.DecodeError, RecursionError, UnicodeError):
            pass  # looked at more closely below
    text = _text(payload, most_bytes(kind))
    try:
        return msgspec.convert(_without_unknown(msgspec.json.decode(text), kind), kind)
    except (msgspec.DecodeError, msgspec.ValidationError, RecursionError, UnicodeError) as mistake:
        raise Malformed(f"{kind.__name__}: {mistake}") from None


def most_bytes(kind: type[Message]) -> int:
    """Give how long a message may be; a longer one is refused unread."""
    return SCREEN_MAX if kind in (State, Group, WorldView) else PAYLOAD_MAX


def next_seq(seq: int) -> int:
    """Give the number after `seq`; after 2**31 - 1 comes 1."""
    return seq % SEQ_MAX + 1


def is_newer(seq: int, than: int) -> bool:
    """Tell whether `seq` comes after `than`, across the wrap: the shorter way round decides."""
    return 0 < (seq - than) % SEQ_MAX <= SEQ_MAX // 2


class Newest:
    """The newest `seq` taken, per topic and boot: old and repeated messages are recognised."""

    def __init__(self) -> None:
        self._taken: dict[str, dict[str, int]] = {}

    def accept(self, topic: str, boot: str, seq: int) -> bool:
        """Take a message's number; False if it is not newer than one already taken."""
        boots = self._taken.setdefault(topic, {})
        if boot in boots and not is_newer(seq, boots[boot]):
            return False
        boots.pop(boot, None)
        boots[boot] = seq
        if len(boots) > BOOTS_KEPT:
            del boots[next(iter(boots))]
        return True


_ENCODER = msgspec.json.Encoder()


@cache
def _decoder(kind: type[Message]) -> msgspec.json.Decoder[Message]:
    return msgspec.json.Decoder(kind)


def _text(payload: bytes, most: int) -> str:
    """Check what can be checked unread: size, encoding, no hidden control characters."""
    if len(payload) > most:
        raise Malformed(f"{len(payload)} bytes, at most {most} are read")
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError as mistake:
        raise Malformed(f"not UTF-8 at byte {mistake.start}") from None
    if "\\" in text and _CONTROL.search(text):
        raise Malformed("a control character in a text")
    return text


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make an object of its pairs; a key given twice leaves open which one was meant."""
    made = dict(pairs)
    if len(made) < len(pairs):
        raise Malformed("a field is given twice")
    return made


_KEYS_ONCE = json.JSONDecoder(object_pairs_hook=_once)


def _without_unknown(value: Any, kind: Any) -> Any:
    """Drop, at every depth, the keys that the structs in `kind` do not have."""
    struct = _struct_in(kind)
    if struct is None or not isinstance(value, dict):
        return value
    known = _fields(struct)
    return {key: _without_unknown(inner, known[key]) for key, inner in value.items() if key in known}


@cache
def _fields(struct: type[Struct]) -> Mapping[str, Any]:
    """Give a struct's fields and their types by name on the wire; looked up once: a beat is heard by all."""
    return {field.encode_name: field.type for field in msgspec.structs.fields(struct)}


def _struct_in(kind: Any) -> type[Struct] | None:
    """Find the struct in an annotation such as `Flash | None`; lists of structs no node reads."""
    if isinstance(kind, type) and issubclass(kind, Struct):
        return kind
    if get_origin(kind) in (types.UnionType, Union, Annotated):
        return next((found for inner in get_args(kind) if (found := _struct_in(inner))), None)
    return None
