"""The messages of the contract, as structs: what every topic of docs/contract.md carries.

JSON in UTF-8. The controller decodes strictly (an unknown field is refused and counted); nodes
decode leniently (`codec.decode_lenient`): one added field must not make an old head refuse red.
What a node reads fits a small client's buffer: there, a field that is null is left out.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType
from msgspec.structs import force_setattr

from signals.words import (
    Aspect,
    Because,
    Condition,
    HoldKind,
    InputState,
    Phase,
    Verdict,
    Word,
)

Id = Annotated[str, Meta(pattern="^[a-z0-9-]{1,16}$")]
Seq = Annotated[int, Meta(ge=1, le=2**31 - 1)]
Count = Annotated[int, Meta(ge=0, le=2**31 - 1)]
Boot = Annotated[str, Meta(pattern="^[a-z0-9]{4,16}$")]
Inc = Annotated[str, Meta(pattern="^[a-z0-9]{0,16}$")]
Kmh = Annotated[float, Meta(ge=0, le=200)]
KartNumber = Annotated[int, Meta(ge=1, le=999)]
Text = Annotated[str, Meta(max_length=200)]
Ms = Annotated[int, Meta(ge=0)]
Hz = Annotated[float, Meta(ge=0, le=50)]
Mps2 = Annotated[float, Meta(ge=0, le=20)]
HoldKey = Annotated[str, Meta(pattern="^(stop|caution|recovery)(:[A-Za-z0-9-]{1,16}){0,2}$")]

PAYLOAD_MAX = 8192
"""Bytes; a longer call, status or report is refused unread."""
SCREEN_MAX = 65_536
"""Bytes of what only screens and the monitor read: `state`, `group`, `world`."""
NODE_MESSAGE_MAX = 240
"""Bytes of topic and payload together, controller to node: common microcontroller clients hold 256."""
LAMPS_MAX = 3
"""Lamps one command can light in a test: as many names of 16 characters as fit such a message."""
TRIP_WHAT_MAX = 60
"""Characters of plain ASCII in a trip's `what`: nodes read trips, so they fit such a message too."""


def _down_to(value: float, step: float) -> float:
    """Round down to a multiple of `step` (below 1), so that a limit never grows by rounding."""
    per_one = round(1 / step)
    return math.floor(value * per_one + 1e-9) / per_one


class Message(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=False):
    """The base of all: frozen; unknown fields are refused by the strict decoder."""


class Beat(Message, frozen=True, kw_only=True):
    """`beat`: ten a second and at once on every change; `stop` is the fast path."""

    boot: Boot
    seq: Seq
    epoch: Count
    stop: bool
    test: bool
    at: int


class HoldView(Message, frozen=True, kw_only=True):
    """One standing hold. `where` is a sector for a caution, None for a stop; `post` is a post or "E"."""

    what: Literal["stop", "caution", "recovery"]
    where: str | None
    kind: HoldKind | None
    post: str | None
    reason: str
    since: int
    id: str
    partner: str | None = None


class KartView(Message, frozen=True, kw_only=True):
    """One kart in `state`. `place` is a sector, "unknown" or "aside"."""

    place: str
    call: Literal["none", "move-over", "disqualified"]
    slowed: Literal["none", "slow", "stop"]
    limit_kmh: Kmh
    because: Because
    link: bool
    let_out: bool
    button: bool


class SectorView(Message, frozen=True, kw_only=True):
    """One sector in `state`."""

    condition: Condition


class HeadView(Message, frozen=True, kw_only=True):
    """One head in `state`: what it was told and what it last said it shows (None: not heard)."""

    aspect: Aspect
    shown: Aspect | None
    health: Literal["ok", "lost", "out-of-service"]
    number: int | None = None


class State(Message, frozen=True, kw_only=True):
    """`state`: the whole picture, retained, for screens and the monitor; never for nodes."""

    boot: Boot
    seq: Seq
    epoch: Count
    at: int
    phase: Phase
    condition: Condition
    surface: Literal["dry", "wet"]
    monitor: Literal["ok", "lost", "tripped"]
    journal: Literal["ok", "failed"]
    ready: bool
    sectors: dict[str, Condition]
    holds: list[HoldView]
    karts: dict[str, KartView]
    heads: dict[str, HeadView]
    faults: list[str]


class Entry(Message, frozen=True, kw_only=True):
    """One member of a group. `class` is the driver's; the kart's own may be slower."""

    number: KartNumber
    driver: Annotated[str, Meta(min_length=1, max_length=40)]
    class_: str = msgspec.field(name="class")


class Confirmation(Message, frozen=True, kw_only=True):
    """Who confirmed a checklist item, and when (UTC ms)."""

    by: str
    at: int


