"""The form of a venue file: every table, key, unit, bound and default, as structs.

The reader, the JSON Schema and the tables of `docs/venue.md` all follow from this module.
`_m` runs along the centreline from its first point, in driving order. The plane's x points east,
y north, so an anticlockwise track has a positive area. Defaults are typical and have no source
unless a description names one.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, Struct, field

from signals.venue.model import KartModel
from signals.words import Aspect, HeadRole, InputKind, Word

Id = Annotated[
    str, Meta(pattern="^[a-z0-9-]{1,16}$", extra={"right": "1 to 16 of the characters a-z, 0-9 and -"})
]
Name = Annotated[str, Meta(min_length=1, max_length=80)]
Line = Annotated[str, Meta(min_length=1, max_length=200)]
Along = Annotated[float, Meta(ge=0, le=10_000)]
Coordinate = Annotated[float, Meta(ge=-10_000, le=10_000)]
Length = Annotated[float, Meta(ge=0, le=1000)]
Width = Annotated[float, Meta(gt=0, le=100)]
Kmh = Annotated[float, Meta(ge=0, le=150)]
Classes = Annotated[dict[Id, Kmh], Meta(min_length=1)]
Mps2 = Annotated[float, Meta(ge=0.1, le=20)]
Grip = Annotated[float, Meta(ge=0.05, le=2)]
Ms = Annotated[int, Meta(ge=0, le=86_400_000)]
FlashMs = Annotated[int, Meta(ge=100, le=5_000)]
BeatMs = Annotated[int, Meta(ge=20, le=1_000)]
Lease = Annotated[int, Meta(ge=100, le=10_000)]
KartNumber = Annotated[int, Meta(ge=1, le=999)]
HourMinute = Annotated[
    str,
    Meta(pattern="^([01][0-9]|2[0-3]):[0-5][0-9]$", extra={"right": "a time of day between 00:00 and 23:59"}),
]
Row = Annotated[tuple[Coordinate, ...], Meta(min_length=2, max_length=4)]
Spot = Annotated[tuple[Coordinate, ...], Meta(min_length=2, max_length=2)]
Lamps = Annotated[
    dict[Aspect, tuple[Id, ...]], Meta(extra_json_schema={"propertyNames": {"enum": list(Aspect)}})
]
FailAspects = Annotated[
    dict[HeadRole, Literal["yellow-flash", "red"]],
    Meta(extra_json_schema={"propertyNames": {"enum": list(HeadRole)}}),
]
Key = Annotated[str, Meta(pattern="^[A-Z0-9]$", extra={"right": "one capital letter or digit"})]

EVERYTHING = "everything"
TYPICAL = KartModel()
GRANTABLE = tuple(sorted(set(Word) - {Word.STOP, Word.CAUTION}))
"""The words that `may` can add; stop and caution are everyone's."""
Grant = Annotated[str, Meta(extra_json_schema={"enum": [*GRANTABLE, EVERYTHING]})]


class Table(Struct, frozen=True, forbid_unknown_fields=True):
    """The base of all: an unknown key is a mistake."""


class VenueTable(Table, frozen=True, kw_only=True):
    """Who the venue is."""

    id: Annotated[Id, Meta(description="part of every topic; letters a-z, digits and -, at most 16")]
    name: Annotated[Name, Meta(description="as people say it")]
    direction: Annotated[
        Literal["clockwise", "anticlockwise"],
        Meta(description="only checked against the centreline, which decides"),
    ]
    setting: Annotated[
        Literal["indoor", "outdoor"], Meta(description="decides the default limit of class adult")
    ] = "indoor"


class TrackTable(Table, frozen=True, kw_only=True):
    """The track's surface: one of `centreline_m` and `centreline`."""

    width_m: Annotated[Width, Meta(description="where a row of the centreline gives no widths")] = 7.0
    start_line_m: Annotated[Along, Meta(description="where laps are counted")] = 0.0
    centreline_m: Annotated[
        tuple[Row, ...] | None,
        Meta(
            description="rows [x, y] or [x, y, right, left]: a point and the track's reach to the right and "
            "left of it, in driving order; it closes by itself"
        ),
    ] = None
    centreline: Annotated[
        str | None,
        Meta(description="a CSV file beside this one with the columns x_m, y_m, right_m, left_m"),
    ] = None


