"""The latch: only a person's reset ends it, and only when nothing is wrong any more."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from signals.errors import Unusable
from signals.monitor.latch import Latch
from signals.monitor.selfcheck import self_check
from signals.mqtt import contract
from signals.mqtt.codec import decode
from signals.mqtt.contract import NODE_MESSAGE_MAX
from tests.controller.made import harbour
from tests.monitor.stage import Stage
from tests.virtual import virtual


async def tripped(stage: Stage) -> None:
    """Make it trip by a green under yellow in s3, and answer it as the controller does."""
    stage.racing()
    stage.say_state("racing", "caution:s3:p1")
    stage.all_show("yellow-flash")
    stage.show("h3", "green")
    await asyncio.sleep(0.31)
    assert stage.status == "tripped"


@virtual
async def test_it_stays_when_the_conflict_is_over() -> None:
    async with Stage() as stage:
        await tripped(stage)
        first = stage.trip
        stage.stop_for_trip()
        await asyncio.sleep(10)
        assert (stage.status, stage.trip) == ("tripped", first)


@virtual
async def test_a_person_resets_it_and_says_why() -> None:
    async with Stage() as stage:
        await tripped(stage)
        stage.stop_for_trip()
        await asyncio.sleep(1)
        stage.reset()
        await asyncio.sleep(0.01)
        assert (stage.status, stage.trip["tripped"], stage.trip["what"]) == (
            "ok",
            False,
            "reset by Race desk: looked at it",
        )
        await asyncio.sleep(5)
        assert stage.status == "ok"


@virtual
async def test_no_reset_while_the_conflict_stands() -> None:
    async with Stage() as stage:
        await tripped(stage)
        stage.stop_for_trip()
        stage.show("h3", "green")
        await asyncio.sleep(0.01)
        stage.reset()
        await asyncio.sleep(0.01)
        assert (stage.status, stage.trip["tripped"]) == ("tripped", True)
        assert stage.trip["what"].startswith("reset refused: ")
        assert (stage.trip["where"], stage.trip["shown"]) == ("h3", "green")


@virtual
async def test_no_reset_before_a_stop_answers_the_trip() -> None:
    async with Stage() as stage:
        await tripped(stage)
        stage.show("h3", "yellow-flash")
        await asyncio.sleep(1)
        stage.reset()
        await asyncio.sleep(0.01)
        assert stage.trip["what"] == "reset refused: no stop stands for the trip"


@virtual
async def test_no_reset_without_a_reason_or_by_nobody() -> None:
    async with Stage() as stage:
        await tripped(stage)
        stage.stop_for_trip()
        await asyncio.sleep(1)
        for payload in (b'{"reason":""}', b'{"reason":"  "}', b"{}", b'{"reason":"x","by":"me"}'):
            stage.say("post-desk", "monitor", "reset", "desk", message=payload)
        await asyncio.sleep(0.01)
        assert (stage.status, stage.monitor.refused["reset"]) == ("tripped", 4)


@virtual
async def test_a_retained_reset_is_old_and_refused() -> None:
    async with Stage() as stage:
        await tripped(stage)
        stage.stop_for_trip()
        await stage.kill()
        stage.say("post-desk", "monitor", "reset", "desk", message=b'{"reason":"x"}', retain=True)
        await stage.start()
        await asyncio.sleep(1)
        assert (stage.status, stage.monitor.refused["reset"]) == ("tripped", 1)


@virtual
async def test_another_conflict_does_not_replace_the_first() -> None:
    async with Stage() as stage:
        await tripped(stage)
        first = stage.trip
        stage.stop_for_trip()
        stage.show("h5", "green")
        await asyncio.sleep(3)
        assert stage.trip == first


@pytest.mark.parametrize("how", ["stop", "kill"])
@virtual
async def test_a_restart_keeps_it(how: str) -> None:
    async with Stage() as stage:
        await tripped(stage)
        first = stage.trip
        stage.stop_for_trip()
        await getattr(stage, how)()
        assert stage.status == "lost"
        await stage.start()
        assert (stage.status, stage.trip) == ("tripped", first)
        stage.reset()
        await asyncio.sleep(0.01)
        assert stage.status == "ok"
        await stage.kill()
        await stage.start()
        assert stage.status == "ok"


@virtual
async def test_a_loss_of_power_everywhere_keeps_it(tmp_path: Path) -> None:
    async with Stage(tmp_path / "monitor-trip.json") as stage:
        await tripped(stage)
        first = stage.trip
        await stage.kill()
    async with Stage(tmp_path / "monitor-trip.json") as stage:  # another broker: nothing is retained
        assert (stage.status, stage.trip) == ("tripped", first)


@virtual
async def test_a_broker_that_lost_it_is_told_again() -> None:
    async with Stage() as stage:
        await tripped(stage)
        stage.broker.stop()
        assert stage.trip is None
        stage.broker.start()
        await asyncio.sleep(2)
        assert (stage.status, stage.trip["tripped"]) == ("tripped", True)


def test_a_latch_file_that_cannot_be_read_may_have_been_a_trip(tmp_path: Path) -> None:
    path = tmp_path / "monitor-trip.json"
    assert not Latch(path).tripped
    path.write_text('{"tripped": fal')
    assert Latch(path).tripped
    path.write_text('{"tripped": false}')
    assert Latch(path).tripped


@virtual
async def test_lost_is_its_will() -> None:
    async with Stage() as stage:
        stage.broker.drop("monitor")
        await asyncio.sleep(0)
        assert stage.status == "lost"
        await asyncio.sleep(1)
        assert stage.status == "ok"


@virtual
async def test_what_happened_while_it_was_away_is_not_held_against_anyone() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("red")
        stage.say_state("racing", "stop:p1")
        await asyncio.sleep(1)
        stage.broker.drop("monitor")
        stage.say_state("racing")  # lifted and cleared while nobody watched
        stage.all_show("green")
        await asyncio.sleep(5)
        assert stage.status == "ok"


@virtual
async def test_a_trip_fits_a_nodes_buffer_and_is_plain_ascii() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.answered("desk", "caution", where="s2")
        await asyncio.sleep(0.31)
        stage.reset("p2")
        await asyncio.sleep(0.01)
        topic = stage.topics.name("monitor", "trip")
        payload = stage.broker.retained[topic]
        assert decode(contract.Trip, payload).tripped
        assert len(topic) + len(payload) <= NODE_MESSAGE_MAX
        assert payload.isascii()


@pytest.mark.parametrize("trip_ms", [199, 450, 5000])
def test_a_window_outside_the_standard_fails_the_self_check(trip_ms: int) -> None:
    from msgspec.structs import replace  # noqa: PLC0415

    venue = harbour()
    self_check(venue)
    with pytest.raises(Unusable, match="monitor_trip"):
        self_check(replace(venue, timing=replace(venue.timing, monitor_trip=trip_ms)))
