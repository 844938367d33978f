"""The other form of step functions: compiled, on records and arrays instead of structs and lists.

`compiled(function)` makes a copy of a function marked `both`, whose names mean other things: a function of
that kind its own compiled form, a member of an enum its number, an enum its members' numbers, a set of them a
tuple of numbers, `None` -1. What is compiled is kept in the user's cache, in a folder whose name holds a
digest of the sources, so that nothing stale is found there.
"""

from __future__ import annotations

import dis
import enum
import hashlib
import os
from collections import namedtuple
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, get_args, get_origin, get_type_hints

import msgspec
import numpy as np
from msgspec import Struct

from signals import words
from sim.speeds import MARK

OF_NUMBERS = ("blobs.py", "compiled.py", "lines.py", "sight.py", "speeds.py")
"""Sources without step functions that say what they compute with, or how they are compiled."""
NONE = -1
"""What `None` is in a record."""
WORD_BITS = 64
_SIGN = 1 << (WORD_BITS - 1)


# --- what names mean


def number(value: Any) -> int:
    """Give the number of an enum's member: its own where it is one, else its place."""
    if isinstance(value, int):
        return int(value)
    return list(type(value).__members__.values()).index(value)


@cache
def _numbers(kind: type[enum.Enum]) -> Any:
    """Give an enum as a tuple of its members' numbers, by their names."""
    made: Any = namedtuple(kind.__name__, list(kind.__members__))  # type: ignore[misc] # noqa: PYI024
    return made(*map(number, kind.__members__.values()))


def _meant(value: Any) -> Any:
    """Give what a global of a step function means in compiled form."""
    if isinstance(value, FunctionType) and hasattr(value, MARK):
        return compiled(value)
    if isinstance(value, type) and issubclass(value, enum.Enum):
        return _numbers(value)
    if isinstance(value, enum.Enum):
        return number(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, int) and value >= _SIGN:
        return value - 2 * _SIGN
    if value is None:
        return NONE
    if isinstance(value, frozenset):
        return tuple(sorted(map(_meant, value)))
    if type(value) is tuple:
        return tuple(map(_meant, value))
    return value


@cache
def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give the compiled form of a function marked `both`."""
    if not isinstance(function, FunctionType) or not hasattr(function, MARK):
        raise TypeError(f"{function.__qualname__} is not marked `both`")
    _keep_beside()
    import numba  # noqa: PLC0415 - half a second that only studies spend

    names = _names_of(function.__code__)
    means = {name: _meant(value) for name, value in function.__globals__.items() if name in names}
    means["__name__"] = function.__module__
    copy = FunctionType(function.__code__, means, function.__name__, function.__defaults__)
    copy.__qualname__, copy.__module__ = function.__qualname__, function.__module__
    made: Callable[..., Any] = numba.njit(cache=True, nogil=True, error_model="numpy", forceinline=True)(copy)
    return made


def _names_of(code: CodeType) -> set[str]:
    """Give the global names that a function reads."""
    return {each.argval for each in dis.get_instructions(code) if each.opname == "LOAD_GLOBAL"}


@cache
def _keep_beside() -> None:
    """Keep what is compiled in a folder of its own, named by what it is made of."""
    import numba  # noqa: PLC0415 - see above

    digest = hashlib.sha256(b"".join(_sources())).hexdigest()[:16]
    base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    numba.config.CACHE_DIR = str(base / "kerblight" / digest)  # type: ignore[attr-defined]


def _sources() -> Iterator[bytes]:
    """Give every source that compiled code is made of: step functions, their numbers, their words."""
    here = Path(__file__).parent
    yield Path(words.__file__).read_bytes()
    for source in sorted(here.rglob("*.py")):
        text = source.read_bytes()
        if b"sim.speeds" in text or source.name in OF_NUMBERS:
            yield text


# --- what structs and tables become


@cache
def record_of(kind: type[Struct]) -> np.dtype[Any]:
    """Give the record that a struct becomes: numbers, truths, enums, structs in it; texts are left out."""
    hints = get_type_hints(kind, include_extras=True)
    fields = [(name, _field(hints[name], kind, name)) for name in kind.__struct_fields__]
    return np.dtype([(name, *made) for name, made in fields if made is not None], align=True)


def _field(hint: Any, kind: type[Struct], name: str) -> tuple[Any, ...] | None:
    if get_origin(hint) is list:
        (inner,) = get_args(hint)
        length = len(getattr(kind(), name))
        return np.float64 if inner is float else np.uint8, (length,)
    options = [each for each in (get_args(hint) or (hint,)) if each is not type(None)]
    hint = options[0]
    if hint is str:
        return None
    if hint is bool:
        return (np.bool_,)
    if hint is float:
        return (np.float64,)
    if isinstance(hint, type) and issubclass(hint, Struct):
        return (record_of(hint),)
    return (np.int64,)


def records(kind: type[Struct], structs: Sequence[Struct]) -> Any:
    """Give structs as an array of records."""
    made = np.zeros(len(structs), record_of(kind))
    for index, struct in enumerate(structs):
        fill(made[index], struct)
    return made


def fill(record: Any, struct: Struct) -> None:
    """Write a struct into a record."""
    for name in record.dtype.names:
        value = getattr(struct, name)
        if isinstance(value, Struct):
            fill(record[name], value)
        else:
            record[name] = plain(value)


def plain(value: Any) -> Any:
    """Give a struct's value as a record holds it."""
    if value is None:
        return NONE
    return number(value) if isinstance(value, enum.Enum) else value


def table(value: Any) -> Any:
    """Give what a step function reads: lists and plain tuples as arrays, structs as named tuples."""
    if isinstance(value, Struct):
        fields = msgspec.structs.asdict(value)
        made: Any = namedtuple(type(value).__name__, fields)  # type: ignore[misc] # noqa: PYI024
        return made(*map(table, fields.values()))
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return type(value)(*map(table, value))
    if isinstance(value, enum.Enum):
        return number(value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return _array(value)
    return plain(value)


def _array(values: Sequence[Any]) -> Any:
    if values and isinstance(values[0], Struct):
        return records(type(values[0]), values)
    whole = all(isinstance(each, int | enum.Enum) and not isinstance(each, bool) for each in values)
    return np.array([plain(each) for each in values], np.int64 if whole and values else np.float64)
