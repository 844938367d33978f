"""The file that follows from the form of sequence files."""

from __future__ import annotations

import json
from typing import Any

from signals.schemas import file_schema
from signals.sequence.form import FORMS, File

SCHEMA = "docs/schemas/sequence.schema.json"


def schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a sequence file read as TOML."""
    plain = file_schema(File, "sequence")
    plain["$defs"]["StepTable"]["anyOf"] = [{"required": [form]} for form in FORMS]
    return plain


def generated() -> dict[str, str]:
    """Give the text of every generated file by its path in the repository."""
    return {SCHEMA: json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"}
