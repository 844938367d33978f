"""What the monitor has heard, and what is wrong with it: the comparison itself, without clock or network.

Disbelieves both sides. What is due comes from the raw facts of `state` (phase, holds, places) and
from what was asked and accepted, by the monitor's own table; never from the conditions and aspects
the controller worked out. What a head shows is what its lamps are driven, or proven, to show.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from signals.monitor.ledger import Ledger, key_of
from signals.monitor.patience import RED_MISSING_S, Conflict
from signals.monitor.table import RANK, KartSeen, Situation, due_aspect, less, most_kmh
from signals.venue.model import Head, Kart, Venue

SESSION = "session"
"""The subject beside heads and karts: holds, phase, the beat's stop flag."""
NEVER_HEARD_S = 6.0
"""A head never heard is missed so long after the first beat: a monitor's power-up hold (STANDARDS H4)."""
CALLED_LOST_S = 1.0
"""What the controller has to call it lost where leases are longer than that."""
ROUNDING_KMH = 0.05
SEQ_IS_A_STATES = ("call", "answer")
"""Topics whose `seq` is that of the `state` spoken of: several calls may be made on one."""

Fields = Mapping[str, Any]


@dataclass(slots=True)
class _HeadHeard:
    told: Fields | None = None
    shown: Fields | None = None
    heard_s: float | None = None
    echo_s: float = 0.0
    lit_s: float = 0.0


@dataclass(slots=True)
class _KartHeard:
    limit_kmh: float | None = None
    taken_kmh: float = 0.0
    taken_s: float | None = None


@dataclass(slots=True)
class _Controller:
    beat: Fields | None = None
    beat_s: float = 0.0
    first_s: float = 0.0
    """When it was first heard; heads are started after it, however long it takes to start."""
    speaks_s: float = 0.0
    """Since when it is heard without a silence: nobody can have echoed a beat before."""
    state: Fields | None = None


