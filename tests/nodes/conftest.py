"""One small node with everything on it, without a venue's file around it."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from signals.mqtt.codec import encode
from signals.mqtt.contract import AspectCommand, Beat, CapsCommand, LimitCommand, Message, Trip
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.nodes.device import Device, Say
from signals.venue import model
from signals.words import Aspect, HeadRole, InputKind

LAMPS = {
    Aspect.RED: ("red",),
    Aspect.YELLOW_FLASH: ("yellow",),
    Aspect.RED_YELLOW: ("red", "yellow"),
    Aspect.NUMBER: ("number",),
    Aspect.BLUE_FLASH: ("blue",),
    Aspect.DARK: (),
    Aspect.GREEN: ("green",),
}
FAIL = {role: Aspect.RED if role in ("start", "pit-exit") else Aspect.YELLOW_FLASH for role in HeadRole}
LIMITS = model.Limits(
    classes={"adult": 45.0},
    stop=0.0,
    creep=5.0,
    return_=12.0,
    disqualified=12.0,
    caution=15.0,
    finish=15.0,
    pit=8.0,
    reverse=4.0,
    boost=5.0,
)
TIMING = dict.fromkeys(model.Timing.__struct_fields__, 1000)
CAPS = {"stop_kmh": 0.0, "fail_kmh": 15.0, "creep_kmh": 5.0}


def make_head(head: str, role: HeadRole, *, number: bool = False) -> model.Head:
    return model.Head(
        id=head,
        at_m=0.0,
        side="left",
        offset_m=1.0,
        height_m=2.0,
        facing_deg=0.0,
        protects=("s1",),
        role=role,
        aspects=LAMPS,
        number=number,
        before=head,
        node="n1",
        x_m=0.0,
        y_m=0.0,
    )


def make_venue(*, lease_ms: int = 500) -> model.Venue:
    """A venue with one node `n1`: track head h1, pit exit px1, start st1, kart 7, input gate."""
    ramp = model.Ramp(fall=2.0, rise=1.0)
    return model.Venue(
        id="bench",
        name="Bench",
        direction="clockwise",
        path=Path("bench.toml"),
        digest="",
        length_m=100.0,
        start_line_m=0.0,
        centreline_m=(),
        pit_entry_m=90.0,
        pit_exit_m=10.0,
        pit_centreline_m=(),
        sectors=(),
        posts=(),
        persons=(),
        nodes=(
            model.Node(
                id="n1",
                kind="heads",
                simulated=True,
                heads=("h1", "px1", "st1"),
                karts=(7,),
                inputs=("gate",),
                lease_ms=lease_ms,
            ),
            model.Node(
                id="box",
                kind="call-box",
                simulated=True,
                heads=(),
                karts=(),
                inputs=("b1", "b2"),
                lease_ms=500,
            ),
            model.Node(
                id="pair",
                kind="heads",
                simulated=True,
                heads=("h1",),
                karts=(7,),
                inputs=(),
                lease_ms=lease_ms,
            ),
            model.Node(id="gw", kind="gateway", simulated=True, heads=(), karts=(), inputs=(), lease_ms=1000),
        ),
        inputs=(model.Input(id="gate", kind=InputKind.GATE, sector="pit", node="n1"),),
        loops=(),
        heads=(
            make_head("h1", HeadRole.TRACK, number=True),
            make_head("px1", HeadRole.PIT_EXIT),
            make_head("st1", HeadRole.START),
        ),
        barriers=(),
        karts=(model.Kart(number=7, class_="adult", node="n1"),),
        check_items=(),
        checklist=(),
        limits=LIMITS,
        limits_wet=LIMITS,
        ramp=ramp,
        ramp_wet=ramp,
        timing=model.Timing(**TIMING),
        choices=model.Choices(
            start="one-by-one",
            finish_slow="all-at-once",
            finish_aspect=Aspect.RED_YELLOW,
            fail_aspect=FAIL,
            flash_period_ms=1000,
            flash_lit_ms=600,
            mixed_classes=False,
            boosts=1,
        ),
        operating=model.Operating(opens="09:00", closes="22:00", day_ends="23:59", timezone="UTC"),
    )


class Bench:
    """A device on the bench: say what the controller says, move the clock, look at it."""

    def __init__(self, venue: model.Venue, node: str = "n1", sensors: frozenset[str] = frozenset()) -> None:
        words = (f"w{number:05}" for number in itertools.count())
        self.topics = Topics.of(venue.id, simulated=True)
        chosen = next(candidate for candidate in venue.nodes if candidate.id == node)
        self.device = Device(chosen, venue, draw=lambda: next(words), sensors=sensors)
        self.now_ms = 0.0
        self.said: list[tuple[float, Say]] = []
        self.seqs = itertools.count(1)

    @property
    def inc(self) -> str:
        return self.device.lease.inc

    def shows(self, head: str = "h1") -> Aspect:
        return self.organ(head).display.aspect

    @property
    def limit(self) -> float:
        return self.organ("7").taken_kmh

    def organ(self, name: str) -> Any:
        return next(organ for organ in self.device.organs if organ.id == name)

    def to(self, at_ms: float) -> None:
        """Let time pass until `at_ms`, waking the device exactly when it asked for it."""
        woken_ms = -1.0
        while (
            woken_ms < (due_ms := self.device.due_ms) <= at_ms
        ):  # a rule switched off may do nothing when due
            self.now_ms = woken_ms = due_ms
            self._keep(self.device.wake(due_ms))
        self.now_ms = at_ms

    def send(self, *levels: str, payload: bytes | Message, retained: bool = False) -> None:
        body = payload if isinstance(payload, bytes) else encode(payload)
        arrived = Arrived(self.topics.name(*levels), body, retained=retained)
        self._keep(self.device.hear(arrived, self.now_ms))

    def beat(
        self, boot: str = "aaaa", seq: int = 0, *, epoch: int = 1, stop: bool = False, **more: Any
    ) -> None:
        seq = seq or next(self.seqs)
        self.send(
            "beat",
            payload=Beat(boot=boot, seq=seq, epoch=epoch, stop=stop, test=more.pop("test", False), at=0),
            **more,
        )

    def aspect(self, aspect: Aspect, head: str = "h1", boot: str = "aaaa", **more: Any) -> None:
        wanted = {
            "seq": next(self.seqs),
            "epoch": 1,
            "inc": self.inc,
            "flash": None,
            "number": None,
            "lamps": None,
        }
        self.send(
            "head", head, "aspect", payload=AspectCommand(boot=boot, aspect=aspect, **{**wanted, **more})
        )

    def limit_to(self, limit_kmh: float, boot: str = "aaaa", **more: Any) -> None:
        wanted = {"seq": next(self.seqs), "epoch": 1, "inc": self.inc, "boosts": 0, "because": "class"}
        self.send(
            "kart", "7", "limit", payload=LimitCommand(boot=boot, limit_kmh=limit_kmh, **{**wanted, **more})
        )

    def caps(self, boot: str = "aaaa", **more: Any) -> None:
        wanted = {"seq": next(self.seqs), "inc": self.inc, "fall_mps2": 2.0, "rise_mps2": 1.0}
        wanted |= {"reverse_kmh": 4.0, "boost_kmh": 5.0, **CAPS}
        self.send("kart", "7", "caps", payload=CapsCommand(boot=boot, **{**wanted, **more}))

    def trip(self, *, tripped: bool = True) -> None:
        self.send(
            "monitor",
            "trip",
            payload=Trip(tripped=tripped, what="", where="h1", due="red", shown="green", at=0),
        )

    def last(self, *levels: str) -> Any:
        """The last message the device said on a topic."""
        return next(say.message for _, say in reversed(self.said) if say.levels == levels)

    def _keep(self, said: list[Say]) -> None:
        self.said += [(self.now_ms, say) for say in said]


@pytest.fixture(scope="session")
def venue() -> model.Venue:
    return make_venue()


@pytest.fixture(scope="session")
def make_bench(venue: model.Venue) -> Callable[..., Bench]:
    return lambda **more: Bench(venue, **more)


@pytest.fixture
def bench(venue: model.Venue) -> Bench:
    return Bench(venue)
