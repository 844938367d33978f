"""What is published: checked against the code, and against validators that are not ours."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped,unused-ignore]
import pytest

from signals.mqtt.asyncapi import document, kinds, schema_files
from signals.mqtt.channels import CHANNELS, Channel, Role
from signals.mqtt.codec import encode
from signals.mqtt.generate import PAGE, generated, table
from tests.mqtt.malformed import MALFORMED, WELL_FORMED, Bad
from tests.mqtt.test_codec import LONGEST_FOR_NODES

FILES = generated()
ROOT = Path(__file__).parents[2]
SCHEMAS: dict[str, dict[str, Any]] = {schema["title"]: schema for schema in schema_files().values()}
BEYOND_SCHEMAS = ("given twice", "control character", "never retained", "no such topic", "at most 8192")
"""What no schema can say of a payload; `1.0` is a whole number to a schema, too."""


def validator(name: str) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(SCHEMAS[name])


def channel_of(topic: str) -> Channel:
    return next(channel for channel in CHANNELS if channel.read(tuple(topic.split("/"))) is not None)


@pytest.mark.parametrize("path", sorted(FILES))
def test_files_are_not_stale(path: str) -> None:
    assert (ROOT / path).read_text(encoding="utf-8") == FILES[path], "run: kerblight generate"


@pytest.mark.parametrize("name", SCHEMAS)
def test_schemas_are_schemas(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[name])


def test_every_message_has_its_schema() -> None:
    assert set(SCHEMAS) == {kind.__name__ for kind in kinds()}


@pytest.mark.parametrize("channel", CHANNELS, ids=lambda channel: channel.address)
def test_schemas_allow_what_is_really_sent(channel: Channel) -> None:
    validator(channel.message.__name__).validate(json.loads(encode(channel.example)))


@pytest.mark.parametrize("name", LONGEST_FOR_NODES)
def test_schemas_allow_the_longest(name: str) -> None:
    _, message = LONGEST_FOR_NODES[name]
    validator(type(message).__name__).validate(json.loads(encode(message)))


@pytest.mark.parametrize("topic", WELL_FORMED)
def test_schemas_allow_what_the_decoder_takes(topic: str) -> None:
    validator(channel_of(topic).message.__name__).validate(json.loads(WELL_FORMED[topic]))


def not_json(word: str) -> None:
    raise ValueError(f"{word} is not JSON")


def told_by_schema(bad: Bad) -> bool:
    """Tell whether a schema can say it: it is JSON, and spoilt in what a schema speaks of."""
    if bad.says in BEYOND_SCHEMAS or bad.name in ("seq-as-fraction", "half-a-surrogate"):
        return False
    try:
        json.loads(bad.payload.decode(), parse_constant=not_json)
    except (ValueError, RecursionError):
        return False
    return True


@pytest.mark.parametrize("bad", [bad for bad in MALFORMED if told_by_schema(bad)], ids=lambda bad: bad.name)
def test_schemas_refuse_what_the_decoder_refuses(bad: Bad) -> None:
    schema = validator(channel_of(bad.topic).message.__name__)
    assert not schema.is_valid(json.loads(bad.payload))


def test_what_nodes_read_is_left_open_and_the_rest_closed() -> None:
    for channel in CHANNELS:
        schema = SCHEMAS[channel.message.__name__]
        assert schema.get("additionalProperties", True) is (Role.NODE in channel.readers), channel.address


def test_the_document_tells_of_every_channel_who_how_and_an_example() -> None:
    made = document()
    assert len(made["channels"]) == len(CHANNELS)
    for channel, told in zip(CHANNELS, made["channels"].values(), strict=True):
        assert told["address"].endswith("/1/{venue}/" + channel.address)
        assert told["description"] == channel.says
        assert set(told["parameters"]) >= {"venue", *channel.places}
        (message,) = (made["components"]["messages"][name] for name in told["messages"])
        assert message["examples"]
    sends = [o for o in made["operations"].values() if o["action"] == "send"]
    assert all(o["bindings"]["mqtt"]["qos"] in (0, 1) for o in sends)
    assert len(sends) == sum(len(channel.publishers) for channel in CHANNELS)


def test_the_page_shows_every_topic() -> None:
    page = (ROOT / PAGE).read_text(encoding="utf-8")
    assert table() in page
    assert table().count("\n") == len(CHANNELS) + 1
