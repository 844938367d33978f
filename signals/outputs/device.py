"""A node whose heads and inputs hang on wires: the rules of every node, and lamps that are there."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from signals.mqtt.contract import Shown
from signals.nodes.device import Device, Say
from signals.nodes.display import Display
from signals.nodes.head import HeadLogic
from signals.nodes.lease import Lease
from signals.nodes.organ import Organ
from signals.outputs.contact import WiredContact
from signals.outputs.lamps import HeadWires, Seen
from signals.outputs.plant import Plant
from signals.venue.model import Head, Node, Venue
from signals.words import Aspect, HeadRole

Paint = Callable[[tuple[HeadLogic, ...]], None]
"""Bring to the wires what these heads show."""


class WiredHead(HeadLogic):
    """A head that shows what its wires show: it reports that, and nothing while they are silent."""

    faults = frozenset()

    def __init__(self, head: Head, lease: Lease, fail: Mapping[HeadRole, Aspect], wires: HeadWires) -> None:
        super().__init__(head, lease, fail)
        self._aspects = head.aspects
        self._wires = wires
        self._display = super().display
        self._seen: Seen | None = None
        self._cause_ms: float | None = None
        self._after_ms = 0
        self.silent = True

    @property
    def display(self) -> Display:
        """What its wires are to show."""
        return self._display

    @property
    def due_ms(self) -> float | None:
        """Nothing of its own: its devices tell of themselves."""
        return None

    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Decide what is due; what is reported is what the wires make of it."""
        del now_ms
        due = self._rules.due()
        if due != self._display:
            self._display, self._cause_ms = due, cause_ms
        return False

    def look(self, now_ms: float) -> bool:
        """Look at what the wires show."""
        seen = self._wires.look(now_ms, self._lease.lease_ms)
        changed, self._seen = seen != self._seen, seen
        self.silent = seen is None
        if seen is not None and self._cause_ms is not None and seen.display == self.display:
            self._after_ms = max(0, round(now_ms - self._cause_ms))
            self._cause_ms = None
        return changed and seen is not None

    def say(self, boot: str, seq: int) -> Shown:
        """Report what the wires show."""
        seen = self._seen or Seen(self.display, (), None)
        return Shown(
            boot=boot,
            seq=seq,
            beat_seq=self._lease.echo,
            after_ms=self._after_ms,
            aspect=seen.looks_like(self._aspects),
            driven=list(seen.driven),
            proven=None if seen.proven is None else list(seen.proven),
            flash_hz=seen.flash_hz,
        )


class WiredDevice(Device):
    """One node of the wiring table; `paint` brings what its heads show to the wires.

    `heads` are its heads, which know what they have to show.

    When a device that its lamps hang on was not heard for the lease, the node is in trouble: it says
    so, obeys nobody, and draws a new incarnation, so that nothing comes back by itself.
    """

    firmware = "kerblight outputs"

    def __init__(
        self, node: Node, venue: Venue, plant: Plant, *, draw: Callable[[], str], paint: Paint
    ) -> None:
        self._plant = plant
        self._paint = paint
        super().__init__(node, venue, draw=draw)

    def boot_up(self, now_ms: float) -> None:
        """Begin anew."""
        super().boot_up(now_ms)
        self.heads = tuple(organ for organ in self.organs if isinstance(organ, HeadLogic))

    def _make_organs(self) -> tuple[Organ, ...]:
        fail = self._venue.choices.fail_aspect
        heads = (head for head in self._venue.heads if head.id in self.node.heads)
        return (
            *(WiredHead(head, self.lease, fail, self._plant.heads[head.id]) for head in heads),
            *(WiredContact(name, self.lease, self._plant.contacts[name]) for name in self.node.inputs),
        )

    def _drive(self) -> None:
        self._paint(self.heads)

    def _act(self, now_ms: float, concerned: tuple[Organ, ...] = ()) -> list[Say]:
        if not concerned:
            trouble = self._plant.trouble(self.node, now_ms)
            if trouble and not self.trouble:
                self.lease.lapse()
            self.trouble = trouble
        return super()._act(now_ms, concerned)
