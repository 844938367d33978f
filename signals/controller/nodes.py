"""Which incarnation of each node is addressed, and what is wrong with a node by its own word.

A node draws a new incarnation at boot and after every lapse of its lease. The equipment's hold is
placed BEFORE a new incarnation is addressed: nothing permissive comes back by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.core.state import Event
from signals.mqtt.contract import NodeStatus
from signals.venue.model import Node, Venue


@dataclass(slots=True)
class _Known:
    inc: str = ""
    since_s: float = 0.0
    trouble: str = ""


class Nodes:
    """The venue's nodes as they report themselves."""

    def __init__(self, venue: Venue) -> None:
        self._nodes = {node.id: node for node in venue.nodes}
        self._known = {node.id: _Known() for node in venue.nodes}
        self._of_head = {head.id: head.node for head in venue.heads}
        self._of_kart = {kart.number: kart.node for kart in venue.karts}

    def of_head(self, head: str) -> str:
        """Give the incarnation a head is addressed by, "" until it is known."""
        return self._known[self._of_head[head]].inc

    def of_kart(self, kart: int) -> str:
        """Give the incarnation a kart is addressed by, "" until it is known."""
        return self._known[self._of_kart[kart]].inc

    def knows(self, name: str) -> bool:
        """Tell whether any incarnation of a node was addressed yet."""
        return bool(self._known[name].inc)

    def lost_with(self, name: str, status: NodeStatus, *, settling: bool) -> Iterator[Event]:
        """Give the losses a status means, to be acted on before `address`.

        While `settling` (a start, nothing permissive commanded) a new incarnation needs no hold: what
        shows green later does so by a person's later act.
        """
        known, node = self._known[name], self._nodes[name]
        if status.status != "ready":
            yield from _losses(node, _trouble(name, status))
        elif known.inc != status.inc and not settling:
            yield from _losses(node, f"node {name} began anew")

    def address(self, name: str, status: NodeStatus, now_s: float) -> None:
        """Address commands to the incarnation a node says it is."""
        known = self._known[name]
        known.trouble = _trouble(name, status)
        if not known.trouble and known.inc != status.inc:
            known.inc, known.since_s = status.inc, now_s

    def trouble(self, name: str) -> str:
        """Say what a node reports of itself; "" for nothing."""
        return self._known[name].trouble

    def addressed_since(self, name: str) -> float | None:
        """When (loop time, s) its incarnation was first addressed; None if none is known."""
        known = self._known[name]
        return known.since_s if known.inc else None


def _trouble(name: str, status: NodeStatus) -> str:
    return {"ready": "", "gone": f"node {name} is gone", "fault": f"node {name} reports a fault"}[
        status.status
    ]


def _losses(node: Node, reason: str) -> Iterator[Event]:
    for head in node.heads:
        yield Event("head-lost", fields={"head": head, "reason": reason})
    for kart in node.karts:
        yield Event("kart-lost", fields={"kart": kart, "reason": reason})
