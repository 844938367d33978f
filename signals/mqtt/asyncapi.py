"""The contract as an AsyncAPI 3 document and as JSON Schemas, made from the table and the structs."""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Iterator
from typing import Any

import msgspec

from signals.mqtt.channels import CHANNELS, PLACES, Channel, Role
from signals.mqtt.codec import encode
from signals.mqtt.contract import Message
from signals.mqtt.topics import REAL_ROOT, SIM_ROOT
from signals.schemas import DRAFT, tidied

VERSION = "1.0.0"
"""Of the contract; its first number stands in every topic."""
ID = "[a-z0-9-]{1,16}"

Json = dict[str, Any]

ABOUT = """\
What equipment, screens and people's devices of a rental-kart track say to the signal controller
and hear from it. MQTT 3.1.1 is enough. JSON in UTF-8, one object a message. Clean sessions; no
message is queued for the absent. A venue with any simulated equipment lives below
`kerblight-sim`, never below `kerblight`.

The controller and the monitor refuse unknown fields; nodes ignore them. What a node reads is at
most 240 bytes with its topic. This is no emergency stop and not safety-rated."""


def document() -> Json:
    """Give the AsyncAPI 3 document."""
    return {
        "asyncapi": "3.0.0",
        "id": "urn:kerblight:contract:1",
        "info": {
            "title": "kerblight",
            "version": VERSION,
            "description": ABOUT,
            "license": {"name": "Apache-2.0", "url": "https://www.apache.org/licenses/LICENSE-2.0"},
        },
        "defaultContentType": "application/json",
        "servers": {"venue": _server()},
        "channels": {_name(channel): _channel(channel) for channel in CHANNELS},
        "operations": {name: operation for c in CHANNELS for name, operation in _operations(c)},
        "components": {
            "messages": {kind.__name__: _message(kind) for kind in kinds()},
            "schemas": _schemas(),
        },
    }


def schema_files() -> dict[str, Json]:
    """Give one self-contained JSON Schema for each message, by file name."""
    return {f"{_dashed(kind.__name__)}.schema.json": _alone(kind) for kind in kinds()}


def kinds() -> tuple[type[Message], ...]:
    """Give every message of the contract, in the table's order."""
    return tuple(dict.fromkeys(channel.message for channel in CHANNELS))


def _server() -> Json:
    return {
        "host": "{host}:{port}",
        "protocol": "mqtt",
        "protocolVersion": "3.1.1",
        "description": "The venue's broker; the embedded one listens on loopback only.",
        "variables": {"host": {"default": "127.0.0.1"}, "port": {"default": "1883"}},
        "security": [{"type": "userPassword", "description": "User names are in the access list."}],
        "bindings": {"mqtt": {"cleanSession": True, "keepAlive": 5, "bindingVersion": "0.2.0"}},
    }


def _channel(channel: Channel) -> Json:
    root = SIM_ROOT if channel.simulated_only else "{root}" + REAL_ROOT.removeprefix("kerblight")
    parameters: Json = {} if channel.simulated_only else {"root": ROOT}
    parameters |= {"venue": {"description": f"The venue's id, {ID}"}}
    parameters |= {place: {"description": PLACES[place]} for place in channel.places}
    return {
        "address": f"{root}/{{venue}}/{channel.address}",
        "title": channel.address,
        "description": channel.says,
        "parameters": parameters,
        "messages": {channel.message.__name__: {"$ref": f"#/components/messages/{channel.message.__name__}"}},
        "x-publishers": list(channel.publishers),
        "x-readers": [role for role in Role if role in channel.readers],
        "x-qos": channel.qos,
        "x-retained": channel.retained,
    }


ROOT: Json = {
    "description": "kerblight, or kerblight-sim with any simulated equipment.",
    "enum": ["kerblight", "kerblight-sim"],
}


def _operations(channel: Channel) -> Iterator[tuple[str, Json]]:
    """Give what each publisher sends and each reader receives on a channel."""
    about = {
        "channel": {"$ref": f"#/channels/{_name(channel)}"},
        "messages": [{"$ref": f"#/channels/{_name(channel)}/messages/{channel.message.__name__}"}],
    }
    binding = {"qos": channel.qos, "retain": channel.retained, "bindingVersion": "0.2.0"}
    for role in channel.publishers:
        summary = f"The {role} says {channel.address}"
        yield (
            f"{role}-sends-{_name(channel)}",
            {"action": "send", "summary": summary, **about, "bindings": {"mqtt": binding}},
        )
    for role in Role:
        if role in channel.readers:
            summary = f"The {role} may read {channel.address}"
            yield f"{role}-receives-{_name(channel)}", {"action": "receive", "summary": summary, **about}


def _message(kind: type[Message]) -> Json:
    return {
        "name": kind.__name__,
        "title": kind.__name__,
        "summary": _about(kind),
        "contentType": "application/json",
        "payload": {"$ref": f"#/components/schemas/{kind.__name__}"},
        "examples": [
            {"name": _name(channel), "payload": json.loads(encode(channel.example))}
            for channel in CHANNELS
            if channel.message is kind
        ],
    }


def _schemas() -> Json:
    _, components = msgspec.json.schema_components(kinds(), ref_template="#/components/schemas/{name}")
    return {name: _published(name, schema) for name, schema in components.items()}


def _alone(kind: type[Message]) -> Json:
    _, components = msgspec.json.schema_components((kind,), ref_template="#/$defs/{name}")
    whole = _published(kind.__name__, components.pop(kind.__name__))
    parts = {name: _published(name, schema) for name, schema in components.items()}
    return {"$schema": DRAFT, **whole, **({"$defs": parts} if parts else {})}


def _published(name: str, schema: Json) -> Json:
    """Tidy the docstring, and leave open what nodes read: they ignore fields they do not know."""
    published = tidied(schema)
    if name in _read_by_nodes():
        published.pop("additionalProperties", None)
    return published


def _read_by_nodes() -> set[str]:
    """Name the messages that nodes read, and the parts of them."""
    read = tuple(channel.message for channel in CHANNELS if Role.NODE in channel.readers)
    return set(msgspec.json.schema_components(read)[1])


def _about(kind: type[Message]) -> str:
    return inspect.cleandoc(kind.__doc__ or "").split("\n\n", maxsplit=1)[0].replace("\n", " ")


def _name(channel: Channel) -> str:
    """Name a channel by the fixed levels of its address."""
    return "-".join(level for level in channel.levels if not level.startswith("{"))


def _dashed(name: str) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "-", name).lower()
