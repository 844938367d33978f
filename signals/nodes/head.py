"""A signal head: what it shows, by the node rules, and the lamps that show it or fail to."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

from msgspec import UNSET

from signals.mqtt.codec import decode_lenient
from signals.mqtt.contract import AspectCommand, Inject, Shown
from signals.nodes.display import Display
from signals.nodes.lease import InEpoch, Lease
from signals.nodes.organ import Levels, Organ, Rejected
from signals.nodes.sensor import Flasher, LampSensor
from signals.venue.model import Head
from signals.words import Aspect, HeadRole

FLASHERS = {"slow-flash": Flasher.SLOW, "no-flash": Flasher.STEADY}
"""The faults that only a sensor sees."""


class Face:
    """Which lamps make which aspect on one head: the venue's table, read both ways."""

    def __init__(self, head: Head) -> None:
        self._aspects = {aspect: Display(aspect, lamps) for aspect, lamps in head.aspects.items()}
        self._lamps = {lamp for lamps in head.aspects.values() for lamp in lamps}
        self._number = head.number

    def show(self, aspect: Aspect) -> Display:
        """Give an aspect's display; raises `Rejected` if the head has none."""
        display = self._aspects.get(aspect)
        if display is None:
            raise Rejected(f"cannot show {aspect}, only {', '.join(sorted(self._aspects))}")
        return display

    def light(self, lamps: tuple[str, ...], told: Aspect) -> Display:
        """Give the display of single lamps under the aspect told; raises `Rejected` if it lacks one."""
        if unknown := sorted(set(lamps) - self._lamps):
            raise Rejected(f"has no lamp {unknown[0]}, only {', '.join(sorted(self._lamps))}")
        return Display(told, lamps)

    def seen(self, lamps: tuple[str, ...]) -> Display:
        """Give the display that such lamps look like, whatever was meant; raises `Rejected` for no aspect."""
        made = [aspect for aspect, due in self._aspects.items() if set(due.lamps) == set(lamps)]
        if not made:
            raise Rejected(
                f"makes no aspect with {', '.join(lamps)}; give one of {', '.join(sorted(self._lamps))}"
            )
        return Display(made[0], lamps)

    def check(self, order: AspectCommand) -> None:
        """Raise `Rejected` if this head cannot do what an order says."""
        self.show(order.aspect)
        if order.lamps:
            self.light(tuple(order.lamps), order.aspect)
        if order.number is not None and not self._number:
            raise Rejected(f"has no number display for {order.number}")
        if order.flash and order.flash.lit_ms > order.flash.period_ms:
            raise Rejected(f"cannot be lit {order.flash.lit_ms} of {order.flash.period_ms} ms")


class Rules:
    """What a head has to show. The rules that integrators copy; each is one line of `due`."""

    def __init__(self, face: Face, lease: Lease, orders: InEpoch[AspectCommand], fail: Aspect) -> None:
        self._face = face
        self._lease = lease
        self._orders = orders
        self._red = face.show(Aspect.RED)
        self._fail = face.show(fail)
        self.tripped = False

    def due(self) -> Display:
        """Decide: a stop or a trip first, then an order that the lease bears out, else the fail aspect."""
        order = self._orders.current()
        if self._stop_heard() or self.tripped:
            return self._red
        if order is None:
            return self._fail
        if order.lamps is not None and self._testing():
            return self._face.light(tuple(order.lamps), order.aspect)
        plain = self._face.show(order.aspect)
        if order.flash is None and order.number is None:
            return plain
        return Display(order.aspect, plain.lamps, order.flash, order.number)

    def _stop_heard(self) -> bool:
        return self._lease.stop

    def _testing(self) -> bool:
        return self._lease.beat is not None and self._lease.beat.test


class Lamps:
    """The lamps and their driver, with the faults that lamps have: stuck, wrong, slow."""

    def __init__(self, display: Display) -> None:
        self.display = display
        self.after_ms = 0
        self.stuck = False
        self.wrong: Display | None = None
        self.slow_ms = 0
        self._wanted = display
        self._cause_ms = 0.0

    def drive(self, wanted: Display, now_ms: float, cause_ms: float) -> bool:
        """Bring the lamps to what is wanted since `cause_ms`; True if they changed."""
        if wanted != self._wanted:
            self._wanted, self._cause_ms = wanted, cause_ms
        if self.due_ms is None or now_ms < self.due_ms:
            return False
        self.display = self._real
        self.after_ms = max(0, round(now_ms - self._cause_ms))
        return True

    @property
    def due_ms(self) -> float | None:
        """When the lamps will have followed; None if they have, or never will."""
        behind = self._real != self.display and not self.stuck
        return self._cause_ms + self.slow_ms if behind else None

    def fail(
        self, now_ms: float, *, stuck: bool = False, wrong: Display | None = None, slow_ms: int = 0
    ) -> None:
        """Take these faults, and no others, from now on."""
        self.stuck, self.wrong, self.slow_ms = stuck, wrong, slow_ms
        self._cause_ms = now_ms

    @property
    def _real(self) -> Display:
        return self.wrong or self._wanted


