"""The files that follow from the contract's code."""

from __future__ import annotations

import json
from pathlib import Path

from signals.errors import Unusable
from signals.mqtt.asyncapi import document, schema_files
from signals.mqtt.channels import CHANNELS, Channel, Role

DOCUMENT = "docs/asyncapi.json"
SCHEMAS = "docs/schemas"
PAGE = "docs/contract.md"
BEGIN, END = "<!-- topics: generated from signals/mqtt/channels.py -->", "<!-- end of topics -->"


def generated() -> dict[str, str]:
    """Give the text of every generated file by its path below the repository's root."""
    files = {f"{SCHEMAS}/{name}": _json(schema) for name, schema in schema_files().items()}
    return {DOCUMENT: _json(document()), PAGE: _page(), **files}


def table() -> str:
    """Give the topics as a table in Markdown."""
    rows = ["| topic | from | read by | QoS | retained | fields | |", "|---|---|---|---|---|---|---|"]
    return "\n".join([*rows, *map(_row, CHANNELS)])


def _row(channel: Channel) -> str:
    who = " or ".join(channel.publishers)
    readers = ", ".join(role for role in Role if role in channel.readers)
    fields = ", ".join(f"`{name}`" for name in channel.message.__struct_encode_fields__)
    simulated = "Only below `kerblight-sim`. " if channel.simulated_only else ""
    cells = (
        f"`{channel.address.replace('{', '<').replace('}', '>')}`",
        who,
        readers,
        str(channel.qos),
        "yes" if channel.retained else "no",
        fields,
        simulated + channel.says,
    )
    return "| " + " | ".join(cells) + " |"


def _page() -> str:
    """Give the page, its table renewed; the rest of it is written by hand."""
    path = Path(__file__).parents[2] / PAGE
    before, begin, rest = path.read_text(encoding="utf-8").partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise Unusable(f"{path}: the lines {BEGIN} and {END} must both be there")
    return f"{before}{BEGIN}\n\n{table()}\n\n{END}{after}"


def _json(value: object) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"
