"""Which protocols there are: what each needs in the wiring table, and who drives it.

A backend of another distribution comes by the entry point group `kerblight.outputs`: its name is
the table's `protocol`, its value a `Protocol`. What is not found is a mistake; nothing stands in.
"""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import entry_points
from typing import Literal

from signals.errors import Unusable
from signals.outputs.base import Output
from signals.outputs.line import Line

GROUP = "kerblight.outputs"


@dataclass(frozen=True, slots=True, kw_only=True)
class PointType:
    """One kind of point: which way it goes, and which addresses (counted from 0) there are."""

    direction: Literal["out", "in"]
    highest: int
    size: int = 1
    """Addresses that one point takes."""
    number: bool = False
    """It carries a number, a display's or a loop's, and not on or off."""
    prefix: int = 0
    """What old papers add to an address to tell this kind from others: 40,001 is holding register 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Protocol:
    """A protocol of the wiring table.

    `backend` is "module:Class" of an `Output`; `needs` the columns a row must fill; `units` the least
    and most in column `unit`; `can_watch` whether such a device can have a write watchdog at all.
    """

    name: str
    backend: str
    points: Mapping[str, PointType]
    needs: frozenset[str] = frozenset()
    units: tuple[int, int] | None = None
    can_watch: bool = True
    energised_only: bool = False
    """Whether the de-energised state is the only fail state it can have."""
    lone_writer: bool = False
    """Whether the unit is one number in the whole network, whatever the host."""
    settle_ms: int = 0
    """How long a write may take at most, once the device is reached."""
    notes: str = field(default="", compare=False)

    def make(self, line: Line, *, lease_ms: int) -> Output:
        """Make the output of one device; raises Unusable where its driver cannot be imported."""
        module, _, name = self.backend.partition(":")
        try:
            backend: type[Output] = getattr(importlib.import_module(module), name)
        except ImportError as missing:
            raise Unusable(f"{self.name}: its driver cannot be loaded ({missing})") from missing
        return backend(line, lease_ms=lease_ms)


_MODBUS = {
    "coil": PointType(direction="out", highest=65_535),
    "holding": PointType(direction="out", highest=65_535, number=True, prefix=40_000),
    "discrete": PointType(direction="in", highest=65_535, prefix=10_000),
    "input-register": PointType(direction="in", highest=65_535, number=True, prefix=30_000),
}
_UNITS = (0, 247)

OURS = (
    Protocol(
        name="modbus-tcp",
        backend="signals.outputs.modbus:ModbusTcp",
        points=_MODBUS,
        needs=frozenset({"host", "unit"}),
        units=(0, 255),
        settle_ms=150,
        notes="a relay board on the network; driven is read back",
    ),
    Protocol(
        name="modbus-rtu",
        backend="signals.outputs.modbus:ModbusRtu",
        points=_MODBUS,
        needs=frozenset({"host", "port", "unit"}),
        units=_UNITS,
        settle_ms=150,
        notes="a relay board on a serial line; driven is read back",
    ),
    Protocol(
        name="e131",
        backend="signals.outputs.e131:E131",
        points={
            "slot": PointType(direction="out", highest=511),
            "slot-pair": PointType(direction="out", highest=510, size=2, number=True),
        },
        needs=frozenset({"host", "unit"}),
        units=(1, 63_999),
        lone_writer=True,
        notes="lamps on a lighting network; nothing is acknowledged",
    ),
    Protocol(
        name="gpio",
        backend="signals.outputs.gpio:Gpio",
        points={
            "pin": PointType(direction="out", highest=53),
            "contact": PointType(direction="in", highest=53),
        },
        needs=frozenset({"host"}),
        can_watch=False,
        energised_only=True,
        notes="pins of this machine, for a bench; no watchdog",
    ),
    Protocol(
        name="virtual",
        backend="signals.outputs.virtual:Virtual",
        points={
            "lamp": PointType(direction="out", highest=65_535),
            "display": PointType(direction="out", highest=65_535, number=True),
            "contact": PointType(direction="in", highest=65_535),
            "loop": PointType(direction="in", highest=65_535, number=True),
        },
        notes="in memory, for rehearsals",
    ),
)


@cache
def protocols() -> Mapping[str, Protocol]:
    """Give every protocol by its name, others' too; ours cannot be replaced."""
    theirs = {point.name: point for point in entry_points(group=GROUP)}
    found: dict[str, Protocol] = {}
    for name, point in theirs.items():
        loaded = point.load()
        if not isinstance(loaded, Protocol):
            raise Unusable(f"the output {name} of {point.value} is no Protocol; reinstall what ships it")
        found[name] = loaded
    return found | {protocol.name: protocol for protocol in OURS}


def number_points() -> frozenset[tuple[str, str]]:
    """Give every (protocol, point type) that carries a number."""
    return frozenset(
        (name, kind)
        for name, protocol in protocols().items()
        for kind, point in protocol.points.items()
        if point.number
    )
