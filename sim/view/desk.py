"""What the desk knows, made of messages only: no drawing, no network, no clock of its own.

Every method that depends on time takes `now_s`, seconds of one monotonic clock.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import Any

import msgspec

from signals import say
from signals.actions import mark_of
from signals.look import Dress
from signals.mqtt import contract
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.picture import Picture, main_post
from signals.venue.model import Venue
from signals.words import Aspect, Because, Phase
from sim.view.ribbon import TRACK, Entry, Ribbon, seen_entry

LOST_AFTER_S = 0.7
"""Seven beats missed: the marshal is told to use flag and radio."""
SETTLE_S = 0.4
"""How long a head may differ from what is due before the map says so."""
ANSWER_WITHIN_S = 1.0
BANNER_S = 12.0
GAP_SPARE_S = 0.3
"""The gap runs at the controller: here it is counted a little longer."""
WORLD_STALE_S = 0.6
JITTER_S, LAG_RISES_S = 0.25, 0.0001
"""A delay that changes by more is believed at once; how much longer it is taken to be with each report."""
MINUTE_S = 60
SEEN_KEPT = 40
LATE_S = 60.0
"""How long an answer may be late and still be told."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of the last call: stays until the next one. `accepted` None: not answered yet."""

    action: str
    title: str
    lines: tuple[str, ...] = ()
    accepted: bool | None = None
    call: str = ""
    """The id of the call it is about."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A call under way. `name` is how it is spoken of; `then` the action to follow when it is accepted."""

    action: str
    name: str
    at_s: float
    then: str = ""


_DECODERS: dict[str, msgspec.json.Decoder[Any]] = {
    name: msgspec.json.Decoder(kind)
    for name, kind in {
        "beat": contract.Beat,
        "state": contract.State,
        "group": contract.Group,
        "shown": contract.Shown,
        "world": contract.WorldView,
        "trip": contract.Trip,
        "monitor": contract.MonitorStatus,
        "controller": contract.ControllerStatus,
        "answer": contract.Answer,
        "call": contract.Call,
    }.items()
}


