"""One virtual node: what it hears, by whom it lives, what it says. Pure: the caller brings the time.

Every input gives the list of what to publish. `due_ms` is when `wake` wants to be called at the
latest: the watchdog of the lease is nothing else, so it runs whether or not messages come.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Hashable, Mapping
from dataclasses import dataclass
from functools import partial

from signals.mqtt.codec import Malformed, decode_lenient, next_seq
from signals.mqtt.contract import NODE_MESSAGE_MAX, Beat, Flash, Inject, Message, NodeStatus, Trip
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.nodes.contact import ContactLogic
from signals.nodes.head import HeadLogic
from signals.nodes.lease import Lease, Memory
from signals.nodes.limiter import LimiterLogic
from signals.nodes.organ import Levels, Organ, Rejected
from signals.nodes.sensor import LampSensor
from signals.venue.model import Node, Venue

FIRMWARE = "virtual"
REPORTS_PER_LEASE = 4
"""How often a node reports unasked; the contract wants at least three."""
LAST_REJECT_MAX = 200
LOST = frozenset({"head-lost", "kart-lost"})
BACK = frozenset({"head-back", "kart-back"})


@dataclass(frozen=True, slots=True)
class Say:
    """Something to publish."""

    levels: Levels
    message: Message
    qos: int = 0
    retain: bool = False


Hearing = Callable[[Arrived, float], tuple[Organ, ...]]
"""Take a message at a time (ms), and give the organs that it may change."""


class Device:
    """A node of the venue with its heads, limiters and contacts; one lease and one incarnation for all.

    `draw` gives a random word of 4 to 16 letters and digits: for the boot and each incarnation.
    `sensors` are the heads that prove their lamps. A lost device neither hears nor speaks, but its
    own clock goes on; only `inject` still reaches it. `returning` asks for a new connection, as a
    device makes one that comes back: what is retained for it comes with it. `trouble` says why its
    own equipment fails it, and is reported as a fault. `due_ms` is when it must be woken at the latest.
    """

    firmware = FIRMWARE

    def __init__(
        self, node: Node, venue: Venue, *, draw: Callable[[], str], sensors: frozenset[str] = frozenset()
    ) -> None:
        self.node = node
        self.lost = False
        self.returning = False
        self._venue = venue
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._draw = draw
        self._sensors = sensors
        self.boot_up(0.0)

    def boot_up(self, now_ms: float) -> None:
        """Begin anew: a new boot and incarnation, nothing remembered, every fault gone."""
        self.lost = self.returning = False
        self.trouble = ""
        self.boot = self._draw()
        self.lease = Lease(self.node.lease_ms, self._draw)
        self.organs = self._make_organs()
        self._hearing = self._hears()
        self._seqs = dict.fromkeys(self.organs, 0)
        self._rejects = 0
        self._last_reject: str | None = None
        self._status_said: NodeStatus | None = None
        self._mend_ms: float | None = None
        self._report_ms = now_ms + self._report_every_ms
        for organ in self.organs:
            organ.settle(now_ms, now_ms)
        self.due_ms = self._next_due_ms

    def _make_organs(self) -> tuple[Organ, ...]:
        fail = self._venue.choices.fail_aspect
        heads = (head for head in self._venue.heads if head.id in self.node.heads)
        return (
            *(HeadLogic(head, self.lease, fail, sensor=self._sensor(head.id)) for head in heads),
            *(LimiterLogic(kart, self.lease) for kart in self.node.karts),
            *(ContactLogic(input_id, self.lease) for input_id in self.node.inputs),
        )

    def _sensor(self, head: str) -> LampSensor | None:
        choices = self._venue.choices
        usual = Flash(period_ms=choices.flash_period_ms, lit_ms=choices.flash_lit_ms)
        return LampSensor(usual) if head in self._sensors else None

    @property
    def _report_every_ms(self) -> float:
        return self.node.lease_ms / REPORTS_PER_LEASE

    @property
    def subscriptions(self) -> tuple[Levels, ...]:
        """What it listens to: the beat, its own topics, the monitor's trip; never `state`."""
        faults = (("inject", self.node.id),) if self.node.simulated else ()
        orders = (levels for organ in self.organs for levels in organ.orders)
        return (("beat",), ("monitor", "trip"), *orders, *faults)

    @property
    def status(self) -> NodeStatus:
        """What it says of itself."""
        return NodeStatus(
            status="fault" if self.trouble else "ready",
            boot=self.boot,
            inc=self.lease.inc,
            firmware=self.firmware,
            heads=list(self.node.heads),
            karts=list(self.node.karts),
            rejects=self._rejects,
            last_reject=self._last_reject,
        )

    @property
    def memory(self) -> tuple[Memory, tuple[Hashable, ...]]:
        """All that its decisions depend on, as one value: the lease's and each organ's memory."""
        return self.lease.memory, tuple(organ.memory for organ in self.organs)

    @memory.setter
    def memory(self, memory: tuple[Memory, tuple[Hashable, ...]]) -> None:
        self.lease.memory = memory[0]
        for organ, kept in zip(self.organs, memory[1], strict=True):
            organ.memory = kept
        self.due_ms = self._next_due_ms

    @property
    def _next_due_ms(self) -> float:
        dues = (self.lease.ends_ms, self._mend_ms, *(organ.due_ms for organ in self.organs))
        return min([self._report_ms, *(due for due in dues if due is not None)])

    def wake(self, now_ms: float) -> list[Say]:
        """Do what is due."""
        return self._act(now_ms)

    def join(self, now_ms: float) -> list[Say]:
        """Introduce itself on a connection that just came up."""
        self.returning = False
        self._status_said = None
        self._report_ms = now_ms
        return self._act(now_ms)

    def hear(self, arrived: Arrived, now_ms: float) -> list[Say]:
        """Take a message; a malformed one is counted and changes nothing."""
        said = self._act(now_ms) if now_ms >= self.due_ms else []
        if self.lost:
            return said
        concerned = self.organs
        try:
            concerned = self._take(arrived, now_ms)
        except (Malformed, Rejected) as why:
            self._rejects += 1
            self._last_reject = f"{'/'.join(self._topics.split(arrived.topic))}: {why}"[:LAST_REJECT_MAX]
        return said + self._act(now_ms, concerned)

    def inject(self, fault: Inject, now_ms: float) -> tuple[str, list[Say]]:
        """Take a fault on command: what came of it, and what to publish; raises `Rejected`."""
        said = self._act(now_ms)
        came = self._take_fault(fault, now_ms)
        if fault.for_ms and fault.event != "slow":
            self._mend_ms = now_ms + fault.for_ms
        return came, said + self._act(now_ms)

    def _hears(self) -> Mapping[str, Hearing]:
        """Give, for each topic, what takes a message on it."""
        orders = {
            self._topics.name(*levels): partial(self._hear_order, organ, levels[-1])
            for organ in self.organs
            for levels in organ.orders
        }
        beat, trip = self._topics.name("beat"), self._topics.name("monitor", "trip")
        return {beat: self._hear_beat, trip: self._hear_trip, **orders}

    def _take(self, arrived: Arrived, now_ms: float) -> tuple[Organ, ...]:
        """Take a message, and give the organs that it may change."""
        hearing = self._hearing.get(arrived.topic)
        if hearing is None:
            raise Rejected("not a topic of this node")
        return hearing(arrived, now_ms)

    def _hear_beat(self, arrived: Arrived, now_ms: float) -> tuple[Organ, ...]:
        _check_size(arrived)
        if arrived.retained:
            raise Rejected("retained, so it is old: a beat is never retained")
        self.lease.hear(decode_lenient(Beat, arrived.payload), now_ms)
        return self.organs

    def _hear_trip(self, arrived: Arrived, _: float) -> tuple[Organ, ...]:
        trip = decode_lenient(Trip, arrived.payload)
        for organ in self.organs:
            organ.hear_trip(tripped=trip.tripped)
        return self.organs

    def _hear_order(self, organ: Organ, what: str, arrived: Arrived, _: float) -> tuple[Organ, ...]:
        _check_size(arrived)
        organ.hear(what, arrived.payload)
        return (organ,)

    def _take_fault(self, fault: Inject, now_ms: float) -> str:
        if fault.event in LOST:
            self.lost = True
            return f"{self.node.id} neither hears nor speaks"
        if fault.event in BACK:
            self._mend(now_ms)
            return f"{self.node.id} is back, every fault ended"
        return self._organ_for(fault).take_fault(fault, now_ms)

    def _organ_for(self, fault: Inject) -> Organ:
        able = [organ for organ in self.organs if fault.event in organ.faults]
        if not able:
            can = sorted({*LOST, *BACK, "reboot"}.union(*(organ.faults for organ in self.organs)))
            raise Rejected(f"{self.node.id} cannot do {fault.event}, only {', '.join(can)}")
        named = {str(name) for name in (fault.head, fault.kart, fault.input) if name is not None}
        meant = [organ for organ in able if not named or organ.id in named]
        if len(meant) != 1:
            which = ", ".join(organ.id for organ in able)
            raise Rejected(f"{fault.event} at {self.node.id} needs one of {which}")
        return meant[0]

    def _mend(self, now_ms: float) -> None:
        self._mend_ms = None
        self.returning = self.lost
        self.lost = False
        for organ in self.organs:
            organ.mend(now_ms)

    def _act(self, now_ms: float, concerned: tuple[Organ, ...] = ()) -> list[Say]:
        """Let time pass up to now, then settle the organs concerned, and report.

        Without any named all are, and look at their equipment: right after an order nothing is to be seen.
        """
        if self._mend_ms is not None and now_ms >= self._mend_ms:
            self._mend(now_ms)
        lapsed_ms = self.lease.pass_time(now_ms)
        cause_ms = now_ms if lapsed_ms is None else lapsed_ms
        changed = {organ for organ in concerned or self.organs if organ.settle(now_ms, cause_ms)}
        self._drive()
        if not concerned:
            changed |= {organ for organ in self.organs if organ.look(now_ms)}
        reporting = now_ms >= self._report_ms
        if reporting:
            self._report_ms = now_ms + self._report_every_ms
        self.due_ms = self._next_due_ms
        if self.lost:
            return []
        return self._introduce(counts=reporting) + self._report(self.organs if reporting else changed)

    def _drive(self) -> None:
        """Drive what its organs have settled, before anything is said; a double's lamps need no driving."""

    def _introduce(self, *, counts: bool) -> list[Say]:
        """Publish the status at once if the incarnation is new, and else at reports only."""
        said = self._status_said
        if said is not None and said.inc == self.lease.inc and not counts:
            return []
        status = self.status
        if status == said:
            return []
        self._status_said = status
        return [Say(("node", self.node.id, "status"), status, qos=1, retain=True)]

    def _report(self, organs: Container[Organ]) -> list[Say]:
        return [self._say(organ) for organ in self.organs if organ in organs and not organ.silent]

    def _say(self, organ: Organ) -> Say:
        self._seqs[organ] = seq = next_seq(self._seqs[organ])
        return Say(organ.report, organ.say(self.boot, seq), organ.qos, organ.retain)


def _check_size(arrived: Arrived) -> None:
    size = len(arrived.topic) + len(arrived.payload)
    if size > NODE_MESSAGE_MAX:
        raise Rejected(f"{size} bytes with its topic, at most {NODE_MESSAGE_MAX}")
