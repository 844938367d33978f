"""What trips, what does not, and when to the millisecond. All in virtual time."""

from __future__ import annotations

import asyncio

import pytest

from tests.monitor.stage import Stage
from tests.virtual import virtual

WINDOW_S = 0.3


@virtual
async def test_nothing_is_wrong_with_a_session_by_the_book() -> None:
    async with Stage() as stage:
        assert stage.status == "ok"
        stage.racing()
        await asyncio.sleep(2)
        stage.say_state("racing", "caution:s3:p1")
        stage.answered("p1", "caution", where="s3")
        for head in ("h3", "r3"):
            stage.command(head, "yellow-flash")
            stage.show(head, "yellow-flash")
        await asyncio.sleep(2)
        stage.answered("p1", "lift", hold="caution:s3:p1", checked=True)
        stage.say_state("racing")
        stage.all_show("green")
        await asyncio.sleep(2)
        stage.say_state("racing", "stop:p2")
        stage.answered("p2", "stop")
        stage.all_show("red")
        await asyncio.sleep(2)
        stage.say_state("racing", "recovery")
        stage.answered("p2", "lift", hold="stop:p2")
        stage.all_show("yellow-flash", "red")
        await asyncio.sleep(2)
        stage.answered("desk", "clear", checked=True)
        stage.say_state("racing")
        stage.all_show("green")
        await asyncio.sleep(2)
        stage.answered("desk", "finish")
        stage.say_state("finishing")
        stage.all_show("red-yellow", "red")
        await asyncio.sleep(2)
        stage.places["1"] = "pit"
        stage.answered("desk", "close")
        stage.say_state("closed")
        stage.all_show("dark", "red")
        await asyncio.sleep(2)
        assert (stage.status, stage.trip, stage.monitor.refused.total()) == ("ok", None, 0)


@virtual
async def test_shown_less_than_due_trips_at_the_window_and_not_before() -> None:
    async with Stage() as stage:
        stage.racing()
        await asyncio.sleep(1)
        stage.say_state("racing", "caution:s3:p1")
        stage.answered("p1", "caution", where="s3")
        for head in ("h3", "r3"):
            stage.command(head, "yellow-flash")
        stage.show("h3", "yellow-flash")  # r3 stays green
        await asyncio.sleep(WINDOW_S - 0.001)
        assert stage.status == "ok"
        await asyncio.sleep(0.002)
        assert stage.status == "tripped"
        assert stage.trip == {
            "tripped": True,
            "what": "shows less",
            "where": "r3",
            "due": "yellow-flash",
            "shown": "green",
            "at": stage.trip["at"],
        }
        assert stage.trip["at"] == pytest.approx(1_900_000_000_000 + 1600, abs=100)


@virtual
async def test_a_conflict_that_comes_back_begins_anew() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "caution:s3:p1")
        stage.all_show("yellow-flash")
        for _ in range(10):
            stage.show("h3", "green")
            await asyncio.sleep(0.25)
            stage.show("h3", "yellow-flash")
            await asyncio.sleep(0.05)
        assert stage.status == "ok"


@virtual
async def test_a_command_alone_is_enough() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "caution:s3:p1")
        stage.all_show("yellow-flash")
        stage.command("h3", "green")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["what"], stage.trip["where"]) == ("commanded to show less", "h3")


@virtual
async def test_more_than_due_is_no_conflict() -> None:
    async with Stage() as stage:
        stage.racing()
        for aspect in ("dark", "blue-flash", "number", "red-yellow", "yellow-flash", "red"):
            stage.command("h1", aspect)
            stage.show("h1", aspect)
            await asyncio.sleep(3)
        assert stage.status == "ok"


@pytest.mark.parametrize(
    ("phase", "out", "holds", "due"),
    [
        ("racing", True, ["stop:p1"], "red"),
        ("racing", True, ["recovery"], "yellow-flash"),
        ("racing", True, ["caution:s1:E"], "yellow-flash"),
        ("closed", True, [], "red"),
        ("staging", True, [], "red"),
        ("closed", False, [], "dark"),
        ("staging", False, ["caution:s1:p1"], "yellow-flash"),
        ("finishing", True, [], "red-yellow"),
        ("finishing", True, ["caution:s1:p1"], "yellow-flash"),
    ],
)
@virtual
async def test_the_table_trips_for_one_step_less(phase: str, out: bool, holds: list[str], due: str) -> None:
    ranks = ["red", "yellow-flash", "red-yellow", "number", "blue-flash", "dark", "green"]
    for aspect, trips in ((due, False), (ranks[ranks.index(due) + 1], True)):
        async with Stage() as stage:
            await stage.stop()
            stage.places["1"] = "s1" if out else "pit"
            stage.say_state(phase, *holds)
            stage.all_show("red")
            await stage.start()
            stage.show("h1", aspect)
            await asyncio.sleep(1.0)
            assert (stage.status == "tripped") is trips, aspect
            assert not trips or (stage.trip["where"], stage.trip["due"]) == ("h1", due)


