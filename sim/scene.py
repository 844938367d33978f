"""What a world is made of at one instant: karts, things on the track, what reaches them.

A scene never changes. Its karts and people could be; only the engine does, and only on copies of its own.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from enum import StrEnum

import msgspec
from msgspec import Struct, field

from signals.words import Aspect
from sim.course import Course
from sim.speeds import both

STEP_S = 1 / 60
_ENCODE = msgspec.msgpack.Encoder().encode


class Doing(StrEnum):
    """What a kart is about."""

    WAITING = "waiting"
    """In its pit box or grid slot until its limit lets it go."""
    LEAVING = "leaving"
    LAPPING = "lapping"
    COMING_IN = "coming-in"
    PARKED = "parked"
    """Home, until the limit has come back to 0."""


class Trouble(StrEnum):
    """What has befallen a kart on the track."""

    NONE = ""
    SPIN = "spin"
    STALL = "stall"
    SMOKE = "smoke"
    HAND_RAISED = "hand-raised"
    WRONG_WAY = "wrong-way"
    PUSHED = "pushed"
    CONTACT = "contact"
    """It hit another one, or was hit."""
    DRIVER_OUT = "driver-out"
    """Its driver climbed out."""
    SHORTCUT = "shortcut"
    """It cuts a corner, beyond the white lines."""
    OVERTURNED = "overturned"
    """It lies on its side."""
    MEDICAL = "medical"
    """Its driver has collapsed at the wheel."""
    TEARS = "child-in-tears"
    """Its driver is frightened and will not go on."""
    INTRUDES = "kart-enters"
    """It rolls out of the pit whatever its limit."""


STANDS = frozenset(
    {
        Trouble.SPIN,
        Trouble.STALL,
        Trouble.SMOKE,
        Trouble.HAND_RAISED,
        Trouble.CONTACT,
        Trouble.DRIVER_OUT,
        Trouble.OVERTURNED,
        Trouble.MEDICAL,
        Trouble.TEARS,
    }
)
ASIDE = STANDS | {Trouble.WRONG_WAY, Trouble.PUSHED}
"""Trouble that ends at the edge of the track, out of the way of the others."""


class Driver(Struct, frozen=True, kw_only=True):
    """What a driver is like; drawn once, for good."""

    skill: int = 0
    """Which share of the grip he dares to use: a rung of `drivers.SKILLS`."""
    headway_s: float = 0.8
    jam_m: float = 1.2
    comfort_mps2: float = 3.5
    """Headway, gap at a stand and braking of the car-following model."""
    reaction: float = 1.0
    """His reaction times, as a share of everyone's median."""
    compliance: float = 1.0
    """The chance that he heeds a signal he sees."""
    boosts: bool = False


class Mind(Struct, kw_only=True):
    """What a driver makes of what he saw; renewed ten times a second."""

    lane: int = 0
    """The line he drives on, a `lines.Lane`."""
    lane_s: float = -math.inf
    """Since when."""
    low_m: float = -math.inf
    high_m: float = math.inf
    """Between which he stays, metres left of the centreline, for whoever drives beside him."""
    want_mps2: float = 0.0
    heeds: Aspect = Aspect.DARK
    """The signal he drives by."""
    news: Aspect = Aspect.DARK
    """The last one he saw; he drives by it from `news_s`, unless he ignores it."""
    news_s: float = math.inf
    ignored: int = -1
    """The head, by its number, on which he ignored that one: the next head is another chance to notice it."""


class Kart(Struct, kw_only=True):
    """One kart. `at_m` runs along the lap, or along the pit lane where `on_pit_lane`."""

    number: int
    box_m: float
    at_m: float
    on_pit_lane: bool
    driver: Driver = Driver()
    mind: Mind = field(default_factory=Mind)
    doing: Doing = Doing.WAITING
    on_grid: bool = False
    """Between its grid slot and the start line: still the pit's."""
    home: bool = False
    """Wants to come in: its driver saw a chequered head, or his own number."""
    v_mps: float = 0.0
    """Along its course; negative backwards."""
    left_m: float = 0.0
    course_rad: float = 0.0
    """Where it moves to, against the centreline's direction, anticlockwise."""
    turned_deg: float = 0.0
    """How far its body is turned against its course: in a slide or a spin."""
    limit_mps: float = 0.0
    """As its limiter took it."""
    cap_mps: float = 0.0
    """What the limiter allows now: on its ramp to the limit."""
    held: bool = True
    """Its limit was 0, and the pedal has not been released since it is above."""
    cut: bool = False
    """Its button was pressed: no drive until the limit has been at 0 and was raised again."""
    throttle: float = 0.0
    brake: float = 0.0
    """Pedals as pressed, 0 … 1."""
    reverse: bool = False
    """Its own control for driving backwards is pressed: at walking pace, from a stand."""
    backs_until_s: float = -1.0
    """Until then, at most, it is kept pressed."""
    still_s: float = 0.0
    """When it last drove, or was let drive anew; creeping to and fro is no driving."""
    boost_until_s: float = -1.0
    boosted: bool = False
    """It used its boost in this lap."""
    laps: int = 0
    """Times it crossed the start line."""
    strained_s: float = 0.0
    """How long its limiter has asked for more than its tyres had left in a bend."""
    trouble: Trouble = Trouble.NONE
    until_s: float = math.inf
    button_until_s: float = -1.0
    gives_way_until_s: float = -1.0
    """Until then it keeps to the edge: others may pass."""
    parked_s: float = 0.0
    limp: float = 1.0
    """Share of its speed that a lame kart still makes."""
    limp_until_s: float = -1.0
    deaf_until_s: float = -1.0
    """Until then its driver heeds no signal: neither slows nor comes in for one, nor lets pass."""
    scarf_until_s: float = -1.0
    """Until then a scarf flaps behind its driver."""