@dataclass(slots=True)
class Desk:
    """The view model of one post's window."""

    venue: Venue
    post: str = ""
    """Whose window it is; empty: the venue's first supervisor's."""
    state: contract.State | None = None
    group: contract.Group | None = None
    trip: contract.Trip | None = None
    monitor: str = "ok"
    controller: str = "ready"
    shown: dict[str, tuple[contract.Shown, float]] = field(default_factory=dict)
    worlds: deque[tuple[float, contract.WorldView]] = field(default_factory=lambda: deque(maxlen=5))
    seen: deque[contract.WorldFinding] = field(default_factory=lambda: deque(maxlen=SEEN_KEPT))
    """What the simulator's referee saw, oldest first."""
    sent: dict[str, Sent] = field(default_factory=dict)
    late: dict[str, Sent] = field(default_factory=dict)
    """Calls that were not answered in time: their answers may still come."""
    outcome: Outcome | None = None
    note: str = ""
    """What stays to be read until the window is closed: that a sequence is over."""
    follow: str = ""
    """An action that is due because the one before was accepted."""
    rejects: int = 0
    ribbon: Ribbon = field(init=False)
    _topics: Topics = field(init=False)
    _beat_s: float | None = None
    _heard_s: float | None = None
    _silent: dict[int, float] = field(default_factory=dict)
    """Since when each kart is not heard."""
    _boot: str = ""
    _let_out_s: float | None = None
    _link_up: bool = False
    _lag_s: float = math.inf
    """What lies between the world's clock and this one, with the least delay seen of late."""
    _due_since: dict[str, float] = field(default_factory=dict)
    _banners: deque[tuple[float, str]] = field(default_factory=lambda: deque(maxlen=4))

    def __post_init__(self) -> None:
        self.post = self.post or main_post(self.venue)
        self.ribbon = Ribbon(tuple(sector.id for sector in self.venue.sectors))
        self._topics = Topics.of(self.venue.id, simulated=self.venue.simulated)

    @property
    def picture(self) -> Picture:
        """What the controller last said."""
        return Picture(self.venue, self.state, self.group)

    def subscriptions(self) -> tuple[tuple[str, int], ...]:
        """Give what the desk hears, with the quality of service."""
        name = self._topics.name
        return (
            (name("beat"), 0),
            (name("state"), 1),
            (name("group"), 1),
            (name("head", "+", "shown"), 0),
            (name("answer", "+"), 1),
            (name("call", "+"), 1),
            (name("monitor", "status"), 1),
            (name("monitor", "trip"), 1),
            (name("controller", "status"), 1),
            (name("world"), 0),
        )

    def hear(self, arrived: Arrived, now_s: float) -> None:
        """Take a message in; one that cannot be read changes nothing and is counted."""
        levels = self._topics.split(arrived.topic)
        try:
            self._take(levels, arrived, now_s)
        except (msgspec.DecodeError, ValueError):
            self.rejects += 1

    def _take(self, levels: tuple[str, ...], arrived: Arrived, now_s: float) -> None:
        payload = arrived.payload
        match levels:
            case ("beat",):
                self._beaten(_DECODERS["beat"].decode(payload), now_s)
            case ("state",):
                self._pictured(_DECODERS["state"].decode(payload), now_s)
            case ("group",):
                self.group = _DECODERS["group"].decode(payload)
            case ("head", head, "shown"):
                self.shown[head] = (_DECODERS["shown"].decode(payload), now_s)
            case ("world",):
                self._looked(_DECODERS["world"].decode(payload), now_s)
            case ("monitor", "trip"):
                self._tripped(_DECODERS["trip"].decode(payload))
            case ("monitor", "status"):
                self.monitor = _DECODERS["monitor"].decode(payload).status
            case ("controller", "status"):
                self.controller = _DECODERS["controller"].decode(payload).status
            case ("answer", post):
                self._answered(post, _DECODERS["answer"].decode(payload))
            case ("call", post) if not arrived.retained:
                self._overheard(post, _DECODERS["call"].decode(payload), now_s)

    def _beaten(self, beat: contract.Beat, now_s: float) -> None:
        self._beat_s = self._heard_s = now_s
        if self._boot and beat.boot != self._boot:
            self.banner("The controller was restarted: nothing turns green until a person acts", now_s)
        self._boot = beat.boot

    def _looked(self, view: contract.WorldView, now_s: float) -> None:
        """Take in the world as it is, and what its referee saw; a world begun anew counts from 1 again."""
        self.worlds.append((self._evened_s(view.at_ms / 1000, now_s), view))
        if not view.seen:
            return
        if self.seen and view.seen[-1].id < self.seen[-1].id:
            self.seen.clear()
        known = self.seen[-1].id if self.seen else 0
        for finding in view.seen:
            if finding.id > known:
                self.seen.append(finding)
                self.ribbon.called(seen_entry(finding, now_s, self.ribbon.rows))

    def _evened_s(self, said_s: float, now_s: float) -> float:
        """Give when a report would have come without the network's jitter: karts then move evenly.

        Reports are spaced as the world says, and laid as late as the quickest of the last ones needs.
        """
        lag_s = now_s - said_s
        if abs(lag_s - self._lag_s) > JITTER_S:
            self._lag_s = lag_s
        self._lag_s = min(lag_s, self._lag_s + LAG_RISES_S)
        return said_s + self._lag_s

    def _tripped(self, trip: contract.Trip) -> None:
        """Take the monitor's word; what came of a reset stands where it was asked."""
        before, self.trip = self.trip, trip
        if before is None or not before.tripped:
            return
        if not trip.tripped:
            self.outcome = Outcome("reset-monitor", "The monitor is reset.", (), accepted=True)
        elif trip.what.startswith("reset refused"):
            why = f"It still sees: {trip.what.partition(': ')[2]}, {trip.where}."
            self.outcome = Outcome("reset-monitor", "The monitor's reset refused.", (why,), accepted=False)

    def _pictured(self, state: contract.State, now_s: float) -> None:
        self.state = state
        heard = {int(number): kart.link for number, kart in state.karts.items()}
        self._silent = {number: self._silent.get(number, now_s) for number, link in heard.items() if not link}
        self.ribbon.note(now_s, self.dresses())

    def _overheard(self, post: str, call: contract.Call, now_s: float) -> None:
        """Mark a call of another post, or of this post's other device."""
        if post == self.post and any(entry.id == call.id for entry in self.ribbon.entries):
            return
        who = say.capital(say.post_name(self.venue, post))
        what = say.call_name(call.call)
        if isinstance(call.where, str) and call.where in self.ribbon.rows:
            what += f" {say.sector_name(self.venue, call.where)}"
        self._mark(call, f"{who} calls {what}", now_s)

    def _mark(self, call: contract.Call, text: str, now_s: float) -> None:
        row = call.where if isinstance(call.where, str) and call.where in self.ribbon.rows else TRACK
        if isinstance(call.hold, str) and call.hold.startswith("caution:"):
            row = call.hold.split(":")[1]
        self.ribbon.called(Entry(call.id, now_s, row, mark_of(call.call), None, text))

    def _called_by(self, post: str, call: str) -> str:
        """Say what another post called, as far as it was heard."""
        heard = (entry.text for entry in self.ribbon.entries if entry.id == call)
        return next(heard, f"A call of {say.post_name(self.venue, post)}")

    def _answered(self, post: str, answer: contract.Answer) -> None:
        late = self.late.pop(answer.id, None) if post == self.post else None
        sent = self.sent.pop(answer.id, late) if post == self.post else None
        said = tuple(refused.sentence for refused in answer.refusals)
        lines = said if answer.recorded else (*said, "Not recorded: the journal fails.")
        what = sent.name if sent else self._called_by(post, answer.id)
        title = f"{what}: done" if answer.accepted else f"{what} refused"
        title += ", answered late." if late else "."
        self.ribbon.answered(answer.id, accepted=answer.accepted, text=" ".join((title, *lines)))
        if sent is None or (late and self.outcome and self.outcome.call != answer.id):
            return
        self.outcome = Outcome(sent.action, title, lines, answer.accepted, answer.id)
        if answer.accepted and sent.action == "let-out":
            self._let_out_s = sent.at_s
        self.follow = sent.then if answer.accepted and not late else ""

    def sending(self, call: contract.Call, sent: Sent) -> None:
        """Note a call that goes out now."""
        self.sent[call.id] = sent
        self.outcome = Outcome(sent.action, f"{sent.name} …", call=call.id)
        self._mark(call, f"{sent.name}: not answered", sent.at_s)

    def unsent(self, action: str, name: str, why: str) -> None:
        """Note a call that could not go out."""
        self.outcome = Outcome(action, f"{name} was not sent.", (why,), accepted=False)

    def linked(self, *, up: bool) -> None:
        """Note that the link came up or went down."""
        self._link_up = up
        if not up:
            self._beat_s = None

    def banner(self, text: str, now_s: float) -> None:
        """Show a line about a process for a while."""
        self._banners.append((now_s + BANNER_S, text))

    def tick(self, now_s: float) -> None:
        """Let time pass: unanswered calls, heads that differ, the ribbon's unknown stretches."""
        for call, sent in list(self.sent.items()):
            if now_s - sent.at_s > ANSWER_WITHIN_S:
                self.late[call] = self.sent.pop(call)
                line = "No answer within 1 s: use flag and radio, then call again."
                title = f"{sent.name} was not answered."
                self.outcome = Outcome(sent.action, title, (line,), accepted=False, call=call)
        self.late = {call: sent for call, sent in self.late.items() if now_s - sent.at_s < LATE_S}
        if self.lost(now_s):
            self.ribbon.note(now_s, dict.fromkeys(self.ribbon.rows))
        elif self.state is not None:
            self.ribbon.note(now_s, self.dresses())
            for head, view in self.state.heads.items():
                if self.shows(head, now_s) is view.aspect:
                    self._due_since.pop(head, None)
                else:
                    self._due_since.setdefault(head, now_s)

    def lost(self, now_s: float) -> bool:
        """Whether nothing here can be trusted: no link, or no beat for `LOST_AFTER_S`."""
        return not self._link_up or self._beat_s is None or now_s - self._beat_s > LOST_AFTER_S

    def shows(self, head: str, now_s: float) -> Aspect | None:
        """Give what a head really shows; None where it was not heard within its lease."""
        shown = self.shown.get(head)
        if shown is None or now_s - shown[1] > self.venue.timing.lease_head / 1000 * 1.5:
            return None
        return shown[0].aspect

    def differs(self, head: str, now_s: float) -> bool:
        """Whether a head has shown something else than is due for longer than it may."""
        return now_s - self._due_since.get(head, now_s) > SETTLE_S

    def silent_s(self, number: int, now_s: float) -> float | None:
        """Give for how long a kart has not been heard, seconds; None where it is heard."""
        since_s = self._silent.get(number)
        return None if since_s is None else max(0.0, now_s - since_s)

    def age_s(self, now_s: float) -> float:
        """Give how old the picture is, seconds; 0 while the controller is heard."""
        return now_s - self._heard_s if self._heard_s is not None and self.lost(now_s) else 0.0

    def world_age_s(self, now_s: float) -> float:
        """Give how old the places on the map are, seconds; 0 while the world is heard."""
        age_s = now_s - self.worlds[-1][0] if self.worlds else 0.0
        return age_s if age_s > WORLD_STALE_S else 0.0

    def why(self, number: int, now_s: float) -> str:
        """Say in a few words what limits a kart, or for how long it has not been heard."""
        kart, silent_s = self.picture.kart(number), self.silent_s(number, now_s)
        if kart is None:
            return ""
        if silent_s is not None:
            return f"silent {age(silent_s)}"
        home = kart.because is Because.NOT_LET_OUT and self.state and self.state.phase is Phase.FINISHING
        return "home" if home else say.REASONS[kart.because]

    def all_stand(self, within_kmh: float) -> bool:
        """Whether no kart that is out still moves; without a world, whether none is out."""
        if not self.worlds:
            return not self.picture.out()
        return all(kart.in_pit or kart.speed_kmh <= within_kmh for kart in self.worlds[-1][1].karts)

    def left_s(self) -> float | None:
        """Give the seconds left of the planned session; negative when over."""
        return self.picture.left_s(self.wall_ms())

    def gap_left_s(self, now_s: float) -> float:
        """Give the seconds until the next kart may follow the one let out last from here; 0 when over."""
        if self._let_out_s is None:
            return 0.0
        return max(0.0, self._let_out_s + self.venue.timing.gap / 1000 + GAP_SPARE_S - now_s)

    def wall_ms(self) -> int:
        """Give the latest time any message told, UTC ms."""
        told = [view.at_ms for _, view in self.worlds] + ([self.state.at] if self.state else [])
        return max(told, default=0)

    def dresses(self) -> dict[str, Dress]:
        """Give how the track and every sector are dressed; clear is green only while racing."""
        if self.state is None:
            return {}
        conditions = {TRACK: self.state.condition, **self.state.sectors}
        return {row: self.picture.dress(condition) for row, condition in conditions.items()}

    def warnings(self, now_s: float) -> list[str]:
        """Give what must be read before anything else, the gravest first."""
        lines = []
        if self.trip is not None and self.trip.tripped:
            trip = self.trip
            what = f"{trip.what} at {trip.where}, due {trip.due}, shown {trip.shown}"
            lines.append(f"Monitor tripped: {what}. Reset (F9)")
        if self.controller == "gone":
            lines.append("The controller is gone: heads and karts fall to the safe side by themselves")
        if self.monitor == "lost":
            lines.append("The monitor is gone: yellow everywhere until it is back and somebody lifts it")
        if self.state is not None and self.state.journal == "failed":
            lines.append("The journal fails: only red, yellow and the like are accepted")
        lines += [text for until_s, text in self._banners if until_s > now_s]
        lines += list(self.state.faults) if self.state else []
        return [*lines, self.note] if lines and self.note else lines


def age(seconds: float) -> str:
    """Say how old something is: "12 s", "3 min"."""
    return f"{seconds:.0f} s" if seconds < MINUTE_S else f"{seconds / MINUTE_S:.0f} min"