class PitTable(Table, frozen=True, kw_only=True):
    """The pit lane: the sector `pit`, from where it leaves the track to where it joins it."""

    entry_m: Annotated[Along, Meta(description="where the pit lane leaves the track")]
    exit_m: Annotated[Along, Meta(description="where it joins the track")]
    width_m: Annotated[Width, Meta(description="where a row of its centreline gives no widths")] = 5.0
    centreline_m: Annotated[
        tuple[Row, ...] | None, Meta(description="rows as the track's, from entry to exit, open")
    ] = None
    centreline: Annotated[str | None, Meta(description="a CSV file, as the track's")] = None


class SectorTable(Table, frozen=True, kw_only=True):
    """A stretch of the track in driving order; together they cover it once, without a gap."""

    id: Annotated[Id, Meta(description="not `pit`: that sector is made from [pit]")]
    name: Annotated[Name, Meta(description="what marshals call it: number and corner")]
    from_m: Annotated[Along, Meta(description="its start")]
    to_m: Annotated[Along, Meta(description="its end, the next one's start; below from_m it wraps")]


class PostTable(Table, frozen=True, kw_only=True):
    """Where a marshal stands. Stop and caution are everyone's; `may` adds words."""

    id: Annotated[Id, Meta(description="part of its call topic")]
    name: Annotated[Name | None, Meta(description="as people say it; by default the id")] = None
    at_m: Annotated[Along, Meta(description="beside the track")] = 0.0
    covers: Annotated[tuple[str, ...], Meta(description="the sectors it answers for")] = ()
    supervisor: Annotated[bool, Meta(description="may do what only a supervisor may")] = False
    may: Annotated[
        tuple[Grant, ...],
        Meta(description='words beyond stop and caution, or ["everything"]'),
    ] = ()


class PersonTable(Table, frozen=True, kw_only=True):
    """Somebody who signs in at a post."""

    id: Annotated[Id, Meta(description="named in the record")]
    name: Annotated[Name, Meta(description="as people say it")]
    posts: Annotated[tuple[str, ...], Meta(description="where they may stand")] = ()
    role: Annotated[Name, Meta(description="free words for the record")] = "marshal"


class NodeTable(Table, frozen=True, kw_only=True):
    """One connected device, with what hangs on it."""

    id: Annotated[Id, Meta(description="its client name is node-ID")]
    kind: Annotated[Literal["heads", "kart", "call-box", "gateway", "loop"], Meta(description="what it is")]
    simulated: Annotated[
        bool,
        Meta(description="true for equipment that is not there; one such node makes the venue simulated"),
    ] = False
    heads: Annotated[tuple[str, ...], Meta(description="heads it drives")] = ()
    karts: Annotated[tuple[int, ...], Meta(description="karts it limits")] = ()
    inputs: Annotated[tuple[str, ...], Meta(description="contacts it reads")] = ()
    lease_ms: Annotated[
        Lease | None,
        Meta(
            description="how long it obeys without a beat; by default timing_ms.lease_kart for a kart, "
            "else timing_ms.lease_head"
        ),
    ] = None


class InputTable(Table, frozen=True, kw_only=True):
    """A wired contact."""

    id: Annotated[Id, Meta(description="part of its topic")]
    kind: Annotated[InputKind, Meta(description="what it means when it is active")]
    sector: Annotated[
        str | None,
        Meta(
            description="where a gate or a caution box acts; by default `pit` for a gate, the whole "
            "track for a caution box"
        ),
    ] = None


class LoopTable(Table, frozen=True, kw_only=True):
    """A timing loop across the track or the pit lane."""

    id: Annotated[Id, Meta(description="part of its topic")]
    at_m: Annotated[Along, Meta(description="where it lies")]
    sector: Annotated[
        str | None, Meta(description="where a kart is just after it; by default the sector at at_m")
    ] = None


class WiringTable(Table, frozen=True, kw_only=True):
    """Where the wiring table is."""

    table: Annotated[str | None, Meta(description="a CSV file beside this one")] = None


