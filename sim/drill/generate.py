"""The file that follows from the form of drill files."""

from __future__ import annotations

import json
from typing import Any

from signals.schemas import file_schema
from sim.drill.form import DRAW_FORMS, DUTY_FORMS, File

SCHEMA = "docs/schemas/drill.schema.json"


def schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a drill file read as TOML."""
    plain = file_schema(File, "drill")
    plain["$defs"]["DutyTable"]["oneOf"] = [{"required": [form]} for form in DUTY_FORMS]
    plain["$defs"]["DrawTable"]["oneOf"] = [{"required": [form]} for form in DRAW_FORMS]
    return plain


def generated() -> dict[str, str]:
    """Give the text of every generated file by its path in the repository."""
    return {SCHEMA: json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"}
