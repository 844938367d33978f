"""The files that follow from the form of venue files."""

from __future__ import annotations

import json

from signals.venue.schemas import schema, tables

SCHEMA = "docs/schemas/venue.schema.json"
KEYS = "docs/venue-keys.md"


def generated() -> dict[str, str]:
    """Give the text of every generated file by its path in the repository."""
    source = "Generated from `signals/venue/form.py`; what they are for is in [venue.md](venue.md)."
    return {
        SCHEMA: json.dumps(schema(), indent=2, ensure_ascii=False) + "\n",
        KEYS: f"# Keys of a venue file\n\n{source}\n\n{tables()}",
    }