class HeadTable(Table, frozen=True, kw_only=True):
    """A signal head facing the drivers."""

    id: Annotated[Id, Meta(description="part of its topics")]
    at_m: Annotated[Along, Meta(description="where it stands along the track")]
    side: Annotated[Literal["left", "right", "above"], Meta(description="as the driver sees it")] = "right"
    offset_m: Annotated[
        Length | None,
        Meta(description="from the centreline; by default 1 m beyond the track's edge, 0 above"),
    ] = None
    height_m: Annotated[Length, Meta(description="of its lamps above the track")] = 2.5
    facing_deg: Annotated[
        Annotated[float, Meta(ge=-360, le=360)] | None,
        Meta(
            description="where its light points, anticlockwise from east; by default against the driving "
            "direction at at_m"
        ),
    ] = None
    protects: Annotated[tuple[str, ...], Meta(description="the sectors it speaks for", min_length=1)]
    role: Annotated[HeadRole, Meta(description="what it is there for")] = HeadRole.TRACK
    aspects: Annotated[
        Lamps | None,
        Meta(
            description="the lamps lit for each aspect; by default one lamp a colour, and for a number "
            "display also `number` and `blue`"
        ),
    ] = None
    number: Annotated[bool, Meta(description="it has a number display")] = False


class BarrierTable(Table, frozen=True, kw_only=True):
    """A wall that hides what is behind it."""

    points_m: Annotated[tuple[Spot, ...], Meta(description="rows [x, y] along it", min_length=2)]
    height_m: Annotated[Length, Meta(description="up to where it hides")] = 1.0


class KartTable(Table, frozen=True, kw_only=True):
    """A kart; 13 NCAC 15 .0429(a)(1) wants every kart numbered."""

    number: Annotated[KartNumber, Meta(description="painted on it")]
    class_: Annotated[Id, Meta(description="the fastest class it is hired in")] = field(name="class")


class CheckItemTable(Table, frozen=True, kw_only=True):
    """A row of the opening check that a person answers."""

    id: Annotated[Id, Meta(description="named in the record")]
    text: Annotated[Line, Meta(description="what is looked at")]
    effect: Annotated[
        Literal["blocks", "restricts", "notes"], Meta(description="what a failed row does to opening")
    ] = "blocks"
    each: Annotated[
        Literal["venue", "kart", "head"],
        Meta(description="looked at once, or once for every kart, or for every head"),
    ] = "venue"


class LimitsTable(Table, frozen=True, kw_only=True):
    """km/h, dry.

    0 <= stop <= creep <= return <= disqualified <= caution <= finish <= every class, and pit <= caution.
    """

    classes: Annotated[
        Classes | None,
        Meta(
            description="limit of each class; by default child 15, junior 28, adult 45 indoor or 55 outdoor"
        ),
    ] = None
    stop: Annotated[Kmh, Meta(description="under red; fire and medical are always 0")] = 0.0
    creep: Annotated[Kmh, Meta(description="past a person on the track")] = 5.0
    return_: Annotated[Kmh, Meta(description="home in recovery and when no session runs")] = field(
        name="return", default=12.0
    )
    disqualified: Annotated[Kmh, Meta(description="of a disqualified kart")] = 12.0
    caution: Annotated[Kmh, Meta(description="under yellow and on its approach")] = 15.0
    finish: Annotated[Kmh, Meta(description="after the chequered signal")] = 15.0
    pit: Annotated[Kmh, Meta(description="in the pit lane")] = 8.0
    reverse: Annotated[Kmh, Meta(description="backwards")] = 4.0
    boost: Annotated[Kmh, Meta(description="added by a boost, fastest class only")] = 5.0


class RampTable(Table, frozen=True, kw_only=True):
    """m/s², dry: how steeply a limiter falls and rises."""

    fall: Annotated[Mps2, Meta(description="down")] = 2.0
    rise: Annotated[Mps2, Meta(description="up")] = 1.0


