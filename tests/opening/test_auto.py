"""The cause-and-effect run on Harbour Loop in virtual time: with nothing wrong, and with a slow head."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from signals.mqtt.contract import Inject
from signals.opening.auto import Auto
from signals.opening.causes import Script, marks_of, scripts_of
from signals.opening.floor import floor_of
from signals.opening.script import write
from signals.opening.sheet import CauseFound
from signals.sequence.load import load as load_sequence
from signals.sequence.stage import Stage
from signals.venue import load
from signals.venue.model import Venue
from signals.wiring.played import Base, Played
from signals.words import Aspect, Verdict, Word
from tests.virtual import in_virtual_time

VENUE = load(Path(__file__).parents[2] / "configs" / "harbour-loop.toml")
SEVERAL = ("calls", "alarm-active", "gate-fault", "n1-silent", "n2-power", "h3-dark-green", "r1-dark-red")


def run(
    tmp_path: Path,
    *plants: Inject,
    only: Callable[[Script], bool] = lambda script: script.name in SEVERAL,
    verdict: Verdict | None = None,
    venue: Venue = VENUE,
    kept: bool = True,
) -> dict[str, CauseFound]:
    async def whole() -> dict[str, CauseFound]:
        async with Stage(venue) as stage:
            await asyncio.sleep(1)
            async with floor_of(venue, stage.link, post="desk", device="plant") as floor:
                for plant in plants:
                    node = next(head.node for head in venue.heads if head.id == plant.head)
                    done = await floor.ears.inject(node, plant)
                    assert done is not None
                    assert done.done, done.said
                if verdict is not None:
                    assert await floor.call(Word.VERDICT, verdict=verdict) == ()
            auto = Auto(
                venue,
                stage.link,
                post="desk",
                folder=tmp_path,
                processes=stage if kept else None,
                now_ms=stage.clock.now_ms,
                only=only,
            )
            found = await auto.run()
            assert isinstance(found, list), found
            return {each.id: each for each in found}

    return in_virtual_time(whole)


def event(name: str, head: str, for_ms: int | None = None) -> Inject:
    return Inject(id=str(uuid.uuid4()), event=name, head=head, for_ms=for_ms)


def short(found: dict[str, CauseFound]) -> dict[str, tuple[str, list[tuple[str, str, int | None]]]]:
    return {
        id_: (each.came, [(cell.head, cell.came, cell.ms) for cell in each.cells if not cell.met])
        for id_, each in found.items()
        if each.outcome != "passed"
    }


@pytest.mark.gate
@pytest.mark.parametrize("base", ["racing", "closed"])
def test_the_whole_matrix_holds_where_nothing_is_wrong(tmp_path: Path, base: Base) -> None:
    verdict = None if base == "racing" else Verdict.DO_NOT_OPEN
    found = run(tmp_path, only=lambda _: True, verdict=verdict)
    due = {cause.id: cause for script in scripts_of(VENUE, base) for cause in script.causes}
    assert short(found) == {}
    assert found.keys() == due.keys()
    for id_, cause in due.items():
        cells = {cell.head: (cell.expected, cell.within_ms) for cell in found[id_].cells}
        assert cells == {head: (cell.shows, cell.within_ms) for head, cell in cause.cells.items()}
    kinds = {each.kind for each in found.values()}
    assert kinds == {"call", "input", "communication", "lamp", "restart", "power"}


@pytest.mark.gate
def test_several_causes_of_each_kind_hold_and_tell_how_soon(tmp_path: Path) -> None:
    found = run(tmp_path)
    assert short(found) == {}
    stop = found["stop"]
    assert {(cell.expected, cell.came, cell.within_ms) for cell in stop.cells} == {("red", "red", 200)}
    assert len(stop.cells) == len(VENUE.heads)
    silent = {cell.head: cell for cell in found["n1/silent"].cells}
    assert not silent.keys() & {"h1", "h3", "h5"}  # what says nothing has no cell
    assert silent["r3"].came == "yellow-flash"
    assert VENUE.timing.lease_head < (silent["r3"].ms or 0) <= silent["r3"].within_ms
    assert [cell.came for cell in found["n2/power"].cells if cell.head == "h2"] == ["yellow-flash"]


def test_a_slow_head_is_found_in_every_call_it_follows(tmp_path: Path) -> None:
    """240 ms: later than it may be (200), sooner than the monitor trips (300) or it counts as lost (500)."""
    found = run(tmp_path, event("slow", "h3", 240), only=lambda script: script.name == "calls")
    slow = {cell.head: cell.ms for each in found.values() for cell in each.cells if not cell.met}
    assert slow == {"h3": 240}
    assert {id_ for id_, each in found.items() if each.outcome == "failed"} == {
        "start", "caution/s3", "caution/s4", "stop", "recovery", "clear", "finish", "close",
    }  # fmt: skip


@pytest.mark.gate
def test_a_head_that_shows_something_else_keeps_it_from_beginning(tmp_path: Path) -> None:
    """It shows red whatever it is told; the controller has missed it before the run begins."""

    async def whole() -> None:
        async with Stage(VENUE) as stage:
            await asyncio.sleep(1)
            auto = Auto(VENUE, stage.link, post="desk", folder=tmp_path, now_ms=stage.clock.now_ms)
            async with floor_of(VENUE, stage.link, post="desk") as floor:
                wrong = Inject(id="w", event="wrong-lamp", head="h3", aspect=Aspect.RED)
                assert (await floor.ears.inject("n1", wrong)) is not None
                assert await floor.until(lambda: bool(floor.state.holds), 5)
                assert await auto.run() == ("Red or yellow stands.",)

    in_virtual_time(whole)


@pytest.mark.gate
def test_before_a_verdict_nobody_races(tmp_path: Path) -> None:
    found = run(tmp_path, only=lambda script: script.name == "calls", verdict=Verdict.DO_NOT_OPEN)
    assert short(found) == {}
    assert not found.keys() & {"armed", "start", "finish"}
    assert not any(Aspect.GREEN in (cell.expected, cell.came) for f in found.values() for cell in f.cells)


@pytest.mark.gate
def test_without_whoever_keeps_the_processes_their_ends_are_not_applicable(tmp_path: Path) -> None:
    found = run(tmp_path, only=lambda script: script.name in ("monitor", "controller"), kept=False)
    assert {each.outcome for each in found.values()} == {"not applicable"}
    assert {each.came for each in found.values()} == {"nobody here keeps the processes"}


def test_it_does_not_begin_where_something_stands(tmp_path: Path) -> None:
    async def whole() -> None:
        async with Stage(VENUE) as stage:
            await asyncio.sleep(1)
            auto = Auto(VENUE, stage.link, post="desk", folder=tmp_path, now_ms=stage.clock.now_ms)
            async with floor_of(VENUE, stage.link, post="desk") as floor:
                assert await floor.call(Word.CAUTION, where="s3", kind="incident") == ()
                assert await auto.run() == ("Red or yellow stands.",)
                assert await floor.call(Word.LIFT, hold="caution:s3:desk", checked=True) == ()
                assert await floor.call(Word.LEND) == ()
                assert await auto.run() == ("The venue is not closed but test.",)

    in_virtual_time(whole)


@pytest.mark.gate
@pytest.mark.parametrize("base", ["racing", "closed"])
def test_every_script_is_a_sequence_file_that_loads_and_says_what_it_is_for(
    tmp_path: Path, base: Base
) -> None:
    for script in scripts_of(VENUE, base):
        written = write(script, VENUE)
        path = tmp_path / f"{script.name}.toml"
        path.write_text(written.text, encoding="utf-8")
        sequence = load_sequence(path, VENUE)
        assert len(sequence.steps) == len(written.places)
        for place, step in zip(written.places, sequence.steps, strict=True):
            assert step.table.head == place.head or place.head is None
            assert (step.form == "head") == (place.head is not None)


def test_cells_are_what_the_core_decides_and_not_typed_in() -> None:
    protects = tuple(
        msgspec.structs.replace(head, protects=("s3", "s4")) if head.id == "h3" else head
        for head in VENUE.heads
    )
    changed = msgspec.structs.replace(VENUE, heads=protects)
    calls = next(script for script in scripts_of(changed, "racing") if script.name == "calls")
    slipway = next(cause for cause in calls.causes if cause.id == "caution/s4")
    assert slipway.cells["h3"].shows == Aspect.YELLOW_FLASH
    assert slipway.cells["h2"].shows == Aspect.GREEN


def test_what_a_cause_depends_on_marks_it() -> None:
    before = marks_of(VENUE)
    timing = msgspec.structs.replace(VENUE.timing, follow=150)
    assert marks_of(msgspec.structs.replace(VENUE, timing=timing)).items().isdisjoint(before.items())
    items = msgspec.structs.replace(VENUE, check_items=())
    assert marks_of(items) == before


def test_real_equipment_is_not_asked_to_fail() -> None:
    nodes = tuple(msgspec.structs.replace(node, simulated=not node.heads) for node in VENUE.nodes)
    kinds = {
        cause.kind
        for script in scripts_of(msgspec.structs.replace(VENUE, nodes=nodes), "closed")
        for cause in script.causes
    }
    assert kinds == {"call", "input", "communication", "restart"}
    lamps = [s for s in scripts_of(msgspec.structs.replace(VENUE, nodes=nodes), "closed") if "dark" in s.name]
    assert lamps == []


def test_played_again_from_the_base_every_time() -> None:
    played = Played(VENUE, "closed")
    assert set(played.shown(played.after(Word.STOP)).values()) == {Aspect.RED}
    assert Aspect.RED not in {played.shown(played.begun)[head] for head in ("h1", "h2", "h3")}
