"""What goes into a decision and what comes out: frozen values, no behaviour.

Times are `now_ms`: UTC milliseconds at the controller's boot plus monotonic time since, so they
never jump within a boot. Numbers of karts are the painted ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from signals.words import Aspect, Because, Condition, HeadRole, InputKind, Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A venue as the core sees it: names in order, constant relations, limits, times.

    `sectors` are the track's in driving order, then "pit". `before[head]` is the head before it in
    driving order. `classes` run from slowest to fastest; `limits_kmh[surface][cap]` holds the caps
    zero, stop, creep, return, disqualified, caution, finish, pit and one per class. `may[post]` are
    the words beyond stop and caution. `persons` are the ids a partner or `by` may name.
    """

    sectors: tuple[str, ...]
    sector_names: Mapping[str, str]
    approach: Mapping[str, tuple[str, ...]]
    after_pit: str
    heads: tuple[str, ...]
    roles: Mapping[str, HeadRole]
    protects: Mapping[str, tuple[str, ...]]
    before: Mapping[str, str]
    numbers: frozenset[str]
    """Heads with a number display."""
    posts: tuple[str, ...]
    post_names: Mapping[str, str]
    """As sentences name them."""
    covers: Mapping[str, tuple[str, ...]]
    supervisors: frozenset[str]
    may: Mapping[str, frozenset[str]]
    karts: tuple[int, ...]
    kart_class: Mapping[int, str]
    classes: tuple[str, ...]
    inputs: tuple[str, ...]
    input_kind: Mapping[str, InputKind]
    input_sector: Mapping[str, str]
    checklist: tuple[str, ...]
    limits_kmh: Mapping[str, Mapping[str, float]]
    boosts: int
    fail_aspect: Mapping[HeadRole, Aspect]
    finish_aspect: Aspect
    grid_start: bool
    finish_at_line: bool
    mixed_classes: bool
    armed_ms: int
    gap_ms: int
    move_over_ms: int
    show_ms: int
    stood_ms: int
    utc_offset_min: int = 0
    """For the time of day in sentences."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something to decide on: a person's call, or what equipment or a timer did.

    `word` is a `Word` or one of `table.EQUIPMENT_WORDS`; `post` the caller or "E"; `fields` are the
    call's own (where, kart, kind, partner, reason, checked …) in the words of the contract; `seen`
    is (boot, seq) of the `state` the sender saw, which permissive words need.
    """

    word: str
    post: str = "E"
    fields: Mapping[str, Any] = field(default_factory=dict)
    id: str = ""
    seen: tuple[str, int] | None = None


TICK = Event("tick")
"""Let due timers act; nothing else happens."""


@dataclass(frozen=True, slots=True)
class Hold:
    """The attributes of a standing hold; its key (what, where, placer) is in the facts."""

    id: str
    reason: str
    since: int
    partner: str | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """One entry of a group: the kart, who drives it, and the driver's class."""

    kart: int
    driver: str
    class_: str


@dataclass(frozen=True, slots=True)
class Party:
    """A group and its checklist; `confirmed[item]` is (by, at) once confirmed."""

    id: str = ""
    members: tuple[Member, ...] = ()
    confirmed: Mapping[str, tuple[str, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Refusal:
    """One reason: the interlock's name and its sentence, filled with what, where, who, since when."""

    rule: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Beside:
    """What the rules need beside the facts, outside the proof."""

    group: Party = Party()
    next: Party | None = None
    barred: frozenset[str] = frozenset()
    """Drivers (as written in the entries) who were disqualified today."""
    ids: Mapping[str, tuple[str, tuple[Refusal, ...]]] = field(default_factory=dict)
    """Calls seen in this boot by post/id: the payload's fingerprint and what was answered; the oldest go."""
    slowed_by: Mapping[int, str] = field(default_factory=dict)
    """Who slowed or stopped a kart."""
    opening: tuple[str, str | None, int, bool] | None = None
    """(verdict, restriction, until, simulated) of the opening check."""
    started_at: int | None = None
    allowed_kmh: Mapping[int, float] = field(default_factory=dict)
    """In a test: the limit allowed to a kart."""
    lamps: Mapping[str, str] = field(default_factory=dict)
    """In a test: the single lamp shown by a head."""
    numbers: Mapping[str, int] = field(default_factory=dict)
    """In a test: the number shown by a head."""


@dataclass(frozen=True, slots=True)
class State:
    """All the controller knows. `facts` is the integer form of the table's facts.

    `serial` rises by one with every change (it is the `seq` of `state`); `restrictive_at` is the
    serial of the last restrictive change; `epoch` rises at every stop and every last lift.
    """

    boot: str
    facts: tuple[int, ...]
    notes: Mapping[str, Hold] = field(default_factory=dict)
    due: Mapping[str, int] = field(default_factory=dict)
    beside: Beside = Beside()
    serial: int = 1
    restrictive_at: int = 1
    epoch: int = 0


@dataclass(frozen=True, slots=True)
class ShowAspect:
    """Effect: a head is to show this."""

    head: str
    aspect: Aspect
    number: int | None
    lamp: str | None


@dataclass(frozen=True, slots=True)
class SetLimit:
    """Effect: a kart is to obey this."""

    kart: int
    limit_kmh: float
    boosts: int
    because: Because


Effect = ShowAspect | SetLimit


@dataclass(frozen=True, slots=True)
class Decision:
    """What came of an event. Refused if `refusals`; then `state` differs only by timers that were due.

    `changed` tells whether anything is to be published; `happened` are the words of the timers that
    acted first, in order; `placed` and `ended` are the keys of holds that came and went.
    """

    state: State
    effects: tuple[Effect, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    changed: bool = False
    happened: tuple[str, ...] = ()
    placed: tuple[str, ...] = ()
    ended: tuple[str, ...] = ()

    @property
    def accepted(self) -> bool:
        """Whether the event was acted on."""
        return not self.refusals


@dataclass(frozen=True, slots=True)
class StandingHold:
    """A hold in the words of the contract: what (stop, caution, recovery), where, kind, placer."""

    key: str
    what: str
    where: str | None
    kind: str | None
    post: str | None
    hold: Hold


@dataclass(frozen=True, slots=True)
class KartPicture:
    """One kart as screens see it."""

    place: str
    call: str
    slowed: str
    limit_kmh: float
    because: Because
    link: bool
    taken: bool
    moving: bool
    let_out: bool
    button: bool
    class_: str | None
    """The class it runs in, None when not in the group."""
    boosts: int = 0
    """Boosts its driver may still take this lap."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A state spelled out for the shell: made by `Core.picture`, kept per facts vector."""

    phase: Phase
    ready: bool
    condition: Condition
    sectors: Mapping[str, Condition]
    holds: tuple[StandingHold, ...]
    aspects: Mapping[str, tuple[Aspect, int | None, str | None]]
    """head -> (aspect, number, lamp)"""
    karts: Mapping[int, KartPicture]
    heads: Mapping[str, str]
    """head -> ok, lost, out-of-service"""
    monitor: str
    journal: str
    surface: str
    stopped: bool
    testing: bool
    track_empty: bool
    faults: tuple[str, ...]
    """Equipment faults that stand, one sentence each."""
