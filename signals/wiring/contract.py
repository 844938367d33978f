"""`kerblight wiring contract`: the message contract as files, and what each node of a venue must know."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from signals.cli.options import AsJson
from signals.cli.output import console, print_json
from signals.errors import Unusable
from signals.mqtt.access import access_list, mosquitto_acl
from signals.mqtt.asyncapi import document, schema_files
from signals.mqtt.topics import Topics
from signals.venue import load
from signals.venue.model import Head, Node, Venue

Folder = Annotated[Path, typer.Argument(help="Where to write; made if it is not there.", metavar="DIR")]
OfVenue = Annotated[
    Path | None,
    typer.Option("--venue", help="Write also a file for each node of this venue, and the access list."),
]


def contract(folder: Folder, *, venue: OfVenue = None, as_json: AsJson = False) -> None:
    """Write the contract into a folder: AsyncAPI 3, JSON Schemas.

    With --venue each node's own file too, and the access list.

    Example: kerblight wiring contract var/contract --venue your-track.toml
    """
    texts = contract_files(load(venue) if venue else None)
    try:
        for name, text in texts.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
    except OSError as failed:
        raise Unusable(f"{failed.filename}: {failed.strerror}; give a folder that can be written") from None
    if as_json:
        print_json(sorted(texts))
    else:
        console().print("\n".join(f"wrote {folder / name}" for name in texts), markup=False, soft_wrap=True)


def contract_files(venue: Venue | None) -> dict[str, str]:
    """Give every file's text by its path in the folder."""
    files: dict[str, Any] = {"asyncapi.json": document()}
    files |= {f"schemas/{name}": schema for name, schema in schema_files().items()}
    if venue:
        files |= {f"nodes/{node.id}.json": node_file(node, venue) for node in venue.nodes}
    texts = {name: json.dumps(value, indent=2, ensure_ascii=False) + "\n" for name, value in files.items()}
    return texts | ({"mosquitto.acl": mosquitto_acl(access_list(venue))} if venue else {})


def node_file(node: Node, venue: Venue) -> dict[str, Any]:
    """Give what a node must know of its venue; where its broker is, and its password, come beside."""
    heads = {head.id: _head(head, venue) for head in venue.heads if head.id in node.heads}
    return {
        "node": node.id,
        "root": Topics.of(venue.id, simulated=venue.simulated).root,
        "host": "127.0.0.1",
        "port": 1883,
        "lease_ms": node.lease_ms,
        "heads": heads,
        "karts": list(node.karts),
        "inputs": list(node.inputs),
    }


def _head(head: Head, venue: Venue) -> dict[str, Any]:
    aspects = {aspect: list(lamps) for aspect, lamps in head.aspects.items()}
    return {"fail": venue.choices.fail_aspect[head.role], "aspects": aspects}
