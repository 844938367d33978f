"""The tester's side: plays the controller to one node, hears what it says, and waits for what is due.

Nothing here sleeps to be on the safe side. What must come is waited for; that nothing comes is
told by the node itself: a report that echoes a beat sent afterwards was said after everything
before it was heard.
"""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Literal

from signals.conform.organ import ContactOrgan, KartOrgan, Organ, Report
from signals.conform.proxy import Proxy
from signals.conform.sentences import ANSWER_MS, RECONNECT_S
from signals.conform.subject import Subject
from signals.conform.verdict import Failed, Inconclusive, Proven
from signals.errors import Unusable
from signals.mqtt.broker import Running
from signals.mqtt.codec import Malformed, decode, decode_lenient, encode, next_seq
from signals.mqtt.contract import Beat, Inject, Injected, NodeStatus, Trip
from signals.mqtt.link import Arrived, Link, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Node, Venue

BEAT_S = 0.1
ALONE_MS = 500
"""As long without a beat of somebody else, and nobody leads the venue."""
LATE_S = 0.05
"""A fifth of what an answer may take, for it passes this machine at least five times, there and back.

A beat said or carried so late, or a node that between two of them waited so long for the processor, may
itself be why the node failed: then a failure proves nothing."""
FRESH_BEATS = 4
"""An echo this near needs no proof that the node is led."""
SETTLE_MS = 1500
UP_MS = 10_000
CLIENT = "conform"
"""What tells the kit's clients apart from the venue's own of the same user: it must throw none out."""


def draw() -> str:
    """Draw a boot of the kit's."""
    return f"kit{secrets.token_hex(3)}"


@dataclass(slots=True)
class Mind:
    """What the next beat will say."""

    boot: str = field(default_factory=draw)
    epoch: int = 1
    stop: bool = False
    test: bool = False
    at: int = 0
    beating: bool = True


@dataclass(frozen=True, slots=True)
class Heard:
    """A report of the organ, and when it came (loop time, s)."""

    at_s: float
    report: Report


def _short(fields: dict[str, Any]) -> str:
    """Name an order by what it asks for."""
    return str(fields.get("aspect") or f"{fields['limit_kmh']:g} km/h")


