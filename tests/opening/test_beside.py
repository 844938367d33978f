"""The restriction stands beside every ready: on screens that say what comes next, and after the call."""

from __future__ import annotations

import msgspec
import pytest

from signals.cli.call import _Opening
from signals.hint import Moment, next_step
from signals.mqtt.codec import encode
from signals.mqtt.contract import Entry, Group, KartView, Opening, State
from signals.mqtt.link import Arrived
from signals.picture import Picture
from signals.words import Because, Condition, Phase, Verdict, Word
from tests.opening.town import small

RESTRICTION = "Kart 2 is set aside"


def group(verdict: Verdict, restriction: str | None = RESTRICTION) -> Group:
    return Group(
        boot="b001",
        seq=1,
        id="g",
        karts=[Entry(number=1, driver="Ada", class_="adult")],
        checklist={},
        opening=Opening(verdict=verdict, restriction=restriction, until=None, simulated=True),
        started_at=None,
        planned_s=480,
        next=None,
    )


def picture(phase: Phase, verdict: Verdict) -> Picture:
    kart = KartView(
        place="pit",
        call="none",
        slowed="none",
        limit_kmh=0,
        because=Because.SESSION_NOT_OPEN,
        link=True,
        let_out=False,
        button=False,
    )
    state = State(
        boot="b001",
        seq=1,
        epoch=0,
        at=0,
        phase=phase,
        condition=Condition.CLEAR,
        surface="dry",
        monitor="ok",
        journal="ok",
        ready=True,
        sectors={"a": Condition.CLEAR, "b": Condition.CLEAR, "pit": Condition.CLEAR},
        holds=[],
        karts={"1": kart, "2": kart},
        heads={},
        faults=[],
    )
    confirmed = {item.id: {"by": "desk", "at": 0} for item in small().checklist}
    made = msgspec.convert({**msgspec.to_builtins(group(verdict)), "checklist": confirmed}, Group)
    return Picture(small(), state, made)


@pytest.mark.parametrize("phase", [Phase.STAGING, Phase.ARMED])
def test_what_comes_next_names_it(phase: Phase) -> None:
    said = next_step(Moment(picture(phase, Verdict.OPEN_RESTRICTED))).plain
    assert said.endswith(f". Restricted: {RESTRICTION}")
    assert "Restricted" not in next_step(Moment(picture(phase, Verdict.OPEN))).plain


@pytest.mark.parametrize(
    ("word", "verdict", "beside"),
    [
        (Word.ARM, Verdict.OPEN_RESTRICTED, RESTRICTION),
        (Word.START, Verdict.OPEN_RESTRICTED, RESTRICTION),
        (Word.CAUTION, Verdict.OPEN_RESTRICTED, ""),
        (Word.ARM, Verdict.OPEN, ""),
        (Word.ARM, Verdict.DO_NOT_OPEN, ""),
    ],
)
def test_the_call_is_answered_with_it(word: Word, verdict: Verdict, beside: str) -> None:
    opening = _Opening(small())
    opening.take(Arrived(opening.topic, encode(group(verdict))))
    opening.take(Arrived("elsewhere", b"{}"))
    opening.take(Arrived(opening.topic, b"no group"))
    assert opening.beside(word) == beside