class KartModelTable(Table, frozen=True, kw_only=True):
    """What a kart of the simulated world is like; no real kart is driven by it.

    Typical values without a source, but grips: rubber on concrete (OpenStax College Physics, friction table).
    """

    mass_kg: Annotated[Annotated[float, Meta(ge=50, le=1000)], Meta(description="with its driver")] = (
        TYPICAL.mass_kg
    )
    power_kw: Annotated[
        Annotated[float, Meta(ge=0.5, le=50)], Meta(description="of the motor, at the wheels")
    ] = TYPICAL.power_kw
    thrust_n: Annotated[
        Annotated[float, Meta(ge=50, le=5000)], Meta(description="most drive force, when slow")
    ] = TYPICAL.thrust_n
    drag_m2: Annotated[
        Annotated[float, Meta(ge=0, le=3)], Meta(description="drag coefficient times frontal area")
    ] = TYPICAL.drag_m2
    rolling: Annotated[
        Annotated[float, Meta(ge=0, le=0.2)], Meta(description="rolling resistance, of weight")
    ] = TYPICAL.rolling
    grip: Annotated[Grip, Meta(description="of tyres that roll, dry")] = TYPICAL.grip
    grip_sliding: Annotated[Grip, Meta(description="of tyres that slide, dry")] = TYPICAL.grip_sliding
    grip_wet: Annotated[Grip, Meta(description="of tyres that roll, wet")] = TYPICAL.grip_wet
    grip_sliding_wet: Annotated[Grip, Meta(description="of tyres that slide, wet")] = TYPICAL.grip_sliding_wet
    braked: Annotated[
        Annotated[float, Meta(gt=0, le=1)],
        Meta(description="share of the grip that the brakes can use"),
    ] = TYPICAL.braked
    length_m: Annotated[Annotated[float, Meta(ge=0.5, le=5)], Meta(description="bumper to bumper")] = (
        TYPICAL.length_m
    )
    width_m: Annotated[Annotated[float, Meta(ge=0.3, le=3)], Meta(description="over its side pods")] = (
        TYPICAL.width_m
    )
    radius_m: Annotated[Annotated[float, Meta(ge=1, le=20)], Meta(description="of its tightest turn")] = (
        TYPICAL.radius_m
    )


class TimingTable(Table, frozen=True, kw_only=True):
    """Times in ms."""

    armed: Annotated[Ms, Meta(description="armed expires")] = 60_000
    gap: Annotated[Ms, Meta(description="between two karts let out")] = 5_000
    move_over: Annotated[Ms, Meta(description="a move-over call expires")] = 20_000
    show: Annotated[Ms, Meta(description="a lamp shown in a test goes back")] = 10_000
    stood: Annotated[Ms, Meta(description="standing this long counts as standing")] = 3_000
    reaction: Annotated[
        Ms,
        Meta(
            description="a driver's, before slowing; expected 0.70 to 0.75 s, surprised 1.5 s "
            "(Green 2000, Transportation Human Factors 2(3))"
        ),
    ] = 1_000
    session: Annotated[Ms, Meta(description="planned length of a session")] = 480_000
    turnover: Annotated[Ms, Meta(description="planned time between two sessions")] = 300_000
    boost: Annotated[Ms, Meta(description="a boost lasts")] = 4_000
    lease_head: Annotated[Lease, Meta(description="wired nodes obey this long without a beat")] = 500
    lease_kart: Annotated[Lease, Meta(description="karts obey this long without a beat")] = 1_000
    lease_controller: Annotated[
        Lease, Meta(description="the controller goes on this long without its broker")
    ] = 500
    settle: Annotated[Ms, Meta(description="a node has this long to take a command")] = 500
    beat: Annotated[BeatMs, Meta(description="between two beats")] = 100
    monitor_trip: Annotated[
        Ms,
        Meta(
            description="a conflict this long trips the monitor; under 200 must not, 450 must "
            "(NEMA TS 2, malfunction management unit, from memory)"
        ),
    ] = 300
    follow: Annotated[
        Ms,
        Meta(
            description="the opening check finds a head slower than this between a call and its light; "
            "at most monitor_trip"
        ),
    ] = 200


class ChoicesTable(Table, frozen=True, kw_only=True):
    """What practice disagrees on."""

    start: Annotated[
        Literal["one-by-one", "grid"], Meta(description="out of the pit lane with gaps, or all at once")
    ] = "one-by-one"
    finish_slow: Annotated[
        Literal["all-at-once", "at-line"], Meta(description="when karts slow after the chequered signal")
    ] = "all-at-once"
    finish_aspect: Annotated[Literal["red-yellow", "yellow"], Meta(description="the chequered signal")] = (
        "red-yellow"
    )
    fail_aspect: Annotated[
        FailAspects,
        Meta(
            description="what a head left alone shows; by default yellow-flash on track and finish "
            "heads, red on start and pit exit, which allow nothing else"
        ),
    ] = {}
    flash_period_ms: Annotated[
        FlashMs, Meta(description="of a flashing lamp; 50 to 60 a minute (MUTCD 11th ed. §4G.01)")
    ] = 1_000
    flash_lit_ms: Annotated[
        FlashMs, Meta(description="lit in each period; 1/2 to 2/3 of it (MUTCD 11th ed. §4G.01)")
    ] = 500
    flash_because: Annotated[
        str, Meta(description="why the flash lies outside that, where it does", max_length=200)
    ] = ""
    mixed_classes: Annotated[
        bool, Meta(description="different classes may drive together, at the slower limit")
    ] = False
    boosts: Annotated[int, Meta(description="boosts a lap", ge=0, le=5)] = 1


