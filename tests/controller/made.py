"""Pictures and messages made by hand, for the shell's parts one by one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from msgspec.structs import replace as replace_struct

from signals.core.state import Event, KartPicture, Picture
from signals.mqtt.contract import InputReport, NodeStatus, Shown, Taken, Where
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Aspect, Because, Condition, InputState, Phase

HARBOUR = Path(__file__).parents[2] / "configs" / "harbour-loop.toml"


KARTS = (1, 2, 7, 9)
"""The karts of the venue that tests need; with fewer, a test takes less time."""


@cache
def harbour() -> Venue:
    whole = load(HARBOUR)
    karts = tuple(kart for kart in whole.karts if kart.number in KARTS)
    gone = {kart.node for kart in whole.karts} - {kart.node for kart in karts}
    nodes = tuple(node for node in whole.nodes if node.id not in gone)
    return replace_struct(whole, karts=karts, nodes=nodes)


def picture(
    *,
    phase: Phase = Phase.RACING,
    due: Aspect = Aspect.GREEN,
    lamp: str | None = None,
    heads: dict[str, str] | None = None,
    karts: dict[int, dict[str, Any]] | None = None,
    monitor: str = "ok",
) -> Picture:
    venue = harbour()
    plain = KartPicture(
        place="pit",
        call="none",
        slowed="none",
        limit_kmh=0.0,
        because=Because.NOT_LET_OUT,
        link=True,
        taken=True,
        moving=False,
        let_out=False,
        button=False,
        class_="adult",
    )
    changes = karts or {}
    return Picture(
        phase=phase,
        ready=True,
        condition=Condition.CLEAR,
        sectors={sector.id: Condition.CLEAR for sector in venue.sectors},
        holds=(),
        aspects={head.id: (due, None, lamp) for head in venue.heads},
        karts={kart.number: replace(plain, **changes.get(kart.number, {})) for kart in venue.karts},
        heads={head.id: "ok" for head in venue.heads} | (heads or {}),
        monitor=monitor,
        journal="ok",
        surface="dry",
        stopped=False,
        testing=False,
        track_empty=True,
        faults=(),
    )


def status(node: str, inc: str, says: Any = "ready") -> NodeStatus:
    here = next(candidate for candidate in harbour().nodes if candidate.id == node)
    return NodeStatus(
        status=says,
        boot="node0",
        inc=inc,
        firmware="x",
        heads=list(here.heads),
        karts=list(here.karts),
        rejects=0,
        last_reject=None,
    )


def shown(aspect: Aspect) -> Shown:
    return Shown(boot="node0", seq=1, beat_seq=1, after_ms=0, aspect=aspect, driven=[], proven=None)


def taken(limit_kmh: float) -> Taken:
    return Taken(boot="node0", seq=1, beat_seq=1, limit_kmh=limit_kmh)


def report(state: InputState) -> InputReport:
    return InputReport(boot="node0", seq=1, beat_seq=1, state=state)


def where(sector: str, *, at_m: float | None = None, speed: float | None = 20.0, **more: Any) -> Where:
    facts = {"in_pit": sector == "pit", "button": False, **more}
    return Where(boot="gate0", seq=1, sector=sector, at_m=at_m, speed_kmh=speed, **facts)


def words(events: Any) -> list[str]:
    return [_spelled(event) for event in events]


def _spelled(event: Event) -> str:
    named = (str(value) for key, value in event.fields.items() if key != "reason")
    return " ".join((event.word, *named))