class Bench:
    """One node under test, with everything the kit holds of it."""

    def __init__(
        self, venue: Venue, node: Node, organ: Organ, make_link: MakeLink, broker: Running | None = None
    ) -> None:
        self.venue = venue
        self.broker = broker
        """The broker, if it is the kit's own: only that may be killed."""
        self.node = node
        self.organ = organ
        self.lease_ms = node.lease_ms
        self.topics = Topics.of(venue.id, simulated=venue.simulated)
        self.mind = Mind(beating=False)
        self.heard: list[Heard] = []
        self.statuses: list[NodeStatus] = []
        self.injected: list[Injected] = []
        self.foreign: set[str] = set()
        """Boots of beats that are not the kit's: somebody else leads this venue."""
        self.ill: list[str] = []
        self.late_s = 0.0
        self.still = False
        """Whether the broker is held up on purpose: what it owes then says nothing of this machine."""
        self.proxy: Proxy
        self.subject: Subject
        self._seqs: dict[str, int] = {}
        self._order_seq = 0
        self._on_way: dict[tuple[str, int], float] = {}
        """Beats that the broker owes the kit, and when each was said (loop time, s)."""
        self._pump_s = float("inf")
        self._waited_s = 0.0
        self._last: dict[tuple[str, ...], tuple[str, int]] = {}
        self._changed = asyncio.Event()
        self.make_link = make_link
        self._links = {name: self._link(make_link, name) for name in self._names()}

    # ---- links

    def _names(self) -> tuple[str, ...]:
        return ("controller", "monitor", *(("instructor",) if self.venue.simulated else ()))

    def _link(self, make_link: MakeLink, name: str) -> Link:
        reads = {
            "controller": ("beat", "head/+/shown", "kart/+/taken", "input/+/state", "node/+/status"),
            "instructor": ("injected/+",),
        }
        mine = reads.get(name, ())
        return make_link(
            f"{name}.{CLIENT}",
            subscriptions=tuple((self.topics.name(each), 1) for each in mine),
            owner=Owner(on_message=self._hear, on_up=self._came_up),
        )

    async def run(self) -> None:
        """Keep the links up and the beats going until cancelled."""
        async with asyncio.TaskGroup() as group:
            for link in self._links.values():
                group.create_task(link.run())
            group.create_task(self._pump())

    async def connected(self, within_s: float) -> None:
        """Wait until the kit itself is on the broker, and alone.

        Raises:
            Unusable: the broker takes no connection, or a controller leads the venue already.

        """
        try:
            await self.linked(within_s)
        except Inconclusive:
            raise Unusable(
                f"the kit cannot connect to the broker at {':'.join(map(str, self.proxy.broker))}: "
                "is it there, are the passwords in --data?"
            ) from None
        self.mind.beating = False
        with suppress(Failed):
            await self.until(lambda: bool(self.foreign), ALONE_MS, "a beat")
        if self.foreign:
            raise Unusable("a controller leads this venue: stop it first, the kit must not be a second one")
        self.mind.beating = True

    async def linked(self, within_s: float) -> None:
        """Wait until the kit itself is on the broker; raises Inconclusive if not: that blames no node."""
        try:
            await self.until(lambda: all(link.up for link in self._links.values()), within_s * 1000, "it")
        except Failed:
            raise Inconclusive(f"the kit itself found no broker within {within_s:g} s") from None
        self.goes_on()

    def say(
        self,
        *levels: str,
        payload: bytes,
        retain: bool = False,
        qos: int = 1,
        by: Literal["controller", "monitor", "instructor"] = "controller",
    ) -> None:
        """Publish something as one of the venue's parts."""
        if not self._links[by].publish(self.topics.name(*levels), payload, qos=qos, retain=retain):
            raise Inconclusive("the kit itself lost the broker")

    # ---- hearing

    def changed(self) -> None:
        """Look again: something happened."""
        self._changed.set()

    def _came_up(self) -> None:
        """Wait for no beat of the connection before: it is gone with it."""
        self._on_way.clear()
        self.changed()

    def _hear(self, arrived: Arrived) -> None:
        levels = self.topics.split(arrived.topic)
        try:
            self._take(levels, arrived)
        except Malformed as why:
            self.ill.append(f"{'/'.join(levels)}: {why}")
        self.changed()

    def _take(self, levels: tuple[str, ...], arrived: Arrived) -> None:
        if levels == self.organ.report:
            report = decode(self.organ.kind, arrived.payload)
            if not arrived.retained:
                self._check_seq(levels, report)
                self.heard.append(Heard(asyncio.get_running_loop().time(), report))
        elif levels == ("node", self.node.id, "status"):
            if arrived.payload:
                self.statuses.append(decode(NodeStatus, arrived.payload))
        elif levels == ("beat",):
            self._look_for_others(arrived.payload)
        elif levels[0] == "injected":
            self.injected.append(decode(Injected, arrived.payload))

    def _look_for_others(self, payload: bytes) -> None:
        """Note a beat of a boot that the kit never said, and how long the kit's own took over the broker."""
        with suppress(Malformed):
            beat = decode_lenient(Beat, payload)
            if beat.boot not in self._seqs:
                self.foreign.add(beat.boot)
            elif (beat.boot, beat.seq) in self._on_way:
                said_s = self._on_way.pop((beat.boot, beat.seq))
                self.late_s = max(self.late_s, asyncio.get_running_loop().time() - said_s)

    def _check_seq(self, levels: tuple[str, ...], report: Report) -> None:
        boot, seq = self._last.get(levels, ("", 0))
        if report.boot == boot and report.seq != next_seq(seq) and report.seq <= seq:
            self.ill.append(f"{'/'.join(levels)}: seq {report.seq} after {seq} of one boot")
        self._last[levels] = (report.boot, report.seq)

    @property
    def report(self) -> Report | None:
        """The organ's last report."""
        return self.heard[-1].report if self.heard else None

    @property
    def status(self) -> NodeStatus | None:
        """The node's last status."""
        return self.statuses[-1] if self.statuses else None

    @property
    def inc(self) -> str:
        """The incarnation the node last said it has."""
        return self.status.inc if self.status else ""

    def now_says(self, judge: Callable[[Report], bool]) -> bool:
        """Judge the last report; False where there is none."""
        return self.report is not None and judge(self.report)

    def said(self) -> str:
        """Say what the node last said, for a verdict."""
        return self.organ.said(self.report) if self.report else "no report came"

    # ---- waiting

    async def until(self, holds: Callable[[], bool], within_ms: float, what: str) -> float:
        """Wait until something holds; gives the ms it took. Raises Failed with what came instead."""
        loop = asyncio.get_running_loop()
        began_s = loop.time()
        try:
            async with asyncio.timeout(within_ms / 1000):
                while not holds():
                    self._changed.clear()
                    await self._changed.wait()
        except TimeoutError:
            raise Failed(f"not within {within_ms:.0f} ms: {what}; {self.said()}") from None
        return (loop.time() - began_s) * 1000

    async def reports(
        self, judge: Callable[[Report], bool], what: str, within_ms: float = ANSWER_MS
    ) -> float:
        """Wait until the last report is judged so; gives the ms it took."""
        return await self.until(lambda: self.now_says(judge), within_ms, what)

    def obeying(self, fields: dict[str, Any]) -> Callable[[Report], bool]:
        """Judge whether a report says that an order of these fields is obeyed."""
        return lambda report: self.organ.shows(report, fields)

    async def obeys(self, fields: dict[str, Any], **other: Any) -> float:
        """Give an order and wait for the report that it is obeyed; gives the ms it took."""
        sent = self.order(fields, **other)
        return await self.reports(self.obeying(fields), f"it obeys order {sent['seq']}, {_short(fields)}")

    async def never(self, holds: Callable[[], bool], for_ms: float, what: str) -> None:
        """Watch for a time that something does not hold. Raises Failed at once if it does."""
        try:
            await self.until(holds, for_ms, what)
        except Failed:
            return
        raise Failed(f"{what}; {self.said()}")

    async def settled(self) -> None:
        """Wait until the node has heard everything said up to now, and reported after it."""
        number = self.beat()
        await self.until(
            lambda: self.now_says(lambda report: report.beat_seq >= number),
            SETTLE_MS,
            f"a report that echoes beat {number}",
        )

    # ---- leading

    async def _pump(self) -> None:
        loop = asyncio.get_running_loop()
        self._pump_s = loop.time()
        while True:
            self.look_late()
            if self.mind.beating and self._links["controller"].up:
                self.beat()
            self._pump_s = loop.time() + BEAT_S
            await asyncio.sleep(BEAT_S)

    def look_late(self) -> None:
        """Look how late this machine is: the kit's turn, the node's for the processor, a beat on its way."""
        now_s = asyncio.get_running_loop().time()
        before_s, self._waited_s = self._waited_s, self.subject.waited_s()
        owed_s = min(self._on_way.values(), default=now_s)
        self.late_s = max(self.late_s, now_s - self._pump_s, self._waited_s - before_s, now_s - owed_s)

    def stands_still(self) -> None:
        """Hold nothing against this machine that the broker owes: it is held up on purpose."""
        self.still = True
        self._on_way.clear()

    def goes_on(self) -> None:
        """Count what the broker owes again, from now on."""
        self.still = False
        self._on_way.clear()

    def beat(self, **other: Any) -> int:
        """Say a beat at once, `other` fields overriding; gives its number."""
        boot = other.get("boot", self.mind.boot)
        seq = self._seqs[boot] = other.get("seq") or next_seq(self._seqs.get(boot, 0))
        fields = {
            "epoch": self.mind.epoch,
            "stop": self.mind.stop,
            "test": self.mind.test,
            "at": self.mind.at,
        }
        beat = Beat(**fields | other | {"boot": boot, "seq": seq})
        self.say("beat", payload=encode(beat), qos=0)
        if not self.still:
            self._on_way[boot, seq] = asyncio.get_running_loop().time()
        return seq

    def order(self, fields: dict[str, Any], **other: Any) -> dict[str, Any]:
        """Give the organ an order at once; gives what was sent.

        `other` overrides boot, seq, epoch, inc, or adds a field.
        """
        sent = self.made(fields, **other)
        self.say(*self.organ.order, payload=json.dumps(sent, separators=(",", ":")).encode())
        return sent

    def made(self, fields: dict[str, Any], **other: Any) -> dict[str, Any]:
        """Make an order without saying it."""
        self._order_seq = other["seq"] if "seq" in other else next_seq(self._order_seq)
        common = {"boot": self.mind.boot, "seq": self._order_seq, "epoch": self.mind.epoch, "inc": self.inc}
        return common | fields | other

    def caps(self, **other: Any) -> None:
        """Give a kart its constants."""
        if isinstance(self.organ, KartOrgan):
            self._order_seq = next_seq(self._order_seq)
            common = {"boot": self.mind.boot, "seq": self._order_seq, "inc": self.inc}
            payload = json.dumps(common | dict(self.organ.caps) | other).encode()
            self.say("kart", str(self.organ.kart), "caps", payload=payload)

    def trip(self, *, tripped: bool, retain: bool = True) -> None:
        """Say the monitor's word."""
        said = Trip(tripped=tripped, what="a test", where=self.node.id, due="red", shown="green", at=0)
        self.say("monitor", "trip", payload=encode(said), retain=retain, by="monitor")

    async def inject(self, event: str, **fields: Any) -> None:
        """Ask a simulated node for a fault, and wait until it has it."""
        key = draw()
        self.say(
            "inject", self.node.id, payload=encode(Inject(id=key, event=event, **fields)), by="instructor"
        )
        await self.until(
            lambda: any(done.id == key and done.done for done in self.injected), 1000, f"{event} on command"
        )

    def take_over(self) -> None:
        """Become another boot, as a controller that was started anew; its numbers begin at 1."""
        self.mind.boot = draw()
        self._order_seq = 0

    async def calm(self) -> None:
        """Lead the node as on a quiet day, whatever was done to it before."""
        if self.subject.ended:
            await self.subject.start_anew()
        led, self.late_s = self.mind.beating, 0.0
        self.goes_on()
        self.proxy.restore()
        self.mind.stop = self.mind.test = False
        self.mind.at = 0
        self.mind.beating = True
        await self.until(
            lambda: self.status is not None and self.status.status == "ready", UP_MS, "the node says ready"
        )
        behind = self._seqs.get(self.mind.boot, 0) - (self.report.beat_seq if self.report else 0)
        if not led or behind >= FRESH_BEATS:
            await self.settled()

    async def go(self) -> None:
        """Bring it, by fresh orders, to what must never stand where it is not borne out."""
        if isinstance(self.organ, ContactOrgan):
            return
        deadline_s = asyncio.get_running_loop().time() + 2 * self.lease_ms / 1000 + RECONNECT_S
        while not self.now_says(self.organ.goes):
            self.caps()
            self.order(self.organ.go)
            try:
                await self._obeyed_or_anew(self.inc)
            except Failed:
                if asyncio.get_running_loop().time() > deadline_s:
                    raise

    async def _obeyed_or_anew(self, inc: str) -> None:
        await self.until(
            lambda: self.now_says(self.organ.goes) or self.inc != inc,
            self.lease_ms,
            f"it obeys an order that fits, {_short(self.organ.go)}",
        )

    async def unmoved(self, judge: Callable[[Report], bool], what: str) -> None:
        """See that, once everything was heard, the report is still judged so."""
        seen = len(self.heard)
        await self.settled()
        if wrong := next((each for each in self.heard[seen:] if not judge(each.report)), None):
            blame = Proven if self.organ.permissive(wrong.report) else Failed
            raise blame(f"{what}; {self.organ.said(wrong.report)}")
