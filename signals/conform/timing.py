"""Timing diagrams for integrators, played by the nodes' own rules: what stands in them is what they do."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from typing import Any

from signals.controller.messages import caps_command
from signals.mqtt.codec import encode
from signals.mqtt.contract import (
    AspectCommand,
    Beat,
    LimitCommand,
    Message,
    NodeStatus,
    Shown,
    Taken,
)
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.nodes.device import Device, Say
from signals.venue.model import Node, Venue
from signals.words import Aspect, Because

BOOT, OTHER = "boota", "bootb"
BEAT_MS = 100


class Stage:
    """A device in time that only this moves, and the arrows of what is said to it and by it."""

    def __init__(self, venue: Venue, node: Node) -> None:
        self.venue = venue
        self.node = node
        self.arrows: list[str] = []
        self.epoch = 1
        self.now_ms = 0.0
        words = itertools.chain(["me"], (f"inc{number}" for number in itertools.count(1)))
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._device = Device(node, venue, draw=lambda: next(words))
        mine = ("head", node.heads[0], "shown") if node.heads else ("kart", str(node.karts[0]), "taken")
        self._mine = mine
        self._seqs = itertools.count(1)
        self._said: dict[tuple[str, ...], str] = {}
        self._show(self._device.join(0.0))

    @property
    def inc(self) -> str:
        """The incarnation the device has now."""
        return self._device.lease.inc

    def to(self, at_ms: float) -> None:
        """Let time pass, waking the device whenever it asks for it."""
        while (due_ms := self._device.due_ms) <= at_ms:
            self.now_ms = due_ms
            self._show(self._device.wake(due_ms))
        self.now_ms = at_ms

    def beats(self, until_ms: float) -> None:
        """Let beats come ten a second."""
        self.arrows.append(f"    Note over C,N: beats of {BOOT}, ten a second, until {until_ms:g} ms")
        while self.now_ms + BEAT_MS <= until_ms:
            self.beat(drawn=False)
            self.to(self.now_ms + BEAT_MS)
        self.beat(drawn=False)
        self.to(until_ms)

    def beat(self, boot: str = BOOT, *, stop: bool = False, drawn: bool = True) -> None:
        """Say a beat."""
        beat = Beat(boot=boot, seq=next(self._seqs), epoch=self.epoch, stop=stop, test=False, at=0)
        says = f"beat, {boot}, epoch {self.epoch}" + (", stop" if stop else "")
        self._tell(("beat",), beat, says if drawn else "")

    def aspect(self, aspect: Aspect, inc: str) -> None:
        """Say an aspect for the node's first head."""
        order = AspectCommand(boot=BOOT, seq=next(self._seqs), epoch=self.epoch, inc=inc, aspect=aspect)
        says = f"aspect {aspect}, {BOOT}, epoch {self.epoch}, {inc}"
        self._tell(("head", self.node.heads[0], "aspect"), order, says)

    def limit(self, kmh: float, inc: str) -> None:
        """Say a limit for the node's first kart."""
        common: dict[str, Any] = {"boot": BOOT, "seq": next(self._seqs), "epoch": self.epoch, "inc": inc}
        order = LimitCommand(**common, limit_kmh=kmh, boosts=0, because=Because.CLASS)
        says = f"limit {kmh:g}, {BOOT}, epoch {self.epoch}, {inc}"
        self._tell(("kart", str(self.node.karts[0]), "limit"), order, says)

    def caps(self) -> None:
        """Say the venue's constants for the node's first kart."""
        limits = self.venue.limits
        caps = caps_command(self.venue, BOOT, self.inc, "dry", next(self._seqs))
        says = f"caps: caution {limits.caution:g}, creep {limits.creep:g}, {self.inc}"
        self._tell(("kart", str(self.node.karts[0]), "caps"), caps, says)

    def silence(self) -> None:
        """Say that nothing is said from here on."""
        self.arrows.append(f"    Note over C: silent from {self.now_ms:g} ms on")

    def _tell(self, levels: tuple[str, ...], message: Message, says: str) -> None:
        if says:
            self.arrows.append(f"    C->>N: {self.now_ms:g} ms: {says}")
        self._show(self._device.hear(Arrived(self._topics.name(*levels), encode(message)), self.now_ms))

    def _show(self, said: list[Say]) -> None:
        for say in said:
            text = _text(say.message) if say.levels[0] == "node" or say.levels == self._mine else ""
            if text and self._said.get(say.levels) != text:
                self._said[say.levels] = text
                self.arrows.append(f"    N-->>C: {self.now_ms:g} ms: {text}")


def _text(message: Message) -> str:
    if isinstance(message, NodeStatus):
        return f"status, {message.inc}"
    if isinstance(message, Shown):
        return f"shown {message.aspect}"
    return f"taken {message.limit_kmh:g}" if isinstance(message, Taken) else ""


def _lapse(stage: Stage) -> None:
    stage.to(50)
    stage.beat()
    first = stage.inc
    stage.aspect(Aspect.GREEN, first)
    stage.to(150)
    stage.beats(350)
    stage.silence()
    stage.to(1000)
    stage.beat()
    stage.aspect(Aspect.GREEN, first)
    stage.arrows.append(f"    Note over N: was for {first}: nothing changes")
    stage.aspect(Aspect.GREEN, stage.inc)


def _stop(stage: Stage) -> None:
    stage.to(50)
    stage.beat()
    stage.aspect(Aspect.GREEN, stage.inc)
    stage.to(150)
    stage.epoch += 1
    stage.beat(stop=True)
    stage.to(250)
    stage.epoch += 1
    stage.beat()
    stage.arrows.append("    Note over N: the green was of epoch 1")
    stage.aspect(Aspect.YELLOW_FLASH, stage.inc)
    stage.to(350)
    stage.beat()
    stage.aspect(Aspect.GREEN, stage.inc)


def _two(stage: Stage) -> None:
    stage.to(50)
    stage.beat()
    stage.aspect(Aspect.GREEN, stage.inc)
    stage.to(100)
    stage.beat(OTHER)
    stage.aspect(Aspect.GREEN, stage.inc)
    stage.to(150)
    stage.beats(700)
    stage.arrows.append(f"    Note over N: {BOOT} has been alone for a whole lease, and its order was kept")


def _kart(stage: Stage) -> None:
    stage.to(50)
    stage.beat()
    stage.caps()
    stage.limit(45, stage.inc)
    stage.silence()
    stage.to(5000)
    stage.beat()
    stage.arrows.append("    Note over N: a beat alone raises nothing")
    stage.limit(45, stage.inc)


PLAYS: tuple[tuple[str, str, Callable[[Stage], None]], ...] = (
    ("A lapse, and back", "head", _lapse),
    ("A stop, and its end", "head", _stop),
    ("Two controllers", "head", _two),
    ("A kart that nobody leads", "kart", _kart),
)


def diagrams(venue: Venue) -> Iterator[str]:
    """Give each diagram as Markdown, played on a venue's first node with a head, or with a kart."""
    for title, kind, play in PLAYS:
        node = next(node for node in venue.nodes if (node.heads if kind == "head" else node.karts))
        stage = Stage(venue, node)
        play(stage)
        name = f"head {node.heads[0]}" if kind == "head" else f"kart {node.karts[0]}"
        yield "\n".join(
            (
                f"### {title}",
                "",
                "```mermaid",
                "sequenceDiagram",
                "    participant C as controller",
                f"    participant N as {name}, lease {node.lease_ms} ms",
                *stage.arrows,
                "```",
            )
        )
