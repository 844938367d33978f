"""The file that follows from the form of drill files."""

from __future__ import annotations

import json
from typing import Any

import msgspec

from sim.drill.form import DRAW_FORMS, DUTY_FORMS, File

SCHEMA = "docs/schemas/drill.schema.json"


def schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a drill file read as TOML."""
    found = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:kerblight:drill",
        "title": "A drill file of kerblight",
        **msgspec.json.schema(File),
    }
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(found))
    plain["$defs"]["DutyTable"]["oneOf"] = [{"required": [form]} for form in DUTY_FORMS]
    plain["$defs"]["DrawTable"]["oneOf"] = [{"required": [form]} for form in DRAW_FORMS]
    return plain


def generated() -> dict[str, str]:
    """Give the text of every generated file by its path in the repository."""
    return {SCHEMA: json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"}