class NextGroup(Message, frozen=True, kw_only=True):
    """The prepared group, beside the running one."""

    id: str
    karts: list[Entry]
    checklist: dict[str, Confirmation | None]


class Opening(Message, frozen=True, kw_only=True):
    """The opening check's validity."""

    verdict: Verdict | None
    restriction: str | None
    until: int | None
    simulated: bool


class Group(Message, frozen=True, kw_only=True):
    """`group`: names of persons stand only here and in `call`; never bridged."""

    boot: Boot
    seq: Seq
    id: str
    karts: list[Entry]
    checklist: dict[str, Confirmation | None]
    opening: Opening
    started_at: int | None
    planned_s: int
    next: NextGroup | None


class Flash(Message, frozen=True, kw_only=True):
    """A flash: lit for `lit_ms` of every `period_ms`."""

    period_ms: Annotated[int, Meta(ge=200, le=5000)]
    lit_ms: Annotated[int, Meta(ge=50, le=5000)]


class AspectCommand(Message, frozen=True, kw_only=True, omit_defaults=True):
    """`head/<id>/aspect`. `lamps` (at most three lit ones) is obeyed only while the beat says test.

    Flash, number and lamps are left out when None; lamps stand alone, without flash and number.
    """

    boot: Boot
    seq: Seq
    epoch: Count
    inc: Inc
    aspect: Aspect
    flash: Flash | None = None
    number: KartNumber | None = None
    lamps: Annotated[list[Id], Meta(max_length=LAMPS_MAX)] | None = None


class Shown(Message, frozen=True, kw_only=True):
    """`head/<id>/shown`: what the head really shows; `beat_seq` echoes the last beat heard.

    `flash_hz` is how often a second lamps that are to flash really do, as their sensors saw it; where
    several do, that of the slowest. 0: they stay lit or dark; null: not watched for long enough yet. It is
    left out while nothing is to flash, and by heads that do not measure it.
    """

    boot: Boot
    seq: Seq
    beat_seq: Count
    after_ms: Ms
    aspect: Aspect
    driven: list[str]
    proven: list[str] | None
    flash_hz: Hz | UnsetType | None = UNSET


class LimitCommand(Message, frozen=True, kw_only=True):
    """`kart/<n>/limit`; the limit is rounded down to 0.1 km/h."""

    boot: Boot
    seq: Seq
    epoch: Count
    inc: Inc
    limit_kmh: Kmh
    boosts: Annotated[int, Meta(ge=0, le=9)]
    because: Because

    def __post_init__(self) -> None:
        force_setattr(self, "limit_kmh", _down_to(self.limit_kmh, 0.1))


class CapsCommand(Message, frozen=True, kw_only=True):
    """`kart/<n>/caps`: the constants a limiter keeps; rounded down to 0.1 km/h and 0.01 m/s²."""

    boot: Boot
    seq: Seq
    inc: Inc
    fall_mps2: Mps2
    rise_mps2: Mps2
    stop_kmh: Kmh
    fail_kmh: Kmh
    creep_kmh: Kmh
    reverse_kmh: Kmh
    boost_kmh: Kmh

    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            if name.endswith(("_kmh", "_mps2")):
                step = 0.1 if name.endswith("_kmh") else 0.01
                force_setattr(self, name, _down_to(getattr(self, name), step))


class Taken(Message, frozen=True, kw_only=True):
    """`kart/<n>/taken`: the limit the kart obeys now."""

    boot: Boot
    seq: Seq
    beat_seq: Count
    limit_kmh: Kmh


class Where(Message, frozen=True, kw_only=True):
    """`kart/<n>/where`: from the kart or a gateway."""

    boot: Boot
    seq: Seq
    sector: Id
    at_m: float | None
    speed_kmh: Kmh | None
    in_pit: bool
    button: bool


class Passed(Message, frozen=True, kw_only=True):
    """`loop/<id>/passed`: a timing loop saw a kart."""

    boot: Boot
    seq: Seq
    kart: KartNumber


class NodeStatus(Message, frozen=True, kw_only=True):
    """`node/<id>/status`, and the node's will (`status` "gone")."""

    status: Literal["ready", "gone", "fault"]
    boot: Boot
    inc: Inc
    firmware: Text
    heads: list[str]
    karts: list[int]
    rejects: Count
    last_reject: Text | None


class InputReport(Message, frozen=True, kw_only=True):
    """`input/<id>/state`."""

    boot: Boot
    seq: Seq
    beat_seq: Count
    state: InputState


