"""The journal as the page tells it."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from signals import say
from signals.journal import Draft, Journal, Kind, reader
from signals.panel.record import ENTRIES_MAX, Record, Shown
from tests.controller.made import harbour

AT_MS = 1_767_600_000_000
REFUSED = {
    "rule": "not-your-hold",
    "sentence": "Yellow in 3 Hairpin was placed by Post 1; it is not yours to lift.",
}
BODIES = (
    (Kind.BOOT, {"restart": True, "version": "0.1.0"}),
    (Kind.CALL, {"id": "a", "post": "p1", "by": "Tove", "call": "caution", "where": "s3"}),
    (
        Kind.CHANGE,
        {"what": "caution", "post": "p1", "placed": ["caution:s3:p1"], "ended": [], "happened": []},
    ),
    (Kind.ANSWER, {"id": "a", "post": "p1", "accepted": True, "refusals": []}),
    (Kind.FAULT, {"what": "head-lost", "fields": {"head": "h2", "reason": "silent"}}),
    (
        Kind.CHANGE,
        {
            "what": "head-lost",
            "post": "E",
            "placed": ["caution:s2:E"],
            "ended": [],
            "happened": [],
            "fields": {"head": "h2"},
        },
    ),
    (Kind.PLACE, {"what": "kart-at", "post": "E", "fields": {"kart": 7, "place": "s2"}}),
    (Kind.CALL, {"id": "b", "post": "p2", "call": "lift", "hold": "caution:s3:p1"}),
    (Kind.ANSWER, {"id": "b", "post": "p2", "accepted": False, "refusals": [REFUSED]}),
    (Kind.CALL, {"id": "c", "post": "desk", "call": "confirm", "item": "helmets"}),
    (Kind.CHECK, {"what": "signed", "by": "Mika", "verdict": "open"}),
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    journal = Journal(tmp_path / "journal.sqlite")
    journal.append_many(
        Draft(kind=kind, body=body, at=AT_MS + 1000 * seq, boot="b000", seq=seq)
        for seq, (kind, body) in enumerate(BODIES, start=1)
    )
    journal.close()
    return tmp_path / "journal.sqlite"


async def test_calls_with_their_answers_and_what_equipment_did(path: Path) -> None:
    leaf = await Record(harbour(), path).leaf(Shown.EVENTS, None)
    said = [(line.who, line.what, line.outcome, line.reasons) for line in leaf.lines]
    assert said == [
        ("Opening check", "signed, by Mika, verdict open", "", ()),
        ("Race desk", "“Helmets on, hair and scarves tucked in”", "not answered", ()),
        ("Post 2", "Lift yellow 3 Hairpin by Post 1", "refused", (REFUSED["sentence"],)),
        ("Equipment", "head lost, head h2; Yellow 2 Anchor by equipment stands", "", ()),
        ("Fault", "head lost, head h2, reason silent", "", ()),
        ("Post 1, Tove", "Yellow 3 Hairpin", "done", ()),
        ("Controller", "begins again, version 0.1.0", "", ()),
    ]
    assert (leaf.lines[-1].day, leaf.lines[-1].clock) == ("2026-01-05", "08:00:01")
    assert leaf.older is None


def test_a_post_without_a_name_of_its_own_is_told_by_its_id() -> None:
    named, *_ = harbour().posts
    assert (say.spoken(named), say.spoken(replace(named, name=named.id))) == ("Race desk", "post desk")


async def test_a_row_of_the_check_is_told_with_what_came_of_it(tmp_path: Path) -> None:
    found = {"row": "h1/lamp/red", "observed": "red", "expected": "red alone", "outcome": "passed"}
    other = {"row": "h1/lamp/green", "observed": "red", "expected": "green alone", "outcome": "failed"}
    with_rows = Journal(tmp_path / "journal.sqlite")
    for seq, each in enumerate((found, other), start=1):
        with_rows.append(Kind.CHECK, {"what": "row", "found": each}, at=AT_MS, boot="b000", seq=seq)
    with_rows.close()
    leaf = await Record(harbour(), tmp_path / "journal.sqlite").leaf(Shown.EVENTS, None)
    assert [line.what for line in leaf.lines] == [
        "row h1/lamp/green failed: red, expected green alone",
        "row h1/lamp/red passed: red",
    ]


async def test_calls_alone_or_everything(path: Path) -> None:
    record = Record(harbour(), path)
    assert {line.who.split()[0] for line in (await record.leaf(Shown.CALLS, None)).lines} == {"Post", "Race"}
    everything = (await record.leaf(Shown.ALL, None)).lines
    assert "kart at, kart 7, place s2" in {line.what for line in everything}


async def test_a_long_record_comes_a_leaf_at_a_time(path: Path) -> None:
    journal = Journal(path)
    many = ENTRIES_MAX + 50
    journal.append_many(
        Draft(kind=Kind.CALL, body={"id": str(n), "post": "p1", "call": "stop"}, at=AT_MS, boot="b", seq=n)
        for n in range(many)
    )
    journal.close()
    record = Record(harbour(), path)
    first = await record.leaf(Shown.EVENTS, None)
    assert len(first.lines) == ENTRIES_MAX
    second = await record.leaf(Shown.EVENTS, first.older)
    seen = [line.n for line in (*first.lines, *second.lines)]
    assert seen == sorted(set(seen), reverse=True)
    assert second.older is None


async def test_no_journal_here_is_said_and_not_hidden(tmp_path: Path) -> None:
    leaf = await Record(harbour(), tmp_path / "journal.sqlite").leaf(Shown.EVENTS, None)
    assert "no such file" in leaf.wrong


def test_newest_reads_from_the_end(path: Path) -> None:
    assert [entry.n for entry in reader.newest(path, 3)] == [11, 10, 9]
    assert [entry.n for entry in reader.newest(path, 2, before=9, kinds=(Kind.CALL,))] == [8, 2]
