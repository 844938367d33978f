"""The topics as data: who says what to whom, how, and what it means.

One table. The access list, the strict decoder, the published documents and the tests read it; a
topic that is not here does not exist. `{names}` in an address are ids of the venue.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from types import MappingProxyType

from signals.mqtt import contract as c
from signals.words import Aspect, Because, Condition, HoldKind, InputState, Phase, Word


class Role(StrEnum):
    """What a client is; a role with ids (`node-n1`, `post-p2`) names the client too."""

    CONTROLLER = "controller"
    MONITOR = "monitor"
    NODE = "node"
    POST = "post"
    GATEWAY = "gateway"
    WORLD = "world"
    INSTRUCTOR = "instructor"
    READER = "reader"
    BOARD = "board"
    """The drivers' screen by the pit lane: it reads who drives what, and says nothing."""


STAFF = frozenset(Role) - {Role.NODE, Role.GATEWAY, Role.WORLD, Role.READER, Role.BOARD}
"""Who may read names of persons: the controller, the monitor, posts, the instructor."""
SCREENS = STAFF | {Role.READER, Role.BOARD}
"""Who may read the venue's signals without being told anything."""

PLACES: Mapping[str, str] = {
    "head": "a signal head's id",
    "kart": "a kart's number",
    "node": "a node's id",
    "input": "an input's id",
    "loop": "a timing loop's id",
    "post": "a post's id",
    "addressee": 'a node\'s id, or "world"',
}
"""What the names in addresses stand for."""

_LEVEL = {"kart": re.compile(r"[1-9][0-9]{0,2}")}
_ID = re.compile(r"[a-z0-9-]{1,16}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One topic, or a family of them: a row of the contract's table."""

    address: str
    message: type[c.Message]
    publisher: Role
    readers: frozenset[Role]
    qos: int
    retained: bool
    says: str
    example: c.Message
    or_publisher: Role | None = None
    """Who says it instead where the venue has such a client; never both on one topic."""
    simulated_only: bool = False
    levels: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "levels", tuple(self.address.split("/")))

    @property
    def places(self) -> tuple[str, ...]:
        """The names in the address, in order."""
        return tuple(level[1:-1] for level in self.levels if level.startswith("{"))

    @property
    def publishers(self) -> tuple[Role, ...]:
        """Who can say it; on any one topic exactly one does."""
        return (self.publisher, self.or_publisher) if self.or_publisher else (self.publisher,)

    def at(self, named: Mapping[str, str]) -> str:
        """Fill the names in; a missing one becomes `+`."""
        return "/".join(
            named.get(level[1:-1], "+") if level.startswith("{") else level for level in self.levels
        )

    def read(self, levels: tuple[str, ...]) -> dict[str, str] | None:
        """Give the names a topic fills in, or None if it is another channel's or ill-formed."""
        if len(levels) != len(self.levels):
            return None
        named: dict[str, str] = {}
        for due, level in zip(self.levels, levels, strict=True):
            if not due.startswith("{"):
                if due != level:
                    return None
            elif _LEVEL.get(due[1:-1], _ID).fullmatch(level):
                named[due[1:-1]] = level
            else:
                return None
        return named


_BOOT, _AT = "k3v9x2", 1_767_258_000_000
_NODES = frozenset({Role.NODE})
_CORE = frozenset({Role.CONTROLLER})