def twin(kart: Kart) -> Kart:
    """Copy a kart, to change the copy."""
    made: Kart = kart.__copy__()  # type: ignore[attr-defined] # structs have it, quicker than copy.copy
    made.mind = kart.mind.__copy__()  # type: ignore[attr-defined]
    return made


@both
def forget(kart: Kart) -> None:
    """Give a kart's driver a fresh mind."""
    mind = kart.mind
    mind.lane = 0
    mind.lane_s = -math.inf
    mind.low_m = -math.inf
    mind.high_m = math.inf
    mind.want_mps2 = 0.0
    mind.heeds = Aspect.DARK
    mind.news = Aspect.DARK
    mind.news_s = math.inf
    mind.ignored = -1


@both
def stow(course: Course, kart: Kart, index: int) -> None:
    """Put a kart where it waits for its next run: in its grid slot, or in its box."""
    kart.at_m = course.slots_m[index] if course.grid else kart.box_m
    kart.left_m = course.slots_left_m[index] if course.grid else course.box_left_m
    kart.course_rad = 0.0
    kart.on_pit_lane = not course.grid
    kart.on_grid = course.grid
    kart.doing = Doing.WAITING
    kart.home = False
    kart.gives_way_until_s = -1.0
    kart.v_mps = 0.0
    kart.throttle = 0.0
    kart.brake = 0.0
    kart.held = True
    kart.trouble = Trouble.NONE
    kart.until_s = math.inf
    kart.turned_deg = 0.0
    forget(kart)


class Item(Struct, kw_only=True):
    """Something that lies on the track (debris) or hangs over it (smoke)."""

    what: str
    at_m: float
    left_m: float = 0.0
    until_s: float = math.inf
    reach_m: float = 0.5
    """How far it reaches around its middle."""


class Who(StrEnum):
    """Who is on foot."""

    MARSHAL = "marshal"
    DRIVER = "driver"
    VISITOR = "visitor"


class Walk(StrEnum):
    """What somebody on foot is about."""

    GONE = "gone"
    STANDS = "stands"
    OUT = "out"
    PUSHES = "pushes"
    SWEEPS = "sweeps"
    BACK = "back"


class Person(Struct, kw_only=True):
    """Somebody on foot: metres of the lap; beyond the white lines he is out of the way."""

    who: Who
    at_m: float
    left_m: float
    doing: Walk = Walk.STANDS
    kart: int | None = None
    until_s: float = math.inf
    in_pit: bool = False
    """Then the metres are the pit lane's."""
    post: str = ""
    """Where a marshal came from."""
    goal_m: float = 0.0
    """Where on the lap somebody is going."""
    side: int = 1
    """Beside which edge somebody walks: 1 left, -1 right."""


class Scene(Struct, frozen=True, kw_only=True):
    """All there is at one instant."""

    steps: int
    karts: tuple[Kart, ...]
    seed: int = 0
    wet: bool = False
    """The surface as it is, whatever anybody declared."""
    wet_until_s: float = math.inf
    """A wet surface dries by itself then."""
    items: tuple[Item, ...] = ()
    people: tuple[Person, ...] = ()
    rates: tuple[tuple[str, float], ...] = ()
    """What chance brings: events, and how many of each an hour."""

    @property
    def time_s(self) -> float:
        """Seconds since the world began."""
        return self.steps * STEP_S

    def digest(self) -> str:
        """SHA-256 of everything in the scene: equal digests, equal worlds."""
        return hashlib.sha256(_ENCODE(self)).hexdigest()


class Heard(Struct, frozen=True, kw_only=True):
    """What reaches drivers and limiters: km/h taken, aspects shown, numbers shown, each with its time."""

    taken: Mapping[int, tuple[float, float]]
    """kart -> (km/h, heard at, s)"""
    shown: Mapping[str, tuple[Aspect, int | None, float]]
    """head -> (aspect, number, heard at, s)"""
    boosts: Mapping[int, int] = {}
    """kart -> boosts a lap that it is allowed"""
    ramps: Mapping[int, tuple[float, float]] = {}
    """kart -> how steeply its limiter was told to fall and rise, m/s²; by default the venue's ramp"""
    boosts_mps: Mapping[int, float] = {}
    """kart -> how much faster its limiter was told a boost makes it; by default as the venue has it"""


@both
def waits_s(kart: Kart, now_s: float) -> float:
    """Give for how long a kart has not driven though it may, seconds; 0 for one that may not."""
    return now_s - kart.still_s if kart.limit_mps > 0.0 else 0.0


def gives_way(kart: Kart, now_s: float) -> bool:
    """Whether a kart keeps to the edge for others to pass."""
    return kart.gives_way_until_s > now_s
