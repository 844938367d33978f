"""A venue as the rest of the product sees it: frozen, complete, checked.

Built only by `signals.venue.load`; every default is already filled in, every reference resolved,
every derived relation (approach, head before) computed. Units stand in the names.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from msgspec import Struct

from signals.venue.wires import Wire
from signals.words import Aspect, HeadRole, InputKind


class Sector(Struct, frozen=True, kw_only=True):
    """A stretch in driving order; `from_m > to_m` wraps. The pit lane is the last one, id "pit"."""

    id: str
    name: str
    from_m: float
    to_m: float
    approach: tuple[str, ...]
    """Sectors any part of which lies within ramp distance plus reaction before this one (ids)."""


class Post(Struct, frozen=True, kw_only=True):
    """Where a marshal stands. `covers` are sector ids; `may` words beyond stop and caution."""

    id: str
    name: str
    at_m: float
    covers: tuple[str, ...]
    supervisor: bool
    may: tuple[str, ...]


class Person(Struct, frozen=True, kw_only=True):
    """Somebody who signs in; `role` is free text for the record."""

    id: str
    name: str
    posts: tuple[str, ...]
    role: str


class Node(Struct, frozen=True, kw_only=True):
    """One connected device. `kind`: heads, kart, call-box, gateway, loop."""

    id: str
    kind: str
    simulated: bool
    heads: tuple[str, ...]
    karts: tuple[int, ...]
    inputs: tuple[str, ...]
    lease_ms: int


class Input(Struct, frozen=True, kw_only=True):
    """A wired contact. `sector` is where a gate or a caution box acts; None: the whole track."""

    id: str
    kind: InputKind
    sector: str | None
    node: str


class Loop(Struct, frozen=True, kw_only=True):
    """A timing loop: `sector` is the one a kart is in just after it."""

    id: str
    at_m: float
    sector: str


class Head(Struct, frozen=True, kw_only=True):
    """A signal head. `side` as the driver sees it; `before` is the previous head in driving order."""

    id: str
    at_m: float
    side: Literal["left", "right", "above"]
    offset_m: float
    height_m: float
    facing_deg: float
    protects: tuple[str, ...]
    role: HeadRole
    aspects: dict[Aspect, tuple[str, ...]]
    """Which lamps are lit for each aspect it can show (finish aspect, red, yellow-flash, green, …)."""
    number: bool
    before: str
    node: str
    x_m: float
    y_m: float


class Barrier(Struct, frozen=True, kw_only=True):
    """A wall that hides what is behind it up to `height_m`."""

    points_m: tuple[tuple[float, float], ...]
    height_m: float


class Kart(Struct, frozen=True, kw_only=True):
    """A kart; its class is the fastest it may be hired in."""

    number: int
    class_: str
    node: str


class CheckItem(Struct, frozen=True, kw_only=True):
    """One item of the opening check's list."""

    id: str
    text: str
    effect: Literal["blocks", "restricts", "notes"]
    each: Literal["venue", "kart", "head"] = "venue"
    """Looked at once, or once for every kart, or for every head."""


class ChecklistItem(Struct, frozen=True, kw_only=True):
    """One item of the group's checklist, in order, with the key that confirms it in the window."""

    id: str
    text: str
    key: str


class Limits(Struct, frozen=True, kw_only=True):
    """km/h. `classes` from slowest to fastest."""

    classes: dict[str, float]
    stop: float
    creep: float
    return_: float
    disqualified: float
    caution: float
    finish: float
    pit: float
    reverse: float
    boost: float


class Ramp(Struct, frozen=True, kw_only=True):
    """How steeply a limiter falls and rises, m/s²."""

    fall: float
    rise: float


class KartModel(Struct, frozen=True, kw_only=True):
    """What a kart of the simulated world is like, as a typical one; grips are friction coefficients."""

    mass_kg: float = 230.0
    power_kw: float = 6.0
    thrust_n: float = 650.0
    drag_m2: float = 0.6
    """Drag coefficient times frontal area."""
    rolling: float = 0.02
    grip: float = 1.0
    grip_sliding: float = 0.7
    grip_wet: float = 0.7
    grip_sliding_wet: float = 0.5
    braked: float = 0.72
    """Share of the grip that the brakes can use."""
    length_m: float = 1.9
    width_m: float = 1.3
    radius_m: float = 3.0
    """Of its tightest turn."""


class Timing(Struct, frozen=True, kw_only=True):
    """All in ms."""

    armed: int
    gap: int
    move_over: int
    show: int
    stood: int
    reaction: int
    session: int
    turnover: int
    boost: int
    lease_head: int
    lease_kart: int
    lease_controller: int
    settle: int
    beat: int
    monitor_trip: int
    follow: int = 200
    """The opening check finds a head slower than this."""


class Choices(Struct, frozen=True, kw_only=True):
    """What practice disagrees on, chosen by the venue."""

    start: Literal["one-by-one", "grid"]
    finish_slow: Literal["all-at-once", "at-line"]
    finish_aspect: Aspect
    fail_aspect: dict[HeadRole, Aspect]
    flash_period_ms: int
    flash_lit_ms: int
    mixed_classes: bool
    boosts: int
    flash_because: str = ""
    """Why the flash lies outside 50 to 60 a minute, lit 1/2 to 2/3, where it does."""


class Operating(Struct, frozen=True, kw_only=True):
    """Local times HH:MM; `day_ends` is when an opening verdict and out-of-service marks end."""

    opens: str
    closes: str
    day_ends: str
    timezone: str


class Venue(Struct, frozen=True, kw_only=True):
    """A track with its equipment. `centreline_m` rows are (x, y, right, left) in metres, closed."""

    id: str
    name: str
    direction: Literal["clockwise", "anticlockwise"]
    path: Path
    digest: str
    """SHA-256 (hex) over the file and the files it names."""
    length_m: float
    start_line_m: float
    centreline_m: tuple[tuple[float, float, float, float], ...]
    pit_entry_m: float
    pit_exit_m: float
    pit_centreline_m: tuple[tuple[float, float, float, float], ...]
    sectors: tuple[Sector, ...]
    posts: tuple[Post, ...]
    persons: tuple[Person, ...]
    nodes: tuple[Node, ...]
    inputs: tuple[Input, ...]
    loops: tuple[Loop, ...]
    heads: tuple[Head, ...]
    barriers: tuple[Barrier, ...]
    karts: tuple[Kart, ...]
    check_items: tuple[CheckItem, ...]
    checklist: tuple[ChecklistItem, ...]
    limits: Limits
    limits_wet: Limits
    ramp: Ramp
    ramp_wet: Ramp
    timing: Timing
    choices: Choices
    operating: Operating
    kart_model: KartModel = KartModel()
    wiring: Path | None = None
    """The wiring table, where the file names one."""
    wires: tuple[Wire, ...] = ()
    """Its rows."""

    @property
    def simulated(self) -> bool:
        """Whether ANY equipment is simulated: then all of it lives under the simulated root."""
        return any(node.simulated for node in self.nodes)