@dataclass(slots=True)
class Watch:
    """One venue's picture; `take` feeds it, `conflicts` judges it. Times are seconds of one clock."""

    venue: Venue
    began_s: float
    ledger: Ledger = field(default_factory=Ledger)
    _heads: dict[str, _HeadHeard] = field(init=False)
    _karts: dict[str, _KartHeard] = field(init=False)
    _controller: _Controller = field(default_factory=_Controller)
    _newest: dict[tuple[str, ...], tuple[str, int]] = field(default_factory=dict)
    _situation: Situation | None = None
    _head: dict[str, Head] = field(init=False)
    _kart: dict[str, Kart] = field(init=False)
    _lease_s: dict[str, float] = field(init=False)
    _never_heard_s: float = field(init=False)

    def __post_init__(self) -> None:
        leases = {node.id: node.lease_ms / 1000 for node in self.venue.nodes}
        self._lease_s = {head.id: leases[head.node] for head in self.venue.heads}
        self._never_heard_s = max(NEVER_HEARD_S, max(leases.values()) + CALLED_LOST_S)
        self._head = {head.id: head for head in self.venue.heads}
        self._kart = {str(kart.number): kart for kart in self.venue.karts}
        self._heads = {head.id: _HeadHeard() for head in self.venue.heads}
        self._karts = {str(kart.number): _KartHeard() for kart in self.venue.karts}

    def subjects(self) -> Iterator[str]:
        """Name all that can be wrong."""
        yield SESSION
        yield from self._heads
        yield from self._karts

    def take(self, levels: tuple[str, ...], message: Fields, now_s: float) -> str | None:
        """Take one message; gives the subject it bears on ("": all of them), None if it changes nothing."""
        if "seq" in message and levels[0] not in SEQ_IS_A_STATES and not self._is_newer(levels, message):
            return None
        match levels:
            case ("beat",):
                return self._take_beat(message, now_s)
            case ("state",):
                return self._take_state(message, now_s)
            case ("head", head, "aspect"):
                self._heads[head].told = message
                return head
            case ("head", head, "shown"):
                return self._take_shown(head, message, now_s)
            case ("kart", kart, "limit"):
                self._karts[kart].limit_kmh = message["limit_kmh"]
                return kart
            case ("kart", kart, "taken"):
                self._karts[kart].taken_kmh, self._karts[kart].taken_s = message["limit_kmh"], now_s
                return kart
            case ("call", post):
                self.ledger.asked(post, message)
                return None
            case ("answer", post):
                self.ledger.answered(post, message, now_s)
                self._situation = None
                return ""
        return None

    def _is_newer(self, levels: tuple[str, ...], message: Fields) -> bool:
        boot, seq = self._newest.get(levels, ("", 0))
        # A `state` comes again under its old number when only what heads report has changed.
        again = message["seq"] < seq if levels == ("state",) else message["seq"] <= seq
        if message["boot"] == boot and again:
            return False
        self._newest[levels] = message["boot"], message["seq"]
        return True

    def _take_beat(self, beat: Fields, now_s: float) -> str:
        last = self._controller.beat
        if last is None:
            self._controller.first_s = now_s
        if self._controller_silent(now_s) or last is None:
            self._controller.speaks_s = now_s
        self._controller.beat, self._controller.beat_s = beat, now_s
        if last is not None and last["stop"] == beat["stop"]:
            return SESSION
        self._situation = None
        return ""

    def _take_state(self, state: Fields, now_s: float) -> str:
        self._controller.state = state
        self.ledger.state(state, now_s)
        self._situation = None
        return ""

    def _take_shown(self, head: str, shown: Fields, now_s: float) -> str:
        heard = self._heads[head]
        if heard.shown is None or heard.shown["beat_seq"] != shown["beat_seq"]:
            heard.echo_s = now_s
        if _lit(shown):
            heard.lit_s = now_s
        heard.shown, heard.heard_s = shown, now_s
        return head

    def accept(self) -> None:
        """Take the session as it stands now: a person at the monitor answers for it."""
        if self._controller.state is not None:
            self.ledger.accept(self._controller.state)
        self._situation = None

    def stopped(self) -> bool:
        """Whether the controller itself says that a stop stands."""
        state = self._controller.state
        return state is not None and any(hold["what"] == "stop" for hold in state["holds"])

    def faults(self, now_s: float) -> Iterator[str]:
        """Say which equipment is silent. A fault, not yet a conflict: the lights may all be as they must."""
        if self._controller_silent(now_s):
            yield "the controller is silent"
        for head in self.venue.heads:
            if self._lost(head, now_s):
                yield f"head {head.id} is silent or does not hear the controller"

    def conflicts(self, subject: str, now_s: float) -> Iterator[Conflict]:
        """Say all that is less restrictive with a subject than it must be, now."""
        now = self.situation()
        if now is None:
            return
        if subject == SESSION:
            yield from self._in_session(now, now_s)
        elif head := self._head.get(subject):
            yield from self._at_head(head, now, now_s)
        elif kart := self._kart.get(subject):
            yield from self._at_kart(kart, now, now_s)

    @property
    def _trip_s(self) -> float:
        return self.venue.timing.monitor_trip / 1000

    # --- what counts

    def situation(self) -> Situation | None:
        """Gather what counts; None before the first `state`."""
        if self._situation is None and self._controller.state is not None:
            self._situation = self._gather(self._controller.state)
        return self._situation

    def _gather(self, state: Fields) -> Situation:
        holds = state["holds"]
        standing = {key_of(hold) for hold in holds} | self.ledger.stands
        beat = self._controller.beat
        return Situation(
            phase=state["phase"],
            stop=any(key.startswith("stop:") for key in standing) or bool(beat and beat["stop"]),
            urgent=any(hold["what"] == "stop" and hold["kind"] in ("fire", "medical") for hold in holds),
            recovery="recovery" in standing or self.ledger.recovery,
            cautions=frozenset(key.split(":")[1] for key in standing if key.startswith("caution:")),
            persons=frozenset(hold["where"] for hold in holds if hold["kind"] == "person-on-track"),
            wet=state["surface"] == "wet",
            karts={
                int(number): KartSeen(
                    kart["place"], kart["call"], kart["slowed"], kart["let_out"], kart["button"]
                )
                for number, kart in state["karts"].items()
                if number in self._karts
            },
        )

    def _controller_silent(self, now_s: float) -> bool:
        beat_s = self._controller.beat_s if self._controller.beat else self.began_s
        return now_s - beat_s > self.venue.timing.lease_controller / 1000

    def _silent(self, head: Head, now_s: float) -> bool:
        heard_s = self._heads[head.id].heard_s
        if heard_s is None:
            return now_s - max(self.began_s, self._controller.first_s) > self._never_heard_s
        return now_s - heard_s > self._lease_s[head.id]

    def _deaf(self, head: Head, now_s: float) -> bool:
        """Whether a head has echoed no new beat for its lease: then only its fail aspect is right."""
        heard = self._heads[head.id]
        return heard.heard_s is not None and now_s - heard.echo_s > self._lease_s[head.id]

    def _lost(self, head: Head, now_s: float) -> bool:
        return self._silent(head, now_s) or self._deaf(head, now_s)

    # --- the session

    def _in_session(self, now: Situation, now_s: float) -> Iterator[Conflict]:
        if not self.stopped():
            for breach in self.ledger.broken():
                yield self._conflict(
                    "session", breach.where, breach.what, breach.due, breach.shown, breach.detail
                )
        beat = self._controller.beat
        if beat and not beat["stop"] and (self.stopped() or self.ledger.stopped):
            yield self._conflict(
                "beat", "beat", "red stands and the controller hides it from heads", "stop", "no stop"
            )
        if now.phase != "test" and not self._controller_silent(now_s):
            for head in self.venue.heads:
                yield from self._unanswered(head, now, now_s)

    def _unanswered(self, head: Head, now: Situation, now_s: float) -> Iterator[Conflict]:
        """Demand caution for a lost head: on what it protects and on what the head before it protects.

        Only once the controller was heard for the lease: before, its first beats may not be echoed yet.
        """
        if now.stop or self._out_of_service(head) or not self._lost(head, now_s):
            return
        if now_s - self._controller.speaks_s <= self._lease_s[head.id]:
            return
        bare = {s for s in (*head.protects, *self._head[head.before].protects) if not now.cautioned(s)}
        if bare:
            what = "a lost head and nothing held for it"
            yield self._conflict("lost", head.id, what, "caution", "nothing", ", ".join(sorted(bare)))

    def _conflict(self, kind: str, where: str, what: str, due: str, shown: str, detail: str = "") -> Conflict:
        return Conflict(kind, where, what, due, shown, self._trip_s, detail)

    # --- a head

    def _out_of_service(self, head: Head) -> bool:
        state = self._controller.state
        view = state["heads"].get(head.id) if state else None
        return (
            view is not None and view["health"] == "out-of-service" and head.id in self.ledger.out_of_service
        )

    def _at_head(self, head: Head, now: Situation, now_s: float) -> Iterator[Conflict]:
        if self._out_of_service(head):
            return
        told = self._heads[head.id].told
        due = due_aspect(self.venue, head, now)
        if now.phase == "test" and not now.stop:
            if told is None or told.get("lamps") is not None:
                return
            due = told["aspect"]
        elif told is not None and less(told["aspect"], due):
            yield self._conflict("commanded", head.id, "commanded to show less", due, told["aspect"])
        if not self._silent(head, now_s):
            yield from self._shown(head, due, now_s)

    def _shown(self, head: Head, due: str, now_s: float) -> Iterator[Conflict]:
        shown = self._really_shown(head, now_s)
        if shown is None:
            return
        fail = str(self.venue.choices.fail_aspect[head.role])
        deaf = self._deaf(head, now_s)
        if deaf and less(shown, fail):
            yield Conflict(
                "deaf",
                head.id,
                "it does not hear the controller and does not fall back",
                fail,
                shown,
                self._trip_s,
            )
        if not less(shown, due) or ((deaf or self._told_lost(head)) and not less(shown, fail)):
            return
        if due == "red":
            yield Conflict("red-missing", head.id, "red is missing", due, shown, RED_MISSING_S)
        if due != "red" or shown != "dark":
            yield self._conflict("shown", head.id, "shows less", due, shown)

    def _told_lost(self, head: Head) -> bool:
        """Whether the controller holds the head for lost: it shows its fail aspect until addressed anew."""
        state = self._controller.state
        view = state["heads"].get(head.id) if state else None
        return view is not None and view["health"] == "lost"

    def _really_shown(self, head: Head, now_s: float) -> str | None:
        """Give the aspect of the lamps that are lit, whatever the head calls it."""
        heard = self._heads[head.id]
        if heard.shown is None:
            return None
        claimed, lit = str(heard.shown["aspect"]), _lit(heard.shown)
        lamps = {str(aspect): set(names) for aspect, names in head.aspects.items() if names}
        if claimed in ("number", "blue-flash") and claimed not in lamps:
            return claimed  # a display, not a lamp
        if not lit:
            between = (
                claimed.endswith("-flash")
                and now_s - heard.lit_s <= self.venue.choices.flash_period_ms / 1000
            )
            return claimed if between else "dark"
        if lit <= lamps.get(claimed, set()):
            return claimed
        alike = [aspect for aspect, names in lamps.items() if names <= lit]
        return max(alike, key=RANK.__getitem__, default="dark")

    # --- a kart

    def _at_kart(self, kart: Kart, now: Situation, now_s: float) -> Iterator[Conflict]:
        if now.phase == "test" and not now.stop:
            return
        heard = self._karts[str(kart.number)]
        cap, why = most_kmh(self.venue, kart, now)
        due, where = f"{cap:g} km/h", f"kart {kart.number}"
        if heard.limit_kmh is not None and heard.limit_kmh > cap + ROUNDING_KMH:
            yield self._conflict("limit", where, "allowed more", due, f"{heard.limit_kmh:g} km/h", why)
        if heard.taken_s is None or now_s - heard.taken_s > self.venue.timing.lease_kart / 1000:
            return
        excess = heard.taken_kmh - cap - (self.venue.limits.boost if why.startswith("class") else 0)
        if excess > ROUNDING_KMH:
            fall_mps2 = (self.venue.ramp_wet if now.wet else self.venue.ramp).fall
            window_s = self._trip_s + excess / 3.6 / fall_mps2  # it may say where on its ramp it is
            yield Conflict("taken", where, "obeys more", due, f"{heard.taken_kmh:g} km/h", window_s, why)


def _lit(shown: Fields) -> set[str]:
    return set(shown["driven"] if shown["proven"] is None else shown["proven"])
