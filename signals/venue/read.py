"""Plain TOML data → structs, collecting every mistake instead of stopping at the first.

A value that cannot be used becomes `BROKEN` inside the struct, so that the checks that follow can
still look at everything else; they ask `sound` before they rely on a value.
"""

from __future__ import annotations

import difflib
import functools
import math
import types
import typing
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final, TypeVar

import msgspec
from msgspec import Meta, Struct, inspect
from msgspec.structs import fields

from signals.venue.lines import KeyPath

T = TypeVar("T")
SHOWN = 60
"""Characters of a wrong value that a message repeats."""


class _Broken:
    """Stands where a value was a mistake."""

    def __repr__(self) -> str:
        return "BROKEN"


BROKEN: Final[Any] = _Broken()

Say = Callable[[KeyPath, str, str], None]
"""Report a mistake: its path, the value as written ("" if absent), what would be right."""


def read(raw: Any, kind: Any, path: KeyPath, say: Say) -> Any:
    """Read a value of a type (a struct, tuple[X, ...], dict[K, V] or a leaf); BROKEN where it cannot be."""
    bare, metas = _bare(kind)
    if isinstance(bare, type) and issubclass(bare, Struct):
        return _struct(raw, bare, path, say)
    if typing.get_origin(bare) is tuple:
        return _tuple(raw, typing.get_args(bare)[0], metas, path, say)
    if typing.get_origin(bare) is dict:
        return _dict(raw, typing.get_args(bare), metas, path, say)
    return _leaf(raw, kind, path, say)


def sound(items: Iterable[T], *names: str) -> Iterator[tuple[int, T]]:
    """Give the items of which all these fields are usable, with their index in the file."""
    if items is BROKEN:
        return
    for index, item in enumerate(items):
        if item is not BROKEN and all(getattr(item, name) is not BROKEN for name in names):
            yield index, item


def usable(items: Iterable[T]) -> Iterator[tuple[int, T]]:
    """Give the plain values that were no mistake, with their index in the file."""
    if items is not BROKEN:
        yield from ((index, item) for index, item in enumerate(items) if item is not BROKEN)


def nearest(wrong: str, known: Iterable[str]) -> str:
    """Give ' (did you mean "x"?)', or nothing when nothing is near."""
    near = difflib.get_close_matches(wrong, list(known), n=1)
    return f' (did you mean "{near[0]}"?)' if near else ""


def listed(names: Iterable[object]) -> str:
    """Give names in a sentence: "a, b or c"."""
    *first, last = [str(name) for name in names] or ["nothing"]
    return f"{', '.join(first)} or {last}" if first else last


def shown(raw: object) -> str:
    """Show a value as a TOML file would, shortened."""
    text = repr(raw) if isinstance(raw, float) else msgspec.json.encode(raw, enc_hook=str).decode()
    return text if len(text) <= SHOWN else text[:SHOWN] + "..."


def _bare(kind: Any) -> tuple[Any, list[Meta]]:
    """Strip annotations and `| None` off a type; TOML has no null, absence is the default."""
    metas: list[Meta] = []
    while True:
        if typing.get_origin(kind) is typing.Annotated:
            kind, *extras = typing.get_args(kind)
            metas += [extra for extra in extras if isinstance(extra, Meta)]
        elif isinstance(kind, types.UnionType) or typing.get_origin(kind) is typing.Union:
            kind = next(part for part in typing.get_args(kind) if part is not type(None))
        else:
            return kind, metas


_fields = functools.cache(fields)
"""Evaluating a struct's annotations is slow, and a list of tables asks for the same ones again."""


def _struct(raw: Any, kind: type[Struct], path: KeyPath, say: Say) -> Any:
    if not isinstance(raw, dict):
        say(path, shown(raw), "must be a table")
        return BROKEN
    known = {each.encode_name: each for each in _fields(kind)}
    for key in raw.keys() - known.keys():
        say((*path, key), "", f"is no key here{nearest(key, known)}; known: {', '.join(known)}")
    values = {}
    for key, each in known.items():
        if key in raw:
            values[each.name] = read(raw[key], each.type, (*path, key), say)
        elif each.required:
            say((*path, key), "", f"is missing; it must be {described(each.type)}")
            values[each.name] = BROKEN
    return kind(**values)


