"""The contract as it is published: docs/asyncapi.json and docs/schemas, read as any client may."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from tests.system.outside import ROOT, Heard

DOCS = Path(__file__).resolve().parents[2] / "docs"


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel: the pattern of its topics, what it promises, and what its messages look like."""

    name: str
    topics: re.Pattern[str]
    qos: int
    retained: bool
    readers: frozenset[str]
    message: Draft202012Validator

    def mistakes(self, heard: Heard) -> list[str]:
        """Give what a message has against its channel."""
        found = [error.message for error in self.message.iter_errors(heard.says)]
        if heard.retained and not self.retained:
            found.append("retained")
        if heard.qos != self.qos and not heard.retained:
            found.append(f"came with QoS {heard.qos}")
        return found


@cache
def channels() -> tuple[Channel, ...]:
    """Read all channels."""
    document = json.loads((DOCS / "asyncapi.json").read_text())
    return tuple(_channel(name, each) for name, each in document["channels"].items())


def _channel(name: str, each: dict[str, Any]) -> Channel:
    (message,) = each["messages"]
    file = re.sub(r"(?<!^)(?=[A-Z])", "-", message).lower()
    schema = json.loads((DOCS / "schemas" / f"{file}.schema.json").read_text())
    address = each["address"].replace("{root}", "kerblight-sim").replace("{venue}", "harbour-loop")
    topics = re.sub(r"\\\{\w+\\\}", "[a-z0-9-]{1,16}", re.escape(address.removeprefix(f"{ROOT}/")))
    return Channel(
        name,
        re.compile(topics),
        each["x-qos"],
        each["x-retained"],
        frozenset(each["x-readers"]),
        Draft202012Validator(schema),
    )


def channel_of(topic: str) -> Channel | None:
    """Find the channel of a topic below the root; None for one that is not published."""
    return next((each for each in channels() if each.topics.fullmatch(topic)), None)


def mistakes(heard: list[Heard]) -> list[str]:
    """Give everything that is not as published."""
    found = []
    for each in heard:
        channel = channel_of(each.topic)
        told = ["no such channel is published"] if channel is None else channel.mistakes(each)
        found += [f"{each.topic}: {one}" for one in told]
    return found
