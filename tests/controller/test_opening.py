"""When an opening verdict ends by itself: its time, the clock, the venue file, and never by a simulation."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec
import pytest

from signals.clock import JUMP_MS, Clock
from signals.controller.opening import OpeningWatch
from signals.controller.restart import Beginning
from signals.core.state import Beside, Event, State
from signals.journal import Kind
from signals.venue.model import Venue
from tests.controller.conftest import core
from tests.controller.made import harbour
from tests.controller.town import UTC_MS, Town
from tests.virtual import virtual

HOUR_MS = 3_600_000


def state_with(verdict: str, *, until: int = 0, simulated: bool = False) -> State:
    return replace(core().begin("b001"), beside=Beside(opening=(verdict, None, until, simulated)))


def real() -> Venue:
    """The venue with every node real."""
    nodes = tuple(msgspec.structs.replace(node, simulated=False) for node in harbour().nodes)
    return msgspec.structs.replace(harbour(), nodes=nodes)


class Moved(Clock):
    """A clock whose machine's clock was moved by so much."""

    def __init__(self, by_ms: int) -> None:
        self._by_ms = by_ms

    def now_ms(self) -> int:
        return UTC_MS

    def moved_ms(self) -> int:
        return self._by_ms


def swept(state: State, *, by_ms: int = 0, real_time: bool = True) -> list[Event]:
    return list(OpeningWatch(real(), Moved(by_ms), real_time=real_time).sweep(state))


def begun(state: State, venue: Venue, *, digest: str | None = None, since_ms: int = UTC_MS) -> list[Any]:
    watch = OpeningWatch(venue, Moved(0), real_time=True)
    beginning = Beginning(state, since_ms, digest or venue.digest)
    return [event.fields for event in watch.begin(state, beginning, UTC_MS + HOUR_MS)]


def test_a_verdict_ends_at_the_time_it_names() -> None:
    assert swept(state_with("open", until=UTC_MS + 1)) == []
    (event,) = swept(state_with("open", until=UTC_MS))
    assert event.fields == {"verdict": "do-not-open", "reason": "void: its time is over"}
    assert swept(state_with("open")) == []  # until the day ends


@pytest.mark.parametrize("by_ms", [JUMP_MS + 1, -JUMP_MS - 1])
def test_a_moved_clock_ends_it(by_ms: int) -> None:
    (event,) = swept(state_with("open-restricted", until=UTC_MS + HOUR_MS), by_ms=by_ms)
    assert event.fields["reason"] == "void: the machine's clock was moved"
    assert swept(state_with("open"), by_ms=JUMP_MS) == []
    assert swept(state_with("open"), by_ms=by_ms, real_time=False) == []
    assert swept(state_with("do-not-open"), by_ms=by_ms) == []


def test_a_changed_venue_file_and_a_clock_moved_back_end_it_at_the_next_boot() -> None:
    venue, stands = real(), state_with("open", until=UTC_MS + HOUR_MS)
    assert begun(stands, venue) == []
    assert begun(stands, venue, digest="0" * 64)[0]["reason"] == "void: the venue file changed"
    late_ms = UTC_MS + JUMP_MS + 1
    assert begun(stands, venue, since_ms=late_ms)[0]["reason"] == "void: the machine's clock was moved back"


def test_a_simulated_check_never_opens_a_real_track() -> None:
    (fields,) = begun(state_with("open", until=UTC_MS + HOUR_MS, simulated=True), real())
    assert fields == {"verdict": "do-not-open", "reason": "void: a simulated check opens no real track"}


def test_a_simulated_venue_begins_opened_unless_a_person_said_otherwise() -> None:
    assert begun(core().begin("b001"), harbour()) == [
        {"verdict": "open", "until": UTC_MS + HOUR_MS, "simulated": True}
    ]
    assert begun(state_with("do-not-open"), harbour()) == []


@virtual
async def test_do_not_open_outlasts_a_restart(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        answer = await town.call("desk", "verdict", verdict="do-not-open")
        assert answer.accepted
        await town.kill("controller")
        await town.start("controller")
        last = town.journal.last(Kind.CHANGE)
        assert last is not None
        assert last.body["state"]["opening"][:2] == ["do-not-open", None]
