"""A bare controller: it publishes what ours published, in the same order, at once and without a thought.

`record` keeps what the controller says on each call. `be_a_controller` says the same on the same calls, with
numbers that go on where ours ended, so that nodes, monitor and sim take each message as they took ours; it
beats ten times a second, and it answers.
"""

from __future__ import annotations

import asyncio
import json
import select
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from benchmarks.bare import Bare, Publish
from signals.cli.data import credentials_of, read_credentials
from signals.cli.options import Address, address
from signals.mqtt.topics import Topics
from signals.venue import load
from signals.venue.model import Venue

BEAT_S = 0.1
QUIET_S = 0.5
"""By then all that a call brings about was said."""
FURTHER = 1_000_000
"""Beats between the record and its repetition: more than ours said meanwhile."""
POST = "desk"
ON_CALL = ("state", "group", "head/+/aspect", "kart/+/limit", "kart/+/caps", f"answer/{POST}")

Call = Callable[[str, int], Awaitable[None]]


@dataclass(frozen=True, slots=True)
class Where:
    """The venue's topics on a broker, and the passwords for it."""

    topics: Topics
    broker: Address
    passwords: Path

    def connect(self, user: str, name: str, *subscriptions: tuple[str, int]) -> Bare:
        """Connect a bare client as a user."""
        known = credentials_of(read_credentials(self.passwords), user)
        below = [(self.topics.name(*levels.split("/")), qos) for levels, qos in subscriptions]
        return Bare(self.broker.host, self.broker.port, name, below, known)


def where(venue: str, url: str, data: str) -> Where:
    """Find a venue's broker."""
    known = load(Path(venue))
    return Where(Topics.of(known.id, simulated=known.simulated), address(url), Path(data))


def listening(at: Where) -> Bare:
    """Listen to beats, as a node does."""
    return at.connect("node-n1", "node-n1", ("beat", 0))


# --- recording


async def record(venue: Venue, broker: Address, data: Path, call: Call) -> bytes:
    """Call a stop and end it; give all that the controller said on each call, as JSON."""
    at = Where(Topics.of(venue.id, simulated=venue.simulated), broker, data)
    user = f"post-{POST}"
    wanted = [(levels, 0) for levels in ("beat", f"call/{POST}", *ON_CALL)]  # one quality: in order
    with closing(at.connect(user, f"{user}.script", *wanted)) as bare:
        await asyncio.to_thread(_heard, bare)
        for level in (1, 0):
            await call("", level)
        return json.dumps(_sorted(at, await asyncio.to_thread(_heard, bare))).encode()


def _heard(bare: Bare) -> list[Publish]:
    """Give all that has come, once nothing but beats has come for a while."""
    heard: list[Publish] = []
    until_s = time.monotonic() + QUIET_S
    while (left_s := until_s - time.monotonic()) > 0:
        if select.select([bare.socket], [], [], left_s)[0]:
            for message in bare.receive():
                heard.append(message)
                if not message.topic.endswith("/beat"):
                    until_s = time.monotonic() + QUIET_S
    return heard


def _sorted(at: Where, heard: list[Publish]) -> dict[str, Any]:
    """Give what was said on each call, in order, and the beat it led to: the last before the next call.

    Of each topic only the first: what follows comes of the nodes' reports.
    """
    beat, calls = at.topics.name("beat"), at.topics.name("call", POST)
    said: dict[str, dict[str, Any]] = {}
    word, epoch = "", 0
    for message in heard:
        body = json.loads(message.payload)
        if message.topic == calls:
            word = body["call"]
            said[word] = {"from": epoch, "messages": {}}
        elif message.topic == beat:
            epoch = body["epoch"]
            said.setdefault(word, {})["beat"] = body
        elif word:
            said[word]["messages"].setdefault(message.topic, body)
    said.pop("", None)  # beats before the first call
    return {"beat": beat, "said": said}


# --- saying it again


class _Script:
    """What is said on each call, and the numbers reached."""

    def __init__(self, recorded: dict[str, Any]) -> None:
        self._said: dict[str, Any] = recorded["said"]
        self._topic: str = recorded["beat"]
        *_, last = self._said.values()
        self._beat: dict[str, Any] = {**last["beat"], "seq": last["beat"]["seq"] + FURTHER}
        self._seqs = {
            topic: body["seq"] for said in self._said.values() for topic, body in said["messages"].items()
        }

    def beat(self) -> Publish:
        """Give the next beat."""
        self._beat |= {"seq": self._beat["seq"] + 1, "at": int(time.time() * 1000)}
        return Publish(self._topic, msgspec.json.encode(self._beat))

    def on(self, call: dict[str, Any]) -> Iterator[Publish]:
        """Give what is said on a call: the beat first, the answer last."""
        said = self._said[call["call"]]
        rise = said["beat"]["epoch"] - said["from"]
        self._beat |= {"stop": said["beat"]["stop"], "epoch": self._beat["epoch"] + rise}
        yield self.beat()
        for topic, body in said["messages"].items():
            self._seqs[topic] += 1
            again = {**body, "seq": self._seqs[topic]}
            if "epoch" in again:
                again["epoch"] = self._beat["epoch"]
            if "accepted" in again:
                again["id"] = call["id"]
            yield Publish(topic, msgspec.json.encode(again), 1, "accepted" not in again)


def be_a_controller(at: Where, path: Path) -> None:
    """Beat, and say on each call what is in the script, until killed."""
    script = _Script(json.loads(path.read_bytes()))
    bare = at.connect("controller", "controller", ("call/+", 1))
    print(0, flush=True)
    due_s = time.monotonic()
    while True:
        if time.monotonic() >= due_s:
            bare.send([script.beat()])
            due_s += BEAT_S
        if select.select([bare.socket], [], [], max(0.0, due_s - time.monotonic()))[0]:
            for message in bare.receive():
                bare.send(script.on(json.loads(message.payload)))
