"""The conflict monitor as a part: listens on its own link, trips, stays tripped until a person resets it.

Commands nothing. Heads obey a trip themselves and the controller answers it with a stop; the
monitor only says what it saw.
"""

from __future__ import annotations

import asyncio
import json
import logging
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from signals.clock import Clock
from signals.health.report import Figure, Health, counter, gauge
from signals.monitor.latch import Latch, Trip, read_trip
from signals.monitor.patience import Conflict, Patience
from signals.monitor.read import Unreadable, decode
from signals.monitor.selfcheck import self_check
from signals.monitor.watch import Watch
from signals.mqtt.link import Arrived, Link, Owner, Will
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue

log = logging.getLogger(__name__)

LOOK_S = 0.1
"""How often everything is looked at, for what silence brings about."""
SOON_S = 0.001
ALIVE_S = 1.0
TOLD_MAX, TOLD_CHARS = 256, 240
"""Kinds of refused messages that are logged, each the first time it comes; the rest are counted."""
SETTLE_S = 0.3
"""After connecting: time for what the broker retained (a latched trip, `state`) to arrive."""

LISTENS = (
    (("beat",), 0),
    (("state",), 1),
    (("head", "+", "aspect"), 1),
    (("head", "+", "shown"), 0),
    (("kart", "+", "limit"), 1),
    (("kart", "+", "taken"), 0),
    (("controller", "status"), 1),
    (("call", "+"), 1),
    (("answer", "+"), 1),
    (("monitor", "trip"), 1),
    (("monitor", "reset", "+"), 1),
)
"""Levels below the root, and quality of service."""
ONLY_LIVE = frozenset({"beat", "shown", "taken", "call", "answer", "reset"})
"""Kinds whose retained messages are old, and refused."""