class WetLimitsTable(Table, frozen=True, kw_only=True):
    """km/h in the wet; what is absent stays as dry, classes at 0.8 of dry but not below finish."""

    classes: Classes | None = None
    stop: Kmh | None = None
    creep: Kmh | None = None
    return_: Kmh | None = field(name="return", default=None)
    disqualified: Kmh | None = None
    caution: Kmh | None = None
    finish: Kmh | None = None
    pit: Kmh | None = None
    reverse: Kmh | None = None
    boost: Kmh | None = None


class WetRampTable(Table, frozen=True, kw_only=True):
    """m/s² in the wet; by default 0.7 of dry, as rubber's static friction (OpenStax College Physics)."""

    fall: Mps2 | None = None
    rise: Mps2 | None = None


class WetTable(Table, frozen=True, kw_only=True):
    """What changes in the wet."""

    limits_kmh: WetLimitsTable = field(default_factory=WetLimitsTable)
    ramp_mps2: WetRampTable = field(default_factory=WetRampTable)


class ConditionsTable(Table, frozen=True, kw_only=True):
    """Other conditions than dry."""

    wet: WetTable = field(default_factory=WetTable)


class ChecklistItemTable(Table, frozen=True, kw_only=True):
    """One thing to confirm before a group may start."""

    id: Annotated[Id, Meta(description="named in calls and in the record")]
    text: Annotated[Line, Meta(description="what is confirmed")]
    key: Annotated[Key, Meta(description="the key that confirms it in the window")]


DEFAULT_CHECKLIST = (
    ChecklistItemTable(id="briefing", text="Briefing held, signals explained", key="B"),
    ChecklistItemTable(id="helmets", text="Helmets on, hair and scarves tucked in", key="H"),
    ChecklistItemTable(id="belts", text="Seats set, belts closed", key="K"),
    ChecklistItemTable(id="track", text="Track walked and clear", key="T"),
)


class ChecklistTable(Table, frozen=True, kw_only=True):
    """What is confirmed for every group, in this order."""

    item: Annotated[
        tuple[ChecklistItemTable, ...],
        Meta(description="[[checklist.item]]; by default briefing, helmets, belts, track"),
    ] = DEFAULT_CHECKLIST


class OperatingTable(Table, frozen=True, kw_only=True):
    """Local times HH:MM."""

    opens: Annotated[HourMinute, Meta(description="first group")] = "10:00"
    closes: Annotated[HourMinute, Meta(description="last group")] = "22:00"
    day_ends: Annotated[HourMinute, Meta(description="an opening verdict and out-of-service marks end")] = (
        "04:00"
    )
    timezone: Annotated[str, Meta(description="a name of the time zone database")] = "UTC"


class File(Table, frozen=True, kw_only=True):
    """A venue file."""

    venue: VenueTable
    track: TrackTable
    pit: PitTable
    sector: Annotated[tuple[SectorTable, ...], Meta(min_length=1)]
    post: Annotated[tuple[PostTable, ...], Meta(min_length=1)]
    node: Annotated[tuple[NodeTable, ...], Meta(min_length=1)]
    head: Annotated[tuple[HeadTable, ...], Meta(min_length=1)]
    kart: Annotated[tuple[KartTable, ...], Meta(min_length=1)]
    person: tuple[PersonTable, ...] = ()
    input: tuple[InputTable, ...] = ()
    loop: tuple[LoopTable, ...] = ()
    barrier: tuple[BarrierTable, ...] = ()
    check_item: tuple[CheckItemTable, ...] = ()
    wiring: WiringTable = field(default_factory=WiringTable)
    limits_kmh: LimitsTable = field(default_factory=LimitsTable)
    ramp_mps2: RampTable = field(default_factory=RampTable)
    kart_model: KartModelTable = field(default_factory=KartModelTable)
    timing_ms: TimingTable = field(default_factory=TimingTable)
    choices: ChoicesTable = field(default_factory=ChoicesTable)
    conditions: ConditionsTable = field(default_factory=ConditionsTable)
    checklist: ChecklistTable = field(default_factory=ChecklistTable)
    operating: OperatingTable = field(default_factory=OperatingTable)