class Call(Message, frozen=True, kw_only=True):
    """`call/<post>`: what a person asks; the fields a word needs are in docs/rules.md.

    `boot` and `seq` name the `state` the sender saw: permissive words must carry them.
    A lift or hand-over names the hold by `hold`: "stop:<placer>" or "caution:<sector>:<placer>".
    """

    id: Annotated[str, Meta(min_length=1, max_length=36)]
    call: Word
    where: Id | UnsetType = UNSET
    kart: KartNumber | UnsetType = UNSET
    karts: list[KartNumber] | UnsetType = UNSET
    entries: list[Entry] | UnsetType = UNSET
    to: Id | KartNumber | UnsetType = UNSET
    item: Id | UnsetType = UNSET
    hold: HoldKey | UnsetType = UNSET
    kind: HoldKind | UnsetType = UNSET
    partner: Id | UnsetType = UNSET
    checked: bool | UnsetType = UNSET
    head: Id | UnsetType = UNSET
    aspect: Aspect | UnsetType = UNSET
    lamp: Id | UnsetType = UNSET
    limit_kmh: Kmh | UnsetType = UNSET
    verdict: Verdict | UnsetType = UNSET
    until: int | UnsetType = UNSET
    reason: Text | UnsetType = UNSET
    by: Text | UnsetType = UNSET
    boot: Boot | UnsetType = UNSET
    seq: Seq | UnsetType = UNSET


class Refused(Message, frozen=True, kw_only=True):
    """One reason of a refusal: the interlock's name and a sentence with what, where, who, since when."""

    rule: str
    sentence: str


class Answer(Message, frozen=True, kw_only=True):
    """`answer/<post>`."""

    id: str
    accepted: bool
    recorded: bool
    refusals: list[Refused]
    seq: Count


class MonitorStatus(Message, frozen=True, kw_only=True):
    """`monitor/status`, and the monitor's will (`status` "lost")."""

    status: Literal["ok", "lost", "tripped"]


class Trip(Message, frozen=True, kw_only=True):
    """`monitor/trip`, retained; heads obey it themselves. `tripped` false after a person's reset."""

    tripped: bool
    what: Text
    where: str
    due: str
    shown: str
    at: int


class MonitorReset(Message, frozen=True, kw_only=True):
    """`monitor/reset/<post>`: a person at the monitor."""

    reason: Annotated[str, Meta(min_length=1, max_length=200)]


class ControllerStatus(Message, frozen=True, kw_only=True):
    """`controller/status`, and the controller's will (`status` "gone")."""

    status: Literal["ready", "gone"]
    boot: Boot


class WorldKart(Message, frozen=True, kw_only=True):
    """One kart in `world`: metres along the centreline, metres left of it, km/h."""

    number: KartNumber
    x_m: float
    y_m: float
    heading_deg: float
    at_m: float
    speed_kmh: float
    in_pit: bool
    limit_kmh: float = 0.0
    """As its limiter took it."""
    throttle: float = 0.0
    brake: float = 0.0
    """Pedals as pressed, 0 to 1."""
    boost: bool = False


class WorldPerson(Message, frozen=True, kw_only=True):
    """Somebody on foot in `world`: a marshal, a driver out of the kart, a visitor in the pit lane."""

    who: Literal["marshal", "driver", "visitor"]
    x_m: float
    y_m: float
    at_m: float
    doing: Literal["walks", "pushes", "sweeps", "stands"]
    on_road: bool
    """Whether karts drive where this person is."""
    kart: KartNumber | None = None


class WorldFinding(Message, frozen=True, kw_only=True):
    """What the referee saw, in `world`: `id` counts from 1; `where` is a sector; `said` a sentence."""

    id: Count
    at_ms: int
    rule: str
    karts: list[KartNumber]
    where: str
    at_m: float | None
    said: str


class WorldView(Message, frozen=True, kw_only=True):
    """`world`: the simulator's truth, only under the simulated root; the controller never subscribes.

    `seen` are the referee's last findings: in every view while one is new, else once a second.
    """

    at_ms: int
    karts: list[WorldKart]
    incidents: list[dict[str, Any]]
    steps: int = 0
    late_steps: int = 0
    """Steps taken too late since the world began, or let go."""
    wet: bool = False
    digest: str = ""
    """SHA-256 of the scene, once a second: equal digests, equal worlds."""
    people: list[WorldPerson] = msgspec.field(default_factory=list)
    seen: list[WorldFinding] = msgspec.field(default_factory=list)


class Inject(Message, frozen=True, kw_only=True):
    """`inject/<addressee>`: an event asked of a simulated part ("world", a node's id)."""

    id: str
    event: str
    kart: KartNumber | None = None
    head: str | None = None
    where: str | None = None
    input: str | None = None
    aspect: Aspect | None = None
    lamp: str | None = None
    for_ms: Ms | None = None


class Injected(Message, frozen=True, kw_only=True):
    """`injected/<addressee>`: what came of it."""

    id: str
    done: bool
    said: str