class Monitor:
    """Watches one venue. `latch` names the file that keeps a trip over a loss of power."""

    def __init__(self, venue: Venue, make_link: MakeLink, *, clock: Clock, latch: Path | None = None) -> None:
        self.venue = venue
        self.refused: Counter[str] = Counter()
        """Messages that could not be taken, by kind."""
        self._told: set[tuple[str, str]] = set()
        self._make_link = make_link
        self._clock = clock
        self._latch_file = latch
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._patience = Patience()
        self._settled = False
        self._spoken = False
        self._looked_s = float("-inf")
        self._faults: frozenset[str] = frozenset()
        self._heads = {head.id for head in venue.heads}
        self._karts = {str(kart.number) for kart in venue.karts}
        self._posts = {post.id: post.name for post in venue.posts}
        self._latch: Latch
        self._link: Link
        self._watch: Watch
        self._mistake: asyncio.Future[None]

    @property
    def tripped(self) -> bool:
        """Whether a trip is latched."""
        return self._latch.tripped

    async def run(self, ready: Callable[[], None]) -> None:
        """Watch until cancelled; `ready` once connected, settled and watching.

        Raises:
            Unusable: the self-check failed; nothing was said to anyone.

        """
        self_check(self.venue)
        log.info("self-check passed at %d", self._clock.now_ms())
        self._latch = Latch(self._latch_file)
        self._watch = Watch(self.venue, self._now_s())
        self._link = self._connect()
        self._mistake = asyncio.get_running_loop().create_future()
        serving, watching = (asyncio.ensure_future(do) for do in (self._link.run(), self._keep_watch(ready)))
        try:
            done, _ = await asyncio.wait(
                (serving, watching, self._mistake), return_when=asyncio.FIRST_COMPLETED
            )
            for ended in done:
                ended.result()
        finally:
            self._say_status("lost")  # a link that ends in good order says no will
            for task in (serving, watching, self._mistake):
                task.cancel()
            await asyncio.gather(serving, watching, return_exceptions=True)

    def health(self) -> Health:
        """Tell how it is."""
        if not self._settled:
            return Health("not watching: no broker", well=False, figures=self._figures())
        trip = self._latch.trip
        if trip is not None and trip.tripped:
            says = f"TRIPPED: {trip.where}: {trip.what}, due {trip.due}, shown {trip.shown}"
            return Health(says, well=False, alive=self._turns, figures=self._figures())
        faults = len(self._faults)
        says = f"watching {len(self._heads)} heads, {len(self._karts)} karts; {faults or 'no'} faults"
        return Health(says, well=not faults, alive=self._turns, figures=self._figures())

    @property
    def _turns(self) -> bool:
        """Whether it still looks: a second without a look is ten missed."""
        return self._now_s() - self._looked_s < ALIVE_S

    def _figures(self) -> tuple[Figure, ...]:
        return (
            gauge("tripped", self._settled and self.tripped, "1 while a trip is latched."),
            gauge("faults", len(self._faults), "Faults of equipment that stand."),
            *(
                counter("not_taken_total", count, "Messages that were not taken.", kind=kind)
                for kind, count in sorted(self.refused.items())
            ),
        )

    def _connect(self) -> Link:
        return self._make_link(
            "monitor",
            subscriptions=tuple((self._topics.name(*levels), qos) for levels, qos in LISTENS),
            will=Will(self._topics.name("monitor", "status"), _status("lost")),
            owner=Owner(on_message=self._hear, on_up=self._on_up, on_down=self._on_down),
        )

    # --- the link

    def _on_up(self) -> None:
        """Begin to watch anew: what happened meanwhile was not seen, so nothing can be held against it."""
        self._watch = Watch(self.venue, self._now_s())
        self._patience.forget()
        self._settled = False

    def _on_down(self, reason: str) -> None:
        log.warning("disconnected: %s", reason)

    async def _keep_watch(self, ready: Callable[[], None]) -> None:
        first = True
        while True:
            if self._link.up and not self._settled and self._now_s() - self._watch.began_s >= SETTLE_S:
                self._settle()
                if first:
                    ready()
                    first = False
            self._looked_s = self._now_s()
            if self._settled and self._link.up:
                self._look()
            await asyncio.sleep(self._pause_s())

    def _pause_s(self) -> float:
        """Give the time to the next look: regular, or when a conflict will have lasted too long."""
        due_s = None if self.tripped else self._patience.due_s()
        if due_s is None:
            return LOOK_S
        return min(LOOK_S, max(SOON_S, due_s - self._now_s()))

    def _settle(self) -> None:
        self._settled = True
        self._say_trip()
        self._say_status("tripped" if self.tripped else "ok")

    # --- messages

    def _hear(self, arrived: Arrived) -> None:
        """Take a message; a mistake of ours ends the monitor, but only after it said that it is lost."""
        try:
            self._take(arrived)
        except Exception as mistake:  # noqa: BLE001 - raised again by `run`
            if not self._mistake.done():
                self._mistake.set_exception(mistake)

    def _take(self, arrived: Arrived) -> None:
        levels = self._topics.split(arrived.topic)
        kind = self._kind(levels)
        if kind is None or (arrived.retained and kind in ONLY_LIVE):
            self._refuse(kind, arrived, "retained" if arrived.retained else "of no equipment or post here")
            return
        try:
            message = decode(kind, arrived.payload)
        except Unreadable as wrong:
            self._refuse(kind, arrived, str(wrong))
            return
        if kind == "trip":
            self._recall(read_trip(message), retained=arrived.retained)
        elif kind == "reset":
            self._on_reset(levels[-1], str(message["reason"]))
        else:
            self._bear(self._watch.take(levels, message, self._now_s()))

    def _refuse(self, kind: str | None, arrived: Arrived, why: str) -> None:
        self.refused[kind or "unknown"] += 1
        told = (kind or "unknown", why[:TOLD_CHARS])
        if told not in self._told and len(self._told) < TOLD_MAX:  # nobody fills the disk by nonsense
            self._told.add(told)
            log.warning("refused %s: %s", arrived.topic[:TOLD_CHARS], why)

    def _kind(self, levels: tuple[str, ...]) -> str | None:
        """Give the kind of a message by its topic; None for what no equipment of this venue sends."""
        match levels:
            case ("beat" | "state" as kind,):
                return kind
            case ("head", head, "aspect" | "shown" as kind) if head in self._heads:
                return kind
            case ("kart", kart, "limit" | "taken" as kind) if kart in self._karts:
                return kind
            case ("call" | "answer" as kind, post) if post in self._posts:
                return kind
            case ("controller", "status"):
                return "controller"
            case ("monitor", "trip"):
                return "trip"
            case ("monitor", "reset", post) if post in self._posts:
                return "reset"
        return None

    # --- judging

    def _bear(self, subject: str | None) -> None:
        """Look at what a message bears on: one subject, all ("") or none."""
        if subject is None or not self._settled:
            return
        if subject:
            now_s = self._now_s()
            self._patience.see(subject, self._watch.conflicts(subject, now_s), now_s)
            self._judge()
        else:
            self._look()

    def _look(self) -> None:
        now_s = self._now_s()
        for subject in self._watch.subjects():
            self._patience.see(subject, self._watch.conflicts(subject, now_s), now_s)
        self._note_faults(now_s)
        self._judge()

    def _judge(self) -> None:
        if not self.tripped and (conflict := self._patience.too_long(self._now_s())):
            log.error("TRIP: %s", conflict)
            self._latch.set(Trip.of(conflict, self._clock.now_ms()))
            self._say_trip()
            self._say_status("tripped")

    def _note_faults(self, now_s: float) -> None:
        faults = frozenset(self._watch.faults(now_s))
        for fault in sorted(faults - self._faults):
            log.warning("fault: %s", fault)
        for fault in sorted(self._faults - faults):
            log.info("fault over: %s", fault)
        self._faults = faults

    # --- the latch

    def _recall(self, trip: Trip | None, *, retained: bool) -> None:
        """Take up a trip that an earlier life left with the broker; our own words coming back are no news."""
        if retained and trip and trip.tripped and not self._spoken and not self.tripped:
            log.warning("still tripped since before the start: %s %s", trip.where, trip.what)
            self._latch.set(trip)
            if self._settled:
                self._settle()

    def _on_reset(self, post: str, reason: str) -> None:
        """Let a person end the latch; refused while any conflict stands."""
        trip = self._latch.trip
        if trip is None or not trip.tripped:
            return
        self._look()
        if conflict := self._standing():
            log.warning("reset by %s refused: %s", post, conflict)
            self._latch.set(
                Trip(
                    True,
                    f"reset refused: {conflict.what}"[:60],
                    conflict.where,
                    conflict.due,
                    conflict.shown,
                    trip.at,
                )
            )
        else:
            log.warning("reset by %s: %s", post, reason)
            ended = f"reset by {self._posts[post]}: {reason}"[:60]
            self._latch.set(Trip(False, ended, trip.where, trip.due, trip.shown, self._clock.now_ms()))
            self._watch.accept()
            self._say_status("ok")
        self._say_trip()

    def _standing(self) -> Conflict | None:
        """Give what forbids a reset now: a conflict however short, or that no stop answers the trip."""
        if not self._watch.stopped():
            return Conflict("answer", "track", "no stop stands for the trip", "stop", "none", 0.0)
        return next(iter(self._patience.now()), None)

    # --- speaking

    def _say_trip(self) -> None:
        if self._latch.trip is not None:
            self._spoken = True
            self._link.publish(
                self._topics.name("monitor", "trip"), self._latch.trip.encoded(), qos=1, retain=True
            )

    def _say_status(self, status: str) -> None:
        self._link.publish(self._topics.name("monitor", "status"), _status(status), qos=1, retain=True)

    def _now_s(self) -> float:
        return asyncio.get_running_loop().time()


def _status(status: str) -> bytes:
    return json.dumps({"status": status}).encode()
