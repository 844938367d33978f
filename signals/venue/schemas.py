"""The form of a venue file as a JSON Schema, and as the tables of its documentation."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from typing import Any

import msgspec
from msgspec import NODEFAULT, Meta, Struct
from msgspec.structs import FieldInfo, fields

from signals.schemas import file_schema
from signals.venue.form import File
from signals.venue.read import described


def schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a venue file read as TOML."""
    return file_schema(File, "venue")


def tables() -> str:
    """Give every table of the form with its keys, in Markdown."""
    return "\n".join(line for name, kind, many in _tables(File) for line in _table(name, kind, many=many))


def _tables(kind: type[Struct], prefix: str = "") -> Iterator[tuple[str, type[Struct], bool]]:
    """Give every table below a struct: its name in a file, its struct, whether it repeats."""
    for each in fields(kind):
        struct, many = _struct_in(each.type)
        if struct is not None:
            name = prefix + each.encode_name
            if any(_struct_in(inner.type)[0] is None for inner in fields(struct)):
                yield name, struct, many
            yield from _tables(struct, f"{name}.")


def _struct_in(kind: Any) -> tuple[type[Struct] | None, bool]:
    if typing.get_origin(kind) is typing.Annotated:
        kind = typing.get_args(kind)[0]
    if typing.get_origin(kind) is tuple:
        return _struct_in(typing.get_args(kind)[0])[0], True
    return (kind, False) if isinstance(kind, type) and issubclass(kind, Struct) else (None, False)


def _table(name: str, kind: type[Struct], *, many: bool) -> Iterator[str]:
    yield f"### `[[{name}]]`" if many else f"### `[{name}]`"
    yield ""
    yield " ".join((kind.__doc__ or "").split())
    yield ""
    yield "| key | takes | default | meaning |"
    yield "|---|---|---|---|"
    for each in fields(kind):
        if _struct_in(each.type)[0] is None:
            cells = (f"`{each.encode_name}`", described(each.type), _default(each), _meaning(each.type))
            yield f"| {' | '.join(cells)} |"
    yield ""


def _default(each: FieldInfo) -> str:
    if each.required:
        return "required"
    value = each.default if each.default is not NODEFAULT else each.default_factory()
    return "see right" if value is None else f"`{_toml(value)}`"


def _toml(value: object) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    return msgspec.json.encode(value).decode()


def _meaning(kind: Any) -> str:
    if typing.get_origin(kind) is not typing.Annotated:
        return "as dry"
    metas = [meta for meta in typing.get_args(kind)[1:] if isinstance(meta, Meta)]
    return next((meta.description for meta in reversed(metas) if meta.description), "as dry")