@virtual
async def test_an_unknown_kart_is_everywhere() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.places["2"] = "unknown"
        stage.say_state()
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["due"] == "yellow-flash"


@pytest.mark.parametrize(
    ("phase", "holds", "due"),
    [("staging", [], "red"), ("racing", ["recovery"], "red"), ("racing", ["caution:s1:p1"], "yellow-flash")],
)
@virtual
async def test_a_pit_exit_head_has_its_own_rows(phase: str, holds: list[str], due: str) -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.say_state(phase, *holds)
        stage.all_show("red")
        await stage.start()
        stage.show("px1", "green")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["where"], stage.trip["due"], stage.trip["shown"]) == ("px1", due, "green")


@virtual
async def test_lamps_are_believed_not_names() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "stop:p1")
        stage.all_show("red")
        stage.show("h2", "red", lamps=["green"])
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["where"], stage.trip["shown"]) == ("h2", "green")


@virtual
async def test_red_and_green_together_count_as_green() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "stop:p1")
        stage.all_show("red")
        stage.show("h2", "red", lamps=["red", "green"])
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["where"], stage.trip["shown"]) == ("h2", "green")


@virtual
async def test_a_flash_may_be_dark_for_its_period_only() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "caution:s3:p1")
        stage.all_show("yellow-flash")
        for _ in range(5):
            stage.show("h3", "yellow-flash", lamps=[])
            await asyncio.sleep(0.5)
            stage.show("h3", "yellow-flash")
            await asyncio.sleep(0.5)
        assert stage.status == "ok"
        stage.show("h3", "yellow-flash", lamps=[])
        await asyncio.sleep(1.0 + WINDOW_S + 0.2)
        assert (stage.trip["where"], stage.trip["shown"]) == ("h3", "dark")


@virtual
async def test_in_a_test_the_command_is_due() -> None:
    async with Stage() as stage:
        stage.answered("desk", "lend")
        stage.say_state("test")
        stage.command("h1", "green")
        stage.show("h1", "green")
        stage.command("h2", "red", lamps=["green"])
        stage.show("h2", "red", lamps=["green"])
        await asyncio.sleep(3)
        assert stage.status == "ok"
        stage.show("h1", "green")
        stage.command("h1", "red")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["where"], stage.trip["due"], stage.trip["shown"]) == ("h1", "red", "green")


@virtual
async def test_a_head_out_of_service_is_not_compared_if_that_was_accepted() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.health["h3"] = "out-of-service"
        stage.say_state("racing", "caution:s3:p1")
        stage.answered("desk", "out-of-service", head="h3")
        stage.all_show("yellow-flash")
        stage.show("h3", "green")
        await asyncio.sleep(3)
        assert stage.status == "ok"
        stage.health["r3"] = "out-of-service"  # nobody asked for that
        stage.say_state()
        stage.show("r3", "green")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["where"] == "r3"


@pytest.mark.parametrize(
    ("place", "facts", "holds", "least"),
    [
        ("s1", {}, ["stop:p1"], 0.0),
        ("s1", {}, ["recovery"], 12.0),
        ("s3", {}, ["caution:s3:p1"], 15.0),
        ("s2", {}, ["caution:s3:p1"], 15.0),
        ("s5", {}, ["caution:s3:p1"], 45.0),
        ("pit", {}, [], 8.0),
        ("pit", {"let_out": False}, [], 0.0),
        ("aside", {}, [], 0.0),
        ("s1", {"button": True}, [], 0.0),
        ("s1", {"slowed": "stop"}, [], 0.0),
        ("s1", {"slowed": "slow"}, [], 15.0),
        ("s1", {"call": "disqualified"}, [], 12.0),
        ("s1", {}, [], 45.0),
    ],
)
@virtual
async def test_limits(place: str, facts: dict[str, object], holds: list[str], least: float) -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("red")
        stage.places["1"] = place
        stage.kart_facts["1"] = facts
        stage.say_state("racing", *holds)
        stage.limit(1, least)
        await asyncio.sleep(1)
        assert stage.status == "ok"
        stage.limit(1, least + 0.5)
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["what"], stage.trip["where"], stage.trip["due"]) == (
            "allowed more",
            "kart 1",
            f"{least:g} km/h",
        )


@virtual
async def test_wet_is_slower() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.surface = "wet"
        stage.say_state()
        stage.limit(1, 45.0)
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["due"] == "36 km/h"


@virtual
async def test_a_kart_that_does_not_obey_has_its_ramp_and_no_longer() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "stop:p1")
        stage.all_show("red")
        loop = asyncio.get_running_loop()
        taken_s, ramp_s = loop.time(), 45 / 3.6 / stage.venue.ramp.fall
        tripped_at = asyncio.ensure_future(stage.tripped_at())
        while loop.time() < taken_s + WINDOW_S + ramp_s + 1:
            stage.take(1, 45.0)
            await asyncio.sleep(0.05)
        assert await tripped_at - taken_s == pytest.approx(WINDOW_S + ramp_s, abs=0.11)
        assert (stage.trip["what"], stage.trip["where"]) == ("obeys more", "kart 1")
