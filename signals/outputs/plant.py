"""Everything the wiring table connects: devices, the heads on them, the contacts on them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from signals.flash import next_edge_ms
from signals.mqtt.contract import Flash
from signals.nodes.display import Display
from signals.outputs.base import Output
from signals.outputs.contact import PROVE_MS as CONTACT_MS
from signals.outputs.contact import ContactWires, Watched, reader_of
from signals.outputs.lamps import PROVE_MS, HeadWires, LampWire, Sensor
from signals.outputs.line import Line, lines_of
from signals.outputs.protocols import number_points, protocols
from signals.venue.model import Node, Venue

MakeOutput = Callable[[Line, int], Output]
"""Make the output of a device, for nodes with this lease (ms)."""


def make_output(line: Line, lease_ms: int) -> Output:
    """Make the output that drives a device, by its protocol."""
    return protocols()[line.protocol].make(line, lease_ms=lease_ms)


class Plant:
    """The outputs of a venue whose table is sound (see `signals.wiring.lint`).

    `make` is called once for every device: tests and benchmarks bring their own.
    """

    def __init__(self, venue: Venue, make: MakeOutput = make_output) -> None:
        lines = lines_of(venue.wires, number_points())
        lease_ms = min((node.lease_ms for node in wired_nodes(venue)), default=venue.timing.lease_head)
        self.outputs = tuple(make(line, lease_ms) for line in lines)
        self._at: dict[str, Output] = {
            point.ref: output for output in self.outputs for point in (*output.line.outs, *output.line.ins)
        }
        self._numbers = {p.ref for output in self.outputs for p in output.line.outs if p.number}
        self._wires = venue.wires
        flash = Flash(period_ms=venue.choices.flash_period_ms, lit_ms=venue.choices.flash_lit_ms)
        wired = {wire.place for wire in venue.wires}
        self.heads = {
            head.id: HeadWires(self._lamps(head.id), flash) for head in venue.heads if head.id in wired
        }
        self.contacts = {each.id: self._contacts(each.id) for each in venue.inputs if each.id in wired}
        self.on_node = {node.id: self._outputs_of(node) for node in wired_nodes(venue)}
        self._images = {output: output.line.fail_image for output in self.outputs}
        self._mark = 0

    def paint(self, displays: Mapping[str, Display], now_ms: float) -> float:
        """Tell the devices of these heads what they show now; gives when one of their flashes changes (ms).

        A device is always told its whole image: the lamps of its other heads as they were painted last.
        """
        self._mark += 1
        concerned: dict[Output, None] = {}
        for head, display in displays.items():
            for wire, level in self.heads[head].levels(display, now_ms):
                self._images[wire.output][wire.ref] = level
                concerned[wire.output] = None
        for output in concerned:
            output.show(self._images[output], self._mark)
        for head, display in displays.items():
            self.heads[head].note(self._mark, display)
        flashes = (self.heads[head].flash_of(display) for head, display in displays.items())
        edges_ms = (next_edge_ms(now_ms, flash.period_ms, flash.lit_ms) for flash in flashes if flash)
        return min(edges_ms, default=float("inf"))

    def trouble(self, node: Node, now_ms: float) -> str:
        """Say which device of a node was not heard for its lease; "" for none."""
        lost = (
            f"{output.line}: {output.lost or 'silent'}"
            for output in self.on_node[node.id]
            if not output.fresh(now_ms / 1000, node.lease_ms / 1000)
        )
        return next(lost, "")

    def _lamps(self, head: str) -> Iterable[LampWire]:
        for wire in self._wires:
            if wire.place == head and wire.direction == "out":
                sensor = self._at.get(wire.feedback_ref or "")
                yield LampWire(
                    lamp=wire.aspect,
                    ref=wire.ref,
                    output=self._at[wire.ref],
                    number=wire.ref in self._numbers,
                    sensed_by=(sensor, wire.feedback_ref or "") if sensor else None,
                    sensor=Sensor(wire.prove_ms or PROVE_MS),
                )

    def _contacts(self, name: str) -> ContactWires:
        own = [wire for wire in self._wires if wire.place == name]
        refs, read = reader_of(own)
        watched = Watched(max(wire.prove_ms or CONTACT_MS for wire in own))
        return ContactWires(self._at[refs[0]], refs, read, watched)

    def _outputs_of(self, node: Node) -> tuple[Output, ...]:
        on_heads = [output for head in node.heads for output in self.heads[head].outputs]
        own = on_heads + [self.contacts[name].output for name in node.inputs]
        return tuple(dict.fromkeys(own))


def wired_nodes(venue: Venue) -> tuple[Node, ...]:
    """Give the nodes that the wiring table makes: real ones, with anything of theirs in it."""
    wired = {wire.place for wire in venue.wires}
    return tuple(
        node for node in venue.nodes if not node.simulated and wired.intersection((*node.heads, *node.inputs))
    )