CHANNELS: tuple[Channel, ...] = (
    Channel(
        address="beat",
        message=c.Beat,
        publisher=Role.CONTROLLER,
        readers=SCREENS | _NODES,
        qos=0,
        retained=False,
        says="The controller's heartbeat, ten a second and at once on every change. Its stop flag is the "
        "fast path: a head obeys it from any boot. Nodes keep their lease by it.",
        example=c.Beat(boot=_BOOT, seq=4711, epoch=3, stop=False, test=False, at=_AT),
    ),
    Channel(
        address="state",
        message=c.State,
        publisher=Role.CONTROLLER,
        readers=SCREENS,
        qos=1,
        retained=True,
        says="The whole picture for screens and the monitor, after every change. Nodes never read it.",
        example=c.State(
            boot=_BOOT,
            seq=812,
            epoch=3,
            at=_AT,
            phase=Phase.RACING,
            condition=Condition.CAUTION,
            surface="dry",
            monitor="ok",
            journal="ok",
            ready=True,
            sectors={"s1": Condition.CLEAR, "s2": Condition.CAUTION, "pit": Condition.CLEAR},
            holds=[
                c.HoldView(
                    what="caution",
                    where="s2",
                    kind=HoldKind.INCIDENT,
                    post="p1",
                    reason="spin",
                    since=_AT,
                    id="7c1d",
                )
            ],
            karts={
                "7": c.KartView(
                    place="s2",
                    call="none",
                    slowed="none",
                    limit_kmh=15,
                    because=Because.CAUTION,
                    link=True,
                    let_out=True,
                    button=False,
                )
            },
            heads={"h2": c.HeadView(aspect=Aspect.YELLOW_FLASH, shown=Aspect.YELLOW_FLASH, health="ok")},
            faults=[],
        ),
    ),
    Channel(
        address="group",
        message=c.Group,
        publisher=Role.CONTROLLER,
        readers=STAFF | {Role.BOARD},
        qos=1,
        retained=True,
        says="Who drives what, the checklist, the opening verdict, the next group. Names of persons stand "
        "only here and in calls: never bridge it to another broker.",
        example=c.Group(
            boot=_BOOT,
            seq=812,
            id="g-14",
            karts=[c.Entry(number=7, driver="Ada", class_="adult")],
            checklist={"belts": c.Confirmation(by="desk", at=_AT), "helmets": None},
            opening=c.Opening(verdict=None, restriction=None, until=None, simulated=True),
            started_at=None,
            planned_s=540,
            next=None,
        ),
    ),
    Channel(
        address="head/{head}/aspect",
        message=c.AspectCommand,
        publisher=Role.CONTROLLER,
        readers=SCREENS | _NODES | {Role.WORLD},
        qos=1,
        retained=True,
        says="What a head is to show. Obeyed only with a fresh beat of the same boot and epoch and the "
        "head's own incarnation. Flash, number and lamps are left out when there are none; lamps are "
        "obeyed only while the beat says test. The world reads it for the number, which `shown` lacks.",
        example=c.AspectCommand(
            boot=_BOOT,
            seq=90,
            epoch=3,
            inc="i7f2",
            aspect=Aspect.YELLOW_FLASH,
            flash=c.Flash(period_ms=1000, lit_ms=500),
        ),
    ),
    Channel(
        address="head/{head}/shown",
        message=c.Shown,
        publisher=Role.NODE,
        readers=SCREENS | {Role.WORLD},
        qos=0,
        retained=False,
        says="What a head really shows, on every change and at least three times a lease. It echoes the "
        "last beat heard; an echo older than the lease means the head is lost. `flash_hz` is there while it "
        "is to flash and sensors measure it.",
        example=c.Shown(
            boot="n1b7",
            seq=55,
            beat_seq=4711,
            after_ms=12,
            aspect=Aspect.YELLOW_FLASH,
            driven=["yellow"],
            proven=["yellow"],
            flash_hz=0.99,
        ),
    ),
    Channel(
        address="kart/{kart}/limit",
        message=c.LimitCommand,
        publisher=Role.CONTROLLER,
        readers=SCREENS | _NODES | {Role.WORLD},
        qos=1,
        retained=True,
        says="How fast a kart may go, and the code of the cap that won. Addressed like an aspect.",
        example=c.LimitCommand(
            boot=_BOOT, seq=90, epoch=3, inc="i2c9", limit_kmh=15, boosts=0, because=Because.CAUTION
        ),
    ),
    Channel(
        address="kart/{kart}/caps",
        message=c.CapsCommand,
        publisher=Role.CONTROLLER,
        readers=SCREENS | _NODES | {Role.WORLD},
        qos=1,
        retained=True,
        says="The constants a kart's limiter keeps: its ramps, and what it falls to when nobody speaks.",
        example=c.CapsCommand(
            boot=_BOOT,
            seq=4,
            inc="i2c9",
            fall_mps2=2,
            rise_mps2=1,
            stop_kmh=0,
            fail_kmh=15,
            creep_kmh=5,
            reverse_kmh=4,
            boost_kmh=5,
        ),
    ),
    Channel(
        address="kart/{kart}/taken",
        message=c.Taken,
        publisher=Role.NODE,
        readers=SCREENS | {Role.WORLD},
        qos=0,
        retained=False,
        says="The limit a kart obeys now, on every change and at least three times a lease, with the last "
        "beat heard.",
        example=c.Taken(boot="n7a1", seq=31, beat_seq=4711, limit_kmh=15),
    ),
    Channel(
        address="kart/{kart}/where",
        message=c.Where,
        publisher=Role.NODE,
        or_publisher=Role.GATEWAY,
        readers=SCREENS,
        qos=0,
        retained=False,
        says="Where a kart is, from its own node or from a gateway that locates all of them; the latest "
        "counts.",
        example=c.Where(
            boot="g1w4", seq=900, sector="s2", at_m=131.5, speed_kmh=14.2, in_pit=False, button=False
        ),
    ),
    Channel(
        address="loop/{loop}/passed",
        message=c.Passed,
        publisher=Role.GATEWAY,
        readers=SCREENS,
        qos=1,
        retained=False,
        says="A timing loop saw a kart.",
        example=c.Passed(boot="g1w4", seq=12, kart=7),
    ),
    Channel(
        address="node/{node}/status",
        message=c.NodeStatus,
        publisher=Role.NODE,
        readers=SCREENS,
        qos=1,
        retained=True,
        says="A node is there, with a new incarnation after every boot and every lapse of its lease; it is "
        'the node\'s will too, with status "gone", for reporting only.',
        example=c.NodeStatus(
            status="ready",
            boot="n1b7",
            inc="i7f2",
            firmware="1.0",
            heads=["h1"],
            karts=[],
            rejects=0,
            last_reject=None,
        ),
    ),
    Channel(
        address="input/{input}/state",
        message=c.InputReport,
        publisher=Role.NODE,
        readers=SCREENS,
        qos=1,
        retained=True,
        says="A wired contact. A silent or faulty one is treated as a fault, never as normal.",
        example=c.InputReport(boot="b1k2", seq=5, beat_seq=4711, state=InputState.NORMAL),
    ),
    Channel(
        address="call/{post}",
        message=c.Call,
        publisher=Role.POST,
        readers=STAFF,
        qos=1,
        retained=False,
        says="What a person asks. The topic says who: `by` is a claim. Permissive words carry boot and seq "
        "of the state their sender saw. A retained call is never acted on.",
        example=c.Call(id="c-17", call=Word.CAUTION, where="s2", kind=HoldKind.INCIDENT, reason="spin"),
    ),
    Channel(
        address="answer/{post}",
        message=c.Answer,
        publisher=Role.CONTROLLER,
        readers=STAFF | {Role.READER},
        qos=1,
        retained=False,
        says="What came of a call: accepted, or every reason against it. Only this tells that a call was "
        "heard: a publish the access list denies looks successful.",
        example=c.Answer(
            id="c-18",
            accepted=False,
            recorded=True,
            refusals=[c.Refused(rule="caution-holds", sentence="Yellow stands in 2, from p1 since 14:02.")],
            seq=812,
        ),
    ),
    Channel(
        address="monitor/status",
        message=c.MonitorStatus,
        publisher=Role.MONITOR,
        readers=SCREENS,
        qos=1,
        retained=True,
        says='The monitor is there; its will too, with status "lost".',
        example=c.MonitorStatus(status="ok"),
    ),
    Channel(
        address="monitor/trip",
        message=c.Trip,
        publisher=Role.MONITOR,
        readers=SCREENS | _NODES,
        qos=1,
        retained=True,
        says="The monitor saw a conflict. Heads obey a trip themselves, without the controller. It fits a "
        "node's buffer: `what` is plain ASCII.",
        example=c.Trip(tripped=True, what="less restrictive", where="h2", due="red", shown="green", at=_AT),
    ),
    Channel(
        address="monitor/reset/{post}",
        message=c.MonitorReset,
        publisher=Role.POST,
        readers=STAFF,
        qos=1,
        retained=False,
        says="A person at the monitor ends its latch; the stop it caused stands.",
        example=c.MonitorReset(reason="head h2 replaced and seen red"),
    ),
    Channel(
        address="controller/status",
        message=c.ControllerStatus,
        publisher=Role.CONTROLLER,
        readers=SCREENS,
        qos=1,
        retained=True,
        says='The controller is there; its will too, with status "gone", for reporting only.',
        example=c.ControllerStatus(status="ready", boot=_BOOT),
    ),
    Channel(
        address="world",
        message=c.WorldView,
        publisher=Role.WORLD,
        readers=SCREENS - _CORE - {Role.MONITOR},
        qos=0,
        retained=False,
        simulated_only=True,
        says="The simulator's truth, for windows and instructors. The controller and the monitor cannot "
        "read it.",
        example=c.WorldView(
            at_ms=61_000,
            karts=[
                c.WorldKart(
                    number=7, x_m=12.5, y_m=3, heading_deg=90, at_m=131.5, speed_kmh=14.2, in_pit=False
                )
            ],
            incidents=[],
        ),
    ),
    Channel(
        address="inject/{addressee}",
        message=c.Inject,
        publisher=Role.INSTRUCTOR,
        readers=frozenset({Role.NODE, Role.WORLD, Role.INSTRUCTOR}),
        qos=1,
        retained=False,
        simulated_only=True,
        says="An event asked of a simulated part: a spin, a lost head, a pressed button.",
        example=c.Inject(id="e-3", event="head-lost", head="h2"),
    ),
    Channel(
        address="injected/{addressee}",
        message=c.Injected,
        publisher=Role.NODE,
        or_publisher=Role.WORLD,
        readers=frozenset({Role.INSTRUCTOR, Role.POST, Role.READER}),
        qos=1,
        retained=False,
        simulated_only=True,
        says="What came of it.",
        example=c.Injected(id="e-3", done=True, said="h2 is silent"),
    ),
)


@lru_cache(maxsize=4_096)
def find(levels: tuple[str, ...]) -> tuple[Channel, Mapping[str, str]] | None:
    """Give the channel of a topic (its levels below the root) and the names it fills in."""
    for channel in CHANNELS:
        named = channel.read(levels)
        if named is not None:
            return channel, MappingProxyType(named)
    return None
