"""The small parts: layout, calls as events, the queue, the day, beats, words held equal."""

from __future__ import annotations

import ast
import asyncio
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest
from msgspec.structs import replace

from signals.clock import Clock
from signals.controller import calls, messages
from signals.controller.beats import REMEMBERED_S, Beats
from signals.controller.calls import PERMISSIVE, WAITING_MAX, CallQueue, event_of
from signals.controller.day import day_end_after
from signals.controller.intake import READS
from signals.controller.layout import layout_of, sector_at
from signals.controller.log import KINDS_MAX, Complaints
from signals.controller.record import FAULTS
from signals.controller.service import Controller
from signals.core.state import Member
from signals.core.table import EQUIPMENT_WORDS
from signals.errors import Unusable
from signals.journal import Journal, Kind
from signals.mqtt import contract
from signals.mqtt.access import access_list
from signals.mqtt.contract import Call, Entry
from signals.mqtt.topics import Topics
from signals.words import HoldKind, Word
from tests.controller.conftest import core
from tests.controller.made import harbour
from tests.controller.town import UTC_MS
from tests.controller.wire import Wire
from tests.virtual import virtual

SOURCES = Path(calls.__file__).parent


def test_the_layout_names_what_the_venue_has() -> None:
    layout = layout_of(harbour(), UTC_MS)
    assert layout.sectors[-1] == "pit"
    assert layout.after_pit == "s1"  # the pit exit at 35 m lies in s1, 372 to 40 m, which wraps
    assert layout.limits_kmh["dry"]["adult"] == harbour().limits.classes["adult"]
    assert layout.limits_kmh["wet"]["junior"] == harbour().limits_wet.classes["junior"]
    assert layout.limits_kmh["dry"]["zero"] == 0
    assert set(layout.before) == set(layout.heads)
    assert layout.supervisors == {"desk"}


@pytest.mark.parametrize(
    ("at_m", "sector"), [(0.0, "s1"), (39.9, "s1"), (40.0, "s2"), (371.9, "s6"), (372.0, "s1")]
)
def test_a_point_of_the_centreline_lies_in_one_sector(at_m: float, sector: str) -> None:
    assert sector_at(harbour(), at_m) == sector


def test_the_clock_times_of_sentences_follow_the_venues_zone() -> None:
    operating = replace(harbour().operating, timezone="Europe/Helsinki")
    assert layout_of(replace(harbour(), operating=operating), UTC_MS).utc_offset_min == 120


def test_a_call_becomes_an_event_of_the_topics_post() -> None:
    entry = Entry(number=7, driver="Ada", class_="adult")
    call = Call(id="c1", call=Word.PREPARE, entries=[entry], by="somebody else", boot="boot", seq=4)
    event = event_of("p1", call)
    assert (event.word, event.post, event.id, event.seen) == ("prepare", "p1", "c1", ("boot", 4))
    assert dict(event.fields) == {"entries": (Member(7, "Ada", "adult"),), "by": "somebody else"}


def test_what_a_call_leaves_out_is_left_out() -> None:
    event = event_of("p1", Call(id="c1", call=Word.STOP, kind=HoldKind.FIRE))
    assert (dict(event.fields), event.seen) == ({"kind": "fire"}, None)


def test_lists_become_tuples() -> None:
    assert event_of("p1", Call(id="c1", call=Word.PREPARE, karts=[1, 2])).fields["karts"] == (1, 2)


def test_what_only_restricts_is_not_written_first() -> None:
    assert Word.LIFT in PERMISSIVE
    assert not PERMISSIVE & {Word.STOP, Word.CAUTION, Word.FINISH, Word.DISARM, Word.STOP_ONE, Word.WET}


@virtual
async def test_posts_take_turns_and_a_full_queue_takes_no_more() -> None:
    queue = CallQueue(("p1", "p2"))
    told = [queue.put("p1", Call(id=f"{n}", call=Word.DRY)) for n in range(WAITING_MAX + 1)]
    assert told == [True] * WAITING_MAX + [False]
    assert queue.put("p2", Call(id="other", call=Word.DRY))
    order = [(await queue.take())[1].id for _ in range(4)]
    assert order == ["0", "other", "1", "2"]


@virtual
async def test_an_empty_queue_waits() -> None:
    queue = CallQueue(("p1",))
    taking = asyncio.create_task(queue.take())
    await asyncio.sleep(1)
    assert not taking.done()
    queue.put("p1", Call(id="late", call=Word.DRY))
    assert (await taking)[0] == "p1"


