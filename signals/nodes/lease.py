"""Whom a node obeys, and for how long (RULES: nodes). Pure: the caller brings the time.

A node obeys an order only on the strength of a beat. A beat holds for the lease; every lapse draws
a new incarnation, so that nothing said before the lapse can be obeyed after it. Times are `now_ms`
on the node's own monotonic clock; no time of day is ever compared.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Generic, Protocol, TypeVar

from signals.mqtt.codec import BOOTS_KEPT, is_newer
from signals.mqtt.contract import Beat


class Order(Protocol):
    """What a controller addresses to one incarnation of a node."""

    @property
    def boot(self) -> str:
        """The boot of the controller that says it."""

    @property
    def seq(self) -> int:
        """Its number, compared per topic and boot."""

    @property
    def inc(self) -> str:
        """The incarnation it is meant for."""


class EpochOrder(Order, Protocol):
    """An order that holds within one epoch only."""

    @property
    def epoch(self) -> int:
        """The epoch it was said in."""


@dataclass(frozen=True, slots=True)
class Heard:
    """The newest beat heard of a boot, and when any beat of it was heard last."""

    boot: str
    seq: int
    at_ms: float


@dataclass(frozen=True, slots=True)
class Memory:
    """All that a lease remembers, as one value: it can be looked at, kept, and put back.

    `beat` is the last beat of the one boot in charge, None while nobody is. `inc` is the node's
    incarnation, drawn at boot and after every lapse. `stop` stands from the first beat that says
    so, whoever sent it, until the boot in charge says otherwise: silence does not end it.
    `echo` is the number of the last beat heard (0: none yet).
    """

    inc: str
    beat: Beat | None = None
    renewed_ms: float = 0.0
    stop: bool = False
    echo: int = 0
    heard: tuple[Heard, ...] = ()
    """The latest last; a boot silent for long is still known, so that a late copy is known as late."""


class Lease:
    """Hears beats; says which one counts now, whether a stop was heard, and who the node is."""

    def __init__(self, lease_ms: int, draw: Callable[[], str]) -> None:
        self.lease_ms = lease_ms
        self.memory = Memory(draw())
        self._draw = draw

    @property
    def inc(self) -> str:
        """Who the node is now."""
        return self.memory.inc

    @property
    def beat(self) -> Beat | None:
        """The beat that counts now."""
        return self.memory.beat

    @property
    def stop(self) -> bool:
        """Whether a stop was heard and stands."""
        return self.memory.stop

    @property
    def echo(self) -> int:
        """The number of the last beat heard."""
        return self.memory.echo

    @property
    def ends_ms(self) -> float | None:
        """When the lease lapses unless another beat comes; None while none runs."""
        return self.memory.renewed_ms + self.lease_ms if self.memory.beat else None

    def pass_time(self, now_ms: float) -> float | None:
        """Let the lease lapse if it is over; gives the moment it was over, None if it was not."""
        ends_ms = self.ends_ms
        if ends_ms is None or not self._is_over(ends_ms, now_ms):
            return None
        self.lapse()
        return ends_ms

    def hear(self, beat: Beat, now_ms: float) -> None:
        """Take a beat. A late or doubled one renews nothing; one of a second boot ends the lease.

        After two boots the lease runs again once one of them has been alone for a whole lease.
        """
        kept = next((heard.seq for heard in self.memory.heard if heard.boot == beat.boot), 0)
        newer = not kept or self._is_newer(beat.seq, kept)
        others = self._others(beat.boot, now_ms)
        rest = [heard for heard in self.memory.heard if heard.boot != beat.boot]
        mine = Heard(beat.boot, beat.seq if newer else kept, now_ms)
        heard, echo = (*rest, mine)[-BOOTS_KEPT:], beat.seq if newer else self.echo
        if others:
            self._keep(heard=heard, echo=echo, stop=self.stop or beat.stop)
            self.lapse()
        elif newer:
            self.memory = Memory(self.inc, beat, now_ms, beat.stop, echo, heard)  # nearly always
        else:
            self._keep(heard=heard, echo=echo)

    def _others(self, boot: str, now_ms: float) -> tuple[Heard, ...]:
        """Find the other boots heard within the last lease."""
        since_ms = now_ms - self.lease_ms
        return tuple(heard for heard in self.memory.heard if heard.boot != boot and heard.at_ms > since_ms)

    def lapse(self) -> None:
        """Obey nobody from now on; whoever wants to be obeyed must learn who this node is now."""
        if self.beat is not None:
            self._keep(beat=None, inc=self._next_incarnation())

    def _keep(self, **changes: Any) -> None:
        self.memory = replace(self.memory, **changes)

    def _is_over(self, ends_ms: float, now_ms: float) -> bool:
        return now_ms >= ends_ms

    def _is_newer(self, seq: int, than: int) -> bool:
        return is_newer(seq, than)

    def _next_incarnation(self) -> str:
        return self._draw()


O = TypeVar("O", bound=Order)  # noqa: E741 - an order
E = TypeVar("E", bound=EpochOrder)


class Addressed(Generic[O]):
    """The newest order per boot that was addressed to this incarnation, on one topic: its `memory`."""

    def __init__(self, lease: Lease) -> None:
        self.memory: tuple[O, ...] = ()
        self._lease = lease

    def take(self, order: O) -> None:
        """Keep an order if it is meant for this node as it is now and newer than what is kept."""
        self.memory = tuple([kept for kept in self.memory if self._is_mine(kept)])
        kept = self._of_boot(order.boot)
        if self._is_mine(order) and (kept is None or self._is_newer(order.seq, kept.seq)):
            self.memory = (*(other for other in self.memory if other is not kept), order)

    def current(self) -> O | None:
        """Give the order that the lease bears out now: of the boot in charge, to this incarnation."""
        beat = self._lease.beat
        order = self._of_boot(beat.boot) if beat else None
        return order if order is not None and self._is_mine(order) else None

    def _of_boot(self, boot: str) -> O | None:
        return next((kept for kept in self.memory if kept.boot == boot), None)

    def _is_mine(self, order: O) -> bool:
        return order.inc == self._lease.inc

    def _is_newer(self, seq: int, than: int) -> bool:
        return is_newer(seq, than)


class InEpoch(Addressed[E]):
    """Orders that are obeyed only while the last beat is of the very same epoch.

    So an order from before a stop ends with the first beat after it, and one that overtook its
    beat waits for it.
    """

    def current(self) -> E | None:
        """Give the order that lease and epoch bear out now."""
        order, beat = super().current(), self._lease.beat
        return order if order and beat and self._same_epoch(order.epoch, beat.epoch) else None

    def _same_epoch(self, order: int, beat: int) -> bool:
        return order == beat
