"""Silence is a fault; it becomes a conflict when nothing is done for safety."""

from __future__ import annotations

import asyncio
import logging

import pytest

from tests.monitor.stage import Stage
from tests.virtual import virtual

LEASE_S = 0.5


@virtual
async def test_a_silent_controller_is_no_conflict_if_heads_fall_back(
    caplog: pytest.LogCaptureFixture,
) -> None:
    async with Stage() as stage:
        stage.racing()
        await asyncio.sleep(1)
        stage.beating = False
        await asyncio.sleep(LEASE_S)
        for head in stage.venue.heads:
            stage.show(head.id, "red" if head.role == "pit-exit" else "yellow-flash")
        await asyncio.sleep(10)
        assert stage.status == "ok"
        assert "fault: the controller is silent" in caplog.text


@virtual
async def test_a_head_that_stays_green_without_a_beat_trips() -> None:
    async with Stage() as stage:
        stage.racing()
        await asyncio.sleep(1)
        stage.beating = False
        await asyncio.sleep(LEASE_S)
        for head in stage.venue.heads:
            if head.id != "h4":
                stage.show(head.id, "red" if head.role == "pit-exit" else "yellow-flash")
        await asyncio.sleep(0.1)
        assert stage.status == "ok"
        await asyncio.sleep(0.45)
        assert (stage.trip["where"], stage.trip["due"], stage.trip["shown"]) == (
            "h4",
            "yellow-flash",
            "green",
        )


@virtual
async def test_a_head_that_hears_no_beat_trips_though_others_do() -> None:
    async with Stage() as stage:
        stage.racing()
        await asyncio.sleep(1)
        stage.deaf.add("h4")
        stage.say_state("racing", "caution:s4:E", "caution:s3:E")
        stage.all_show("yellow-flash", "green")
        stage.show("h4", "green")
        stage.command("h4", "yellow-flash")
        await asyncio.sleep(0.25)
        stage.show("h4", "yellow-flash")
        await asyncio.sleep(5)
        assert stage.status == "ok"


@virtual
async def test_a_silent_head_wants_yellow_for_itself_and_from_the_head_before() -> None:
    for held, status in (
        (["caution:s4:E", "caution:s3:E"], "ok"),
        (["caution:s4:E"], "tripped"),
        ([], "tripped"),
    ):
        async with Stage() as stage:
            stage.racing()
            stage.all_show("yellow-flash", "red")
            await asyncio.sleep(1)
            stage.silent.add("h4")
            await asyncio.sleep(LEASE_S + 0.1)
            stage.health["h4"] = "lost"
            stage.say_state("racing", *held)
            await asyncio.sleep(3)
            assert stage.status == status
            assert status == "ok" or (stage.trip["where"], stage.trip["what"]) == (
                "h4",
                "a lost head and nothing held for it",
            )


@virtual
async def test_a_controller_that_comes_back_is_given_a_lease_to_be_echoed() -> None:
    """A head reports when it is due: one with a long lease has not echoed the first beats for a while."""
    for echoes, status in ((True, "ok"), (False, "tripped")):
        async with Stage() as stage:
            stage.racing()
            await asyncio.sleep(1)
            stage.beating = False
            await asyncio.sleep(LEASE_S)
            for head in stage.venue.heads:
                stage.show(head.id, "red" if head.role == "pit-exit" else "yellow-flash")
            await asyncio.sleep(2)
            stage.deaf |= {head.id for head in stage.venue.heads}
            stage.beating = True
            await asyncio.sleep(LEASE_S - 0.05)
            assert stage.status == "ok"
            if echoes:
                stage.deaf.clear()
            await asyncio.sleep(0.5)
            assert stage.status == status


@virtual
async def test_a_head_never_heard_is_missed_after_the_power_up_hold() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.silent.add("h4")
        await stage.start()
        await asyncio.sleep(5.5)
        assert stage.status == "ok"
        await asyncio.sleep(1.2)
        assert stage.trip["where"] == "h4"


@virtual
async def test_a_lost_head_that_comes_back_may_show_its_fail_aspect_until_told() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.places["1"] = "s1"
        stage.health["h4"] = "lost"
        stage.say_state("closed", "caution:s4:E", "caution:s3:E")
        stage.all_show("red")
        await stage.start()
        stage.show("h4", "yellow-flash")
        await asyncio.sleep(5)
        assert stage.status == "ok"
        stage.show("h4", "green")
        await asyncio.sleep(0.31)
        assert stage.status == "tripped"


@virtual
async def test_faults_are_logged_once_and_their_end_too(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    async with Stage() as stage:
        stage.beating = False
        await asyncio.sleep(5)
        stage.beating = True
        await asyncio.sleep(1)
        assert caplog.text.count("fault: the controller is silent") == 1
        assert caplog.text.count("fault over: the controller is silent") == 1


@virtual
async def test_no_controller_at_all_is_no_conflict() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.beating = False
        stage.say("controller", "state", message=b"", retain=True)
        await stage.start()
        await asyncio.sleep(20)
        assert stage.status == "ok"


@virtual
async def test_the_power_up_hold_counts_from_the_controllers_first_beat() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.silent |= {head.id for head in stage.venue.heads}
        stage.beating = False
        await stage.start()
        await asyncio.sleep(20)
        stage.beating = True
        await asyncio.sleep(3)
        stage.silent &= {"h4"}
        await asyncio.sleep(2.5)
        assert stage.status == "ok"
        await asyncio.sleep(1.2)
        assert stage.trip["where"] == "h4"
