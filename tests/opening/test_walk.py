"""The walk in virtual time: devices in memory with planted faults, a walker who sees only their lamps."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import msgspec
import pytest

from signals.errors import Unusable
from signals.journal import Kind as EntryKind
from signals.journal import reader
from signals.mqtt.contract import Inject
from signals.opening.book import Book, digest_of
from signals.opening.floor import floor_of
from signals.opening.rows import Kind
from signals.opening.sheet import Found, Question, Said, Standstill
from signals.opening.walk import Walk
from signals.words import Phase, Verdict, Word
from tests.opening.town import Morning, Walker, marks, morning, small, walked
from tests.virtual import in_virtual_time

replace = msgspec.structs.replace
DAY_MS = 86_400_000


def failed(found: list[Found]) -> dict[str, str]:
    return {each.row: each.observed for each in found if each.outcome == "failed"}


async def put(walk: Walk, walker: Walker) -> Found:
    """Answer the next question as the walker sees it."""
    step = await walk.ask()
    assert isinstance(step, Question)
    found = await walk.say(await walker.say(step))
    assert isinstance(found, Found)
    return found


@pytest.mark.gate
def test_everything_is_walked_in_order_and_passes_where_nothing_is_wrong(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker)
            assert [found for found in here.found if found.outcome != "passed"] == []
            rows = walk.sheet.rows
            assert [found.row for found in here.found] == [row.id for row in rows]
            proven = {found.row for found in here.found if found.method == "sensor"}
            lamps = {row.id for row in rows if row.kind in (Kind.LAMP, Kind.SHOWS)}
            assert proven == {row for row in lamps if row.startswith("h2/")}  # every lamp of h2 has a sensor
            assert not [q for q in here.walker.asked if q.place == "h2" and q.asks in ("lamps", "shows")]
            await walk.rest()
            assert here.floor.state.phase is Phase.CLOSED

    in_virtual_time(whole)


def test_no_question_tells_what_should_be_seen(tmp_path: Path) -> None:
    """Two rows of a head that differ only in what should be seen are asked in the same words."""

    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker, most=30)
            asked = [replace(q, number=0) for q in here.walker.asked if q.asks in ("lamps", "shows")]
            kinds = {(q.place, q.asks): q for q in asked}
            assert len(asked) > 2 * len(kinds)
            assert all(q == kinds[q.place, q.asks] for q in asked)

    in_virtual_time(whole)


def test_swapped_lamps_and_a_dead_lamp_are_found_repaired_and_the_day_opens(tmp_path: Path) -> None:
    """The whole morning: found, not opened, start refused; repaired, tested again, opened, start accepted."""

    async def whole() -> None:
        async with morning(tmp_path) as here:
            swapped, dead = here.town.devices["H4-RED"], here.town.devices["H3-YEL"]
            swapped.crossed = {"H4-RED": "H4-GRE", "H4-GRE": "H4-RED"}
            dead.dead.add("H3-YEL")
            walk = here.walk(causes=marks())
            assert await walk.begin() == ()
            await walked(walk, here.walker)
            assert failed(here.found) == {
                "h4/lamp/red": "green",
                "h4/lamp/green": "red",
                "h3/lamp/yellow": "nothing",
            }
            waiting = {"h4/shows/red-yellow", "h3/shows/red-yellow", "h3/shows/yellow-flash"}
            assert walk.waiting() == waiting | {"box/pressed", f"{walk.sheet.cut}/cut-off"}
            assert "would trip" in (await walk.try_causes(here.town.link))[0]
            assert walk.judgement().may == (Verdict.DO_NOT_OPEN,)
            assert any("3 rows failed" in s for s in await walk.sign(Verdict.OPEN, by="Ada Westerby"))
            assert isinstance(await walk.sign(Verdict.DO_NOT_OPEN, by="Ada Westerby"), Path)
            assert await start_refused(here) == {"opening-check-missing"}
            await here.floor.call(Word.CLOSE)

            swapped.crossed.clear()
            dead.dead.clear()
            assert await walk.begin() == ()
            assert set(walk.again()) == {"h4/lamp/red", "h4/lamp/green", "h3/lamp/yellow"}
            here.found.clear()
            await walked(walk, here.walker)
            assert failed(here.found) == {}
            assert await walk.try_causes(here.town.link) == ()
            assert walk.judgement().may == (Verdict.OPEN, Verdict.DO_NOT_OPEN), walk.judgement()
            tries = walk.sheet.tries["h3/lamp/yellow"]
            assert (tries.found.observed, tries.left.observed, tries.count) == ("nothing", "yellow", 2)
            record = await walk.sign(Verdict.OPEN, by="Ada Westerby", witness="Kim Harlow")
            assert isinstance(record, Path)
            assert await start_refused(here) == set()

    in_virtual_time(whole)


async def start_refused(here: Morning) -> set[str]:
    """Bring a group in and make it ready; the rules that refused, as the controller names them."""
    caller = here.floor.caller
    entries = [{"number": 1, "driver": "Ada", "class": "adult"}]
    calls = [
        {"call": Word.STAGE, "entries": entries},
        *({"call": Word.CONFIRM, "item": item.id} for item in small().checklist),
        {"call": Word.ARM},
    ]
    for call in calls:
        answer = await caller.ask(call, wait_s=5)
        assert answer is not None
        if call["call"] is not Word.ARM:
            assert answer.accepted, answer
    await caller.ask({"call": Word.DISARM})
    return {refusal.rule for refusal in answer.refusals}


def test_an_interrupted_walk_goes_on_where_it_was(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            first = await walked(walk, here.walker, most=7)
            assert isinstance(await walk.ask(), Question)
            await walk._end_task()  # the phone falls into the harbour, and nobody renews the light
            again = here.walk()
            assert await again.begin() == ()
            assert again.sheet.run == walk.sheet.run
            step = await again.ask()
            assert isinstance(step, Question)
            assert step.number == len(here.found) + 1
            rest = await walked(again, here.walker)
            asked = [found.row for found in (*first, *rest)]
            assert len(asked) == len(set(asked))
            assert set(again.sheet.tries) == {row.id for row in again.sheet.rows}

    in_virtual_time(whole)


def test_it_is_refused_while_karts_are_out(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path, alive=True) as here:
            out = Inject(id="e1", event="kart-enters", kart=1)
            assert (await here.floor.ears.inject("world", out)) is not None
            assert await here.floor.until(lambda: here.floor.state.karts["1"].place == "a", 60)
            sentences = await here.walk().begin()
            assert any("Kart 1 is not off the track" in sentence for sentence in sentences)
            assert here.book.sheet() is None

    in_virtual_time(whole)


def test_lamps_taken_back_meanwhile_count_for_nothing(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            step = await walk.ask()
            assert isinstance(step, Question)
            await here.floor.call(Word.STOP, kind="incident")
            assert await here.floor.until(lambda: here.floor.state.phase is Phase.CLOSED, 1)
            said = await walk.say(Said(lamps=("red",)))
            assert isinstance(said, Standstill)
            assert walk.sheet.tries == {}
            stands = await walk.ask()
            assert isinstance(stands, Standstill)
            assert "Red stands" in stands.sentences[0]
            await here.floor.call(Word.LIFT, hold="stop:desk", checked=True)
            await here.floor.call(Word.CLEAR, checked=True)
            assert isinstance(await walk.ask(), Question)

    in_virtual_time(whole)


@pytest.mark.gate
def test_a_light_stays_for_as_long_as_somebody_looks(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            step = await walk.ask()
            assert isinstance(step, Question)
            await asyncio.sleep(60)  # a show ends after 10 s by itself
            found = await walk.say(await here.walker.say(step))
            assert isinstance(found, Found)
            assert found.outcome == "passed"
            await walk.rest()
            await asyncio.sleep(1)
            assert set(here.town.lights(step.place).values()) <= {0, 1}
            assert here.floor.state.phase is Phase.CLOSED

    in_virtual_time(whole)


@pytest.mark.gate
def test_put_off_and_unseen_rows_are_open(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            assert isinstance(await walk.ask(), Question)
            await walk.later()
            assert walk.sheet.later == (walk.sheet.rows[0].id,)
            assert isinstance(await walk.ask(), Question)
            unseen = await walk.say(Said(unseen=True))
            assert isinstance(unseen, Found)
            assert unseen.outcome == "not seen"
            found = await walked(walk, here.walker)
            assert found[-1].row == walk.sheet.rows[0].id  # put off, so asked last
            assert walk.judgement().open == (unseen.row,)
            assert walk.again() == (unseen.row,)
            assert (await put(walk, here.walker)).outcome == "passed"
            assert walk.judgement().open == ()

    in_virtual_time(whole)


@pytest.mark.gate
def test_all_good_answers_every_item_of_a_kart(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            items = (
                *small().check_items,
                replace(small().check_items[1], id="wheels", text="Wheels tight"),
            )
            walk = here.walk(replace(small(), check_items=items))
            assert await walk.begin() == ()
            while isinstance(step := await walk.ask(), Question):
                if step.asks == "good" and step.place == "kart-2":
                    break
                came = await walk.say(await here.walker.say(step))
                while isinstance(came, Question):
                    came = await walk.say(await here.walker.say(came))
            assert [found.row for found in await walk.all_good()] == ["kart-2/brakes", "kart-2/wheels"]

    in_virtual_time(whole)


@pytest.mark.gate
def test_a_number_on_the_wrong_kart_a_fast_kart_and_a_lamp_of_a_neighbour_are_found(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            here.walker.painted = {1: 2, 2: 1}
            here.walker.over_kmh = 2.0
            here.town.devices["H2-RED"].crossed = {"H2-RED": "H2-YEL", "H2-YEL": "H2-RED"}
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker)
            wrong = failed(here.found)
            assert wrong["kart-1/answers"] == "kart 2 answered"
            assert wrong["kart-2/answers"] == "kart 1 answered"
            assert wrong["kart-1/limit/5"] == "7 km/h"
            assert "kart-1/limit/45" not in wrong  # a tenth is what displays are wrong by
            assert (wrong["h2/lamp/red"], wrong["h2/lamp/yellow"]) == ("yellow proven", "red proven")

    in_virtual_time(whole)


@pytest.mark.gate
def test_a_head_that_is_dark_and_one_that_says_nothing_fail_without_being_asked(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            here.town.devices["H2-RED"].dead.add("H2-RED")
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker)
            assert failed(here.found) == {"h2/lamp/red": "nothing proven"}

    in_virtual_time(whole)


@pytest.mark.gate
def test_a_box_that_answers_for_another_fails(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            while isinstance(step := await walk.ask(), Question) and step.asks != "press":
                await walk.say(await here.walker.say(step))
            assert isinstance(step, Question)
            found = await walk.say(Said())  # pressed, and nothing came
            assert isinstance(found, Found)
            assert (found.outcome, found.observed) == ("failed", "nothing")

    in_virtual_time(whole)


@pytest.mark.gate
def test_what_is_in_force_is_no_hold_and_stands_beside_every_ready(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            here.town.devices["H3-YEL"].dead.add("H3-YEL")
            here.walker.bad = {"Surface dry", "First-aid box complete"}
            here.walker.painted = {2: 1}
            walk = here.walk(causes=marks())
            assert await walk.begin() == ()
            await walked(walk, here.walker)
            refused = await walk.put_in_force("out-of-service", "h3", reason="lamp cracked")
            assert refused == ("Name the marshal who stands there with a flag, and a reason.",)
            why = "lamp cracked"
            assert await walk.put_in_force("out-of-service", "h3", reason=why, flag="Kim Harlow") == ()
            assert await walk.put_in_force("aside", "kart-2", reason="another number") == ()
            assert await walk.put_in_force("wet", "track", reason="damp in the shade") == ()
            await walked(walk, here.walker)
            assert await walk.try_causes(here.town.link) == ()
            assert walk.judgement().may == (Verdict.OPEN_RESTRICTED, Verdict.DO_NOT_OPEN)
            back = {"kart": 2, "where": "pit", "checked": True}
            assert await here.floor.call(Word.ACCOUNT, **back) == ()  # somebody fetched it meanwhile
            lost = await walk.sign(Verdict.OPEN_RESTRICTED, by="Ada Westerby")
            assert lost == ("Kart 2 is not set aside any more: put it in force again.",)
            assert await walk.put_in_force("aside", "kart-2", reason="another number") == ()
            assert isinstance(await walk.sign(Verdict.OPEN_RESTRICTED, by="Ada Westerby"), Path)
            said = (
                "Head h3 is out of service, flag: Kim Harlow; Wet limits for all karts; Kart 2 is set aside"
            )
            await here.floor.until(lambda: opening(here) == (Verdict.OPEN_RESTRICTED, said), 1)
            assert opening(here) == (Verdict.OPEN_RESTRICTED, said)
            state = here.floor.state
            assert state.holds == []
            assert (state.heads["h3"].health, state.karts["2"].place, state.surface) == (
                "out-of-service",
                "aside",
                "wet",
            )
            assert await start_refused(here) == set()
            assert await walk.take_back("aside", "kart-2") == ()
            assert here.floor.state.karts["2"].place == "pit"
            assert "until the end of the operating day" in (await walk.take_back("out-of-service", "h3"))[0]

    in_virtual_time(whole)


def opening(here: Morning) -> tuple[Verdict | None, str | None]:
    group = here.floor.ears.group
    assert group is not None
    return group.opening.verdict, group.opening.restriction


def test_nobody_signs_without_a_name(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            walk.take_up()
            assert await walk.sign(Verdict.DO_NOT_OPEN, by="  ") == ("Nobody signs: a verdict needs a name.",)

    in_virtual_time(whole)


def test_a_refused_verdict_files_nothing(tmp_path: Path) -> None:
    """The post `bank` may not call everything; here the journal fails, so nothing permissive is taken."""

    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            walk.take_up()
            await here.town.kill("journal")
            await asyncio.sleep(1)
            sentences = await walk.sign(Verdict.DO_NOT_OPEN, by="Ada Westerby")
            assert isinstance(sentences, tuple)
            assert "journal" in sentences[0]
            assert walk.sheet.signed is None
            assert list(here.book.records.glob("*")) == []

    in_virtual_time(whole)


@pytest.mark.gate
def test_a_changed_venue_file_asks_for_the_touched_rows_again(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker)
            limits = replace(small().limits, pit=7.0)
            changed = replace(small(), limits=limits, digest="c" * 64)
            again = here.walk(changed)
            assert await again.begin() == ()
            assert again.sheet.run != walk.sheet.run
            assert again.sheet.reopened == ("kart-1/limit/8", "kart-2/limit/8")
            found = await walked(again, here.walker)
            assert [each.row for each in found] == ["kart-1/limit/7", "kart-2/limit/7"]

    in_virtual_time(whole)


@pytest.mark.parametrize("why", ["another day", "a moved clock"])
def test_another_day_and_a_moved_clock_begin_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker, most=3)
            later_ms = DAY_MS if why == "another day" else 0
            if why == "a moved clock":
                boot, since = walk.sheet.clock
                here.book.keep(replace(walk.sheet, clock=(boot or "b", since - 120_000)))
                monkeypatch.setattr("signals.opening.beginning.stamp", lambda _: (boot or "b", since))
            again = here.walk(now_ms=lambda: here.town.clock.now_ms() + later_ms)
            assert await again.begin() == ()
            assert again.sheet.tries == {}
            assert again.sheet.run != walk.sheet.run

    in_virtual_time(whole)


def test_the_record_says_who_and_what_and_the_journal_names_it(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.walker, most=4)
            record = await walk.sign(Verdict.DO_NOT_OPEN, by="Ada Westerby", witness="Kim Harlow", note="n")
            assert isinstance(record, Path)
            signed = json.loads(record.read_bytes())
            assert signed["signed"]["verdict"] == "do-not-open"
            assert (signed["signed"]["by"], signed["signed"]["witness"]) == ("Ada Westerby", "Kim Harlow")
            assert signed["digest"] == small().digest
            assert signed["devices"]["h3"]["serial"] == "RB-0417"
            assert here.book.printed(walk.sheet.run).read_bytes().startswith(b"%PDF")
            assert here.town.journal is not None
            path = here.town.journal.path
            assert reader.verify(path) == []
            checks = list(reader.entries(path, kind=EntryKind.CHECK))
            assert [entry.body["what"] for entry in checks] == ["begun", *["row"] * 4, "signed"]
            assert checks[-1].body["record"] == digest_of(record)
            assert checks[1].body["found"]["row"] == walk.sheet.rows[0].id
            with pytest.raises(Unusable, match="never written over"):
                here.book.file(walk.sheet)

    in_virtual_time(whole)


def test_one_walk_at_a_time(tmp_path: Path) -> None:
    book = Book(tmp_path)
    with book.held(), pytest.raises(Unusable, match="under way elsewhere"), Book(tmp_path).held():
        pass
    with Book(tmp_path).held():
        pass


def test_a_post_walks_as_far_as_it_may_call(tmp_path: Path) -> None:
    async def whole() -> None:
        async with (
            morning(tmp_path) as here,
            floor_of(small(), here.town.link, post="bank", device="two") as floor,
        ):
            assert await floor.into(Phase.TEST) == ()  # this post may lend, and little else
            assert await floor.into(Phase.CLOSED) == ()
            (sentence,) = await floor.call(Word.WET)
            assert "may not call" in sentence

    in_virtual_time(whole)
