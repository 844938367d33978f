"""JSON Schemas (draft 2020-12) of the forms of our files."""

from __future__ import annotations

import inspect
from typing import Any

import msgspec
from msgspec import Struct

DRAFT = "https://json-schema.org/draft/2020-12/schema"


def file_schema(form: type[Struct], name: str) -> dict[str, Any]:
    """Give the schema of a file read as TOML, such as a "venue" file."""
    found = {
        "$schema": DRAFT,
        "$id": f"urn:kerblight:{name}",
        "title": f"A {name} file of kerblight",
        **msgspec.json.schema(form),
    }
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(found))
    return {**plain, "$defs": {part: tidied(schema) for part, schema in plain["$defs"].items()}}


def tidied(schema: dict[str, Any]) -> dict[str, Any]:
    """Take a docstring's indentation out of a description: from 3.13 on Python does that by itself."""
    said = {"description": inspect.cleandoc(schema["description"])} if "description" in schema else {}
    return {**schema, **said}