class HeadLogic(Organ):
    """One head of a node. With a sensor it proves its lamps and measures how they flash.

    Without one `proven` stays None.

    Raises:
        Rejected: the venue gives the head no lamps for red or for its fail aspect.

    """

    faults = frozenset({"wrong-lamp", "stuck", "slow", *FLASHERS})

    def __init__(
        self,
        head: Head,
        lease: Lease,
        fail: Mapping[HeadRole, Aspect],
        *,
        sensor: LampSensor | None = None,
    ) -> None:
        super().__init__(head.id, ("head", head.id, "shown"))
        self._lease = lease
        self._sensor = sensor
        self._face = Face(head)
        self._orders = InEpoch[AspectCommand](lease)
        self._rules = Rules(self._face, lease, self._orders, fail[head.role])
        self._lamps = Lamps(self._rules.due())

    @property
    def display(self) -> Display:
        """What it really shows."""
        return self._lamps.display

    @property
    def memory(self) -> Hashable:
        """What it decides by, beside the lease."""
        return self._orders.memory, self._rules.tripped

    @memory.setter
    def memory(self, memory: Any) -> None:
        self._orders.memory, self._rules.tripped = memory

    @property
    def orders(self) -> tuple[Levels, ...]:
        """`head/<id>/aspect`."""
        return (("head", self.id, "aspect"),)

    @property
    def due_ms(self) -> float | None:
        """When slow lamps will have followed, or its sensor has something to see."""
        lamps_ms, edge_ms = self._lamps.due_ms, self._sensor.edge_ms if self._sensor else None
        return edge_ms if lamps_ms is None else lamps_ms if edge_ms is None else min(lamps_ms, edge_ms)

    def hear(self, what: str, payload: bytes) -> None:
        """Take an aspect; one that this head cannot show changes nothing."""
        del what
        order = decode_lenient(AspectCommand, payload)
        self._face.check(order)
        self._orders.take(order)

    def hear_trip(self, *, tripped: bool) -> None:
        """Show red on the monitor's word alone, until the monitor was reset."""
        self._rules.tripped = tripped

    def settle(self, now_ms: float, cause_ms: float) -> bool:
        """Show what is due."""
        changed = self._lamps.drive(self._rules.due(), now_ms, cause_ms)
        if self._sensor:
            self._sensor.look(self._lamps.display, now_ms)
        return changed

    def say(self, boot: str, seq: int) -> Shown:
        """Report what it really shows."""
        driven = list(self.display.lamps)
        return Shown(
            boot=boot,
            seq=seq,
            beat_seq=self._lease.echo,
            after_ms=self._lamps.after_ms,
            aspect=self.display.aspect,
            driven=driven,
            proven=driven if self._sensor else None,
            flash_hz=self._sensor.flash_hz if self._sensor else UNSET,
        )

    def take_fault(self, fault: Inject, now_ms: float) -> str:
        """Take `wrong-lamp` (with `aspect` or `lamp`), `stuck`, `slow` (by `for_ms`) or a flasher's."""
        if fault.event in FLASHERS:
            return self._flash(FLASHERS[fault.event])
        if fault.event == "wrong-lamp":
            wrong = self._wrong(fault)
            self._lamps.fail(now_ms, wrong=wrong)
            return f"{self.id} shows {wrong.aspect} whatever it is told"
        if fault.event == "stuck":
            self._lamps.fail(now_ms, stuck=True)
            return f"{self.id} keeps showing {self.display.aspect}"
        if not fault.for_ms:
            raise Rejected("slow needs for_ms, the ms its lamps are late")
        self._lamps.fail(now_ms, slow_ms=fault.for_ms)
        return f"{self.id} follows {fault.for_ms} ms late"

    def mend(self, now_ms: float) -> None:
        """Let the lamps follow again."""
        self._lamps.fail(now_ms)
        if self._sensor:
            self._sensor.flasher = Flasher.SOUND

    def _flash(self, flasher: Flasher) -> str:
        if self._sensor is None:
            raise Rejected(f"at {self.id} nobody would see it: only a sensor does, and it has none")
        self._sensor.flasher = flasher
        how = "half as fast" if flasher is Flasher.SLOW else "not at all: its lamps stay lit"
        return f"{self.id} flashes {how}"

    def _wrong(self, fault: Inject) -> Display:
        if fault.lamp is not None:
            return self._face.seen((fault.lamp,))
        if fault.aspect is not None:
            return self._face.show(fault.aspect)
        raise Rejected("wrong-lamp needs an aspect or a lamp to show")
