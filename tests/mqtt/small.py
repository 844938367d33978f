"""A small venue made by hand: two heads, two karts, two posts; what the bus looks at is all there."""

from __future__ import annotations

from pathlib import Path

from signals.venue import model as m
from signals.words import Aspect, HeadRole, InputKind

LIMITS = m.Limits(
    classes={"junior": 28, "adult": 45},
    stop=0,
    creep=5,
    return_=12,
    disqualified=12,
    caution=15,
    finish=15,
    pit=8,
    reverse=4,
    boost=5,
)


def _head(name: str, node: str, before: str) -> m.Head:
    return m.Head(
        id=name,
        at_m=0,
        side="left",
        offset_m=1,
        height_m=2,
        facing_deg=0,
        protects=("s1",),
        role=HeadRole.TRACK,
        aspects={Aspect.RED: ("red",)},
        number=False,
        before=before,
        node=node,
        x_m=0,
        y_m=0,
    )


def _node(name: str, kind: str, *, simulated: bool, **hangs_on_it: tuple[object, ...]) -> m.Node:
    own = {"heads": (), "karts": (), "inputs": (), **hangs_on_it}
    return m.Node(id=name, kind=kind, simulated=simulated, lease_ms=500, **own)  # type: ignore[arg-type]


def _post(name: str, *, supervisor: bool) -> m.Post:
    return m.Post(id=name, name=name, at_m=0, covers=("s1",), supervisor=supervisor, may=())


def small_venue(*, simulated: bool = True) -> m.Venue:
    return m.Venue(
        id="small",
        name="Small",
        direction="clockwise",
        path=Path("small.toml"),
        digest="0" * 64,
        length_m=100,
        start_line_m=0,
        centreline_m=((0, 0, 3, 3), (50, 0, 3, 3), (50, 25, 3, 3)),
        pit_entry_m=90,
        pit_exit_m=10,
        pit_centreline_m=((0, 5, 2, 2), (10, 5, 2, 2)),
        sectors=(m.Sector(id="s1", name="One", from_m=0, to_m=100, approach=()),),
        posts=(_post("desk", supervisor=True), _post("p1", supervisor=False)),
        persons=(),
        nodes=(
            _node("n1", "heads", simulated=simulated, heads=("h1",)),
            _node("n2", "heads", simulated=simulated, heads=("h2",)),
            _node("k1", "kart", simulated=simulated, karts=(1,)),
            _node("k2", "kart", simulated=simulated, karts=(2,)),
            _node("b1", "call-box", simulated=simulated, inputs=("alarm",)),
        ),
        inputs=(m.Input(id="alarm", kind=InputKind.ALARM, sector=None, node="b1"),),
        loops=(m.Loop(id="l1", at_m=0, sector="s1"),),
        heads=(_head("h1", "n1", "h2"), _head("h2", "n2", "h1")),
        barriers=(),
        karts=(m.Kart(number=1, class_="adult", node="k1"), m.Kart(number=2, class_="junior", node="k2")),
        check_items=(),
        checklist=(),
        limits=LIMITS,
        limits_wet=LIMITS,
        ramp=m.Ramp(fall=2, rise=1),
        ramp_wet=m.Ramp(fall=2, rise=1),
        timing=m.Timing(
            armed=60_000,
            gap=5_000,
            move_over=20_000,
            show=10_000,
            stood=3_000,
            reaction=1_000,
            session=540_000,
            turnover=300_000,
            boost=4_000,
            lease_head=500,
            lease_kart=1_000,
            lease_controller=1_000,
            settle=200,
            beat=100,
            monitor_trip=300,
        ),
        choices=m.Choices(
            start="one-by-one",
            finish_slow="all-at-once",
            finish_aspect=Aspect.RED_YELLOW,
            fail_aspect={HeadRole.TRACK: Aspect.YELLOW_FLASH},
            flash_period_ms=1000,
            flash_lit_ms=500,
            mixed_classes=False,
            boosts=1,
        ),
        operating=m.Operating(opens="10:00", closes="22:00", day_ends="23:00", timezone="UTC"),
    )