def utc(*parts: int) -> int:
    return round(datetime(*parts, tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("zone", "now", "end"),
    [
        ("UTC", utc(2026, 1, 5, 8), utc(2026, 1, 6, 4)),
        ("UTC", utc(2026, 1, 5, 3, 59), utc(2026, 1, 5, 4)),
        ("UTC", utc(2026, 1, 5, 4), utc(2026, 1, 6, 4)),
        ("Europe/Berlin", utc(2026, 1, 5, 8), utc(2026, 1, 6, 3)),
        ("Europe/Berlin", utc(2026, 3, 28, 12), utc(2026, 3, 29, 2)),  # the night the clocks go forward
    ],
)
def test_the_operating_day_ends_at_its_local_time(zone: str, now: int, end: int) -> None:
    assert day_end_after(replace(harbour().operating, day_ends="04:00", timezone=zone), now) == end


def test_a_beat_is_remembered_for_as_long_as_an_echo_may_matter() -> None:
    beats = Beats("boot")
    first = beats.make(3, 100.0, 1, stop=False, test=False)
    assert (first.seq, first.epoch, first.stop) == (1, 3, False)
    assert beats.sent_at(1) == 100.0
    assert beats.sent_at(2) is None
    beats.make(3, 100.1 + REMEMBERED_S, 2, stop=False, test=False)
    assert beats.sent_at(1) is None


def test_complaints_of_endless_kinds_fill_neither_memory_nor_log(caplog: pytest.LogCaptureFixture) -> None:
    complaints = Complaints()
    for number in range(3 * KINDS_MAX):
        complaints.take("call/p1", f"unknown field x{number}")
    assert len(complaints.counts) == KINDS_MAX + 1
    assert len(caplog.records) == KINDS_MAX + 1
    assert sum(complaints.counts.values()) == 3 * KINDS_MAX


def test_every_event_the_shell_names_is_one_the_core_knows() -> None:
    named = set()
    for source in SOURCES.glob("*.py"):
        for node in ast.walk(ast.parse(source.read_text())):
            named |= _named(node)
    assert len(named) > 15
    assert named <= set(EQUIPMENT_WORDS)


def _named(node: ast.AST) -> set[str]:
    """Words given to Event(…) and, in the kart's tracker, yielded or reported by name."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args:
        first = {"Event": 0, "_once": 1}.get(node.func.id)
        given = node.args[first] if first is not None and len(node.args) > first else None
        return {leaf.value for leaf in ast.walk(given) if _is_text(leaf)} if given else set()
    if isinstance(node, ast.Yield) and isinstance(node.value, ast.Constant):
        return {str(node.value.value)}
    return set()


def _is_text(leaf: ast.AST) -> bool:
    return isinstance(leaf, ast.Constant) and isinstance(leaf.value, str) and leaf.value != "input-"


def test_faults_are_written_as_faults() -> None:
    assert {"head-lost", "kart-lost", "monitor-tripped", "broker-lost", "restart"} <= FAULTS
    assert not FAULTS & {"head-back", "kart-at", "monitor-reset", "stop"}


@pytest.mark.parametrize(
    ("struct", "field", "sort"),
    [
        (contract.State, "monitor", "monitor_health"),
        (contract.State, "journal", "journal"),
        (contract.State, "surface", "surface"),
        (contract.KartView, "call", "kart_call"),
        (contract.KartView, "slowed", "slowed"),
    ],
)
def test_the_cores_words_are_the_contracts(struct: Any, field: str, sort: str) -> None:
    literal = get_type_hints(struct)[field]
    assert get_origin(literal) is Literal
    words = {word.replace("_", "-") for word in core().ground.schema.sorts[sort].members}
    assert set(get_args(literal)) == words


def test_a_beginning_state_is_a_valid_message() -> None:
    state = core().begin("boot")
    message = messages.state_message(state, core().picture(state), dict.fromkeys(core().layout.heads))
    assert contract.msgspec.json.decode(contract.msgspec.json.encode(message), type=contract.State) == message


def test_the_access_list_lets_the_controller_read_what_it_reads() -> None:
    venue = harbour()
    access, topics = access_list(venue), Topics.of(venue.id, simulated=True)
    for levels in (
        ("call", "p1"),
        ("head", "h1", "shown"),
        ("kart", "1", "taken"),
        ("kart", "1", "where"),
        ("loop", "l1", "passed"),
        ("node", "n1", "status"),
        ("input", "alarm", "state"),
        ("monitor", "status"),
        ("monitor", "trip"),
        ("beat",),
        ("controller", "status"),
    ):
        assert access.may_read("controller", topics.name(*levels)), levels
    assert len(READS) == 11


@virtual
async def test_a_journal_of_another_venue_is_refused_before_anything_is_said(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    state = core().dump(core().begin("boot")) | {"facts": {"stop": {"p99": "incident"}}}
    journal.append(Kind.CHANGE, {"state": state}, at=1, boot="boot", seq=1)
    part = Controller(harbour(), Wire, journal=journal, clock=Clock(lambda: UTC_MS))
    with pytest.raises(Unusable, match=r"journal\.sqlite: entry 1 .* p99 .* another data folder"):
        await part.run(lambda: None)
    journal.close()