def _tuple(raw: Any, kind: Any, metas: list[Meta], path: KeyPath, say: Say) -> Any:
    if not isinstance(raw, list):
        say(path, shown(raw), "must be a list")
        return BROKEN
    if not _sized(raw, metas, path, say):
        return BROKEN
    return tuple(read(each, kind, (*path, index), say) for index, each in enumerate(raw))


def _dict(raw: Any, kinds: tuple[Any, ...], metas: list[Meta], path: KeyPath, say: Say) -> Any:
    if not isinstance(raw, dict):
        say(path, shown(raw), "must be a table")
        return BROKEN
    if not _sized(raw, metas, path, say):
        return BROKEN
    key_kind, value_kind = kinds
    found = {}
    for key, each in raw.items():
        name = _leaf(key, key_kind, (*path, key), say)
        value = read(each, value_kind, (*path, key), say)
        if name is not BROKEN:
            found[name] = value
    return found


def _sized(raw: list[Any] | dict[str, Any], metas: list[Meta], path: KeyPath, say: Say) -> bool:
    for meta in metas:
        if len(raw) < (meta.min_length or 0):
            say(path, shown(raw), f"needs at least {meta.min_length} of them")
            return False
        if meta.max_length is not None and len(raw) > meta.max_length:
            say(path, shown(raw), f"takes at most {meta.max_length} of them")
            return False
    return True


def _leaf(raw: Any, kind: Any, path: KeyPath, say: Say) -> Any:
    try:
        value = msgspec.convert(raw, kind)
    except (msgspec.ValidationError, OverflowError):
        right = f"must be {described(kind)}"
        say(path, shown(raw), right + (nearest(raw, _choices(kind)) if isinstance(raw, str) else ""))
        return BROKEN
    if isinstance(value, float) and not math.isfinite(value):
        say(path, str(value), f"must be {described(kind)}")
        return BROKEN
    return value


def _choices(kind: Any) -> list[str]:
    """Give the words a leaf can be, if it is one of few."""
    bare, _ = _bare(kind)
    if typing.get_origin(bare) is typing.Literal:
        return [str(word) for word in typing.get_args(bare)]
    return [str(word.value) for word in bare] if hasattr(bare, "__members__") else []


def described(kind: Any) -> str:
    """Say what a type takes: "a number from 0 to 150", "one of left, right or above"."""
    bare, metas = _bare(kind)
    for meta in metas:
        if meta.extra and "right" in meta.extra:
            return str(meta.extra["right"])
    if words := _choices(kind):
        return f"one of {listed(words)}"
    if isinstance(bare, type) and issubclass(bare, Struct):
        return "a table"
    if typing.get_origin(bare) in (tuple, dict):
        return "a list" if typing.get_origin(bare) is tuple else "a table"
    return _plain(inspect.type_info(kind)) if bare is not bool else "true or false"


def _plain(info: inspect.Type) -> str:
    """Say what a number or a text takes."""
    while isinstance(info, inspect.Metadata):
        info = info.type
    if isinstance(info, inspect.UnionType):
        info = next(each for each in info.types if not isinstance(each, inspect.NoneType))
        return _plain(info)
    if isinstance(info, inspect.IntType | inspect.FloatType):
        what = "a whole number" if isinstance(info, inspect.IntType) else "a number"
        low = (
            f" from {info.ge}" if info.ge is not None else f" above {info.gt}" if info.gt is not None else ""
        )
        return what + low + (f" to {info.le}" if info.le is not None else "")
    if isinstance(info, inspect.StrType) and info.max_length is not None:
        return f"text of {info.min_length or 0} to {info.max_length} characters"
    return "text"
