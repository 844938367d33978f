"""What was asked and accepted must stand: the controller is disbelieved about its own session."""

from __future__ import annotations

import asyncio

import pytest

from tests.monitor.stage import Stage, hold
from tests.virtual import virtual

WINDOW_S = 0.3
ORDERS = pytest.mark.parametrize("answer_first", [False, True], ids=["state-first", "answer-first"])


@virtual
async def test_an_accepted_stop_must_be_held() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.answered("p1", "stop")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.status == "tripped"


@virtual
async def test_an_accepted_stop_must_be_in_the_beat() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.stop_in_beat = False
        stage.say_state("racing", "stop:p1")
        stage.answered("p1", "stop")
        stage.all_show("red")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["where"] == "beat"


@virtual
async def test_an_accepted_caution_must_be_held_and_shown() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.answered("p1", "caution", where="s2")
        await asyncio.sleep(WINDOW_S - 0.01)
        assert stage.status == "ok"
        await asyncio.sleep(0.02)
        assert (stage.trip["where"], stage.trip["due"]) == ("s2", "caution")


@virtual
async def test_a_refused_call_changes_nothing() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.answered("p1", "caution", where="s2", accepted=False)
        await asyncio.sleep(2)
        assert stage.status == "ok"


@ORDERS
@virtual
async def test_a_hold_goes_only_by_an_accepted_lift_that_names_it(answer_first: bool) -> None:
    for named, status in (("caution:s3:p1", "ok"), ("caution:s3:p2", "tripped")):
        async with Stage() as stage:
            stage.racing()
            stage.all_show("yellow-flash")
            stage.say_state("racing", "caution:s3:p1")
            stage.answered("p1", "caution", where="s3")
            await asyncio.sleep(1)
            steps = [lambda: stage.answered("p1", "lift", hold=named), lambda: stage.say_state("racing")]  # noqa: B023
            for step in steps if answer_first else reversed(steps):
                step()
                await asyncio.sleep(0.1)
            await asyncio.sleep(1)
            assert stage.status == status, named


@virtual
async def test_several_calls_made_on_one_state_all_count() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("yellow-flash")
        stage.say_state("racing", "caution:s3:p1")
        seen = {"boot": stage.boot, "seq": 9}
        stage.answered("p1", "lift", hold="caution:s2:p1", accepted=False, **seen)
        stage.answered("p1", "lift", hold="caution:s3:p1", **seen)
        stage.say_state("racing")
        await asyncio.sleep(1)
        assert stage.status == "ok"


@virtual
async def test_a_hold_that_nobody_asked_for_stands_as_well() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("yellow-flash")
        stage.say_state("racing", "caution:s3:E")
        await asyncio.sleep(1)
        stage.say_state("racing")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert (stage.trip["where"], stage.trip["shown"]) == ("s3", "gone")


@virtual
async def test_a_hand_over_moves_a_hold() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("red")
        stage.say_state("racing", "stop:p1")
        await asyncio.sleep(1)
        stage.answered("p2", "hand-over", hold="stop:p1")
        stage.say_state("racing", "stop:p2")
        await asyncio.sleep(1)
        assert stage.status == "ok"


@ORDERS
@virtual
async def test_the_last_stop_leaves_recovery(answer_first: bool) -> None:
    for after, status in (("recovery", "ok"), ("", "tripped")):
        async with Stage() as stage:
            stage.racing()
            stage.all_show("red")
            stage.say_state("racing", "stop:p1")
            stage.answered("p1", "stop")
            await asyncio.sleep(1)
            steps = [
                lambda: stage.answered("p1", "lift", hold="stop:p1"),
                lambda: stage.say_state("racing", *filter(None, [after])),  # noqa: B023
            ]
            for step in steps if answer_first else reversed(steps):
                step()
            await asyncio.sleep(WINDOW_S + 0.01)
            assert stage.status == status
            assert status == "ok" or stage.trip["due"] == "recovery"


@ORDERS
@virtual
async def test_recovery_ends_only_by_an_accepted_clear(answer_first: bool) -> None:
    for word, status in (("clear", "ok"), ("caution", "tripped")):
        async with Stage() as stage:
            await stage.stop()
            stage.say_state("racing", "recovery")
            stage.all_show("red")
            await stage.start()
            steps = [lambda: stage.answered("desk", word, where="s1"), lambda: stage.say_state("racing")]  # noqa: B023
            for step in steps if answer_first else reversed(steps):
                step()
            await asyncio.sleep(1)
            assert stage.status == status


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("armed", "racing", "start"),
        ("closed", "staging", "stage"),
        ("staging", "armed", "arm"),
        ("racing", "finishing", "finish"),
        ("finishing", "closed", "close"),
        ("closed", "test", "lend"),
    ],
)
@ORDERS
@virtual
async def test_a_phase_comes_only_by_its_accepted_word(
    old: str, new: str, word: str, answer_first: bool
) -> None:
    for accepted in (True, False):
        async with Stage() as stage:
            await stage.stop()
            stage.say_state(old)
            stage.all_show("red")
            await stage.start()
            steps = [lambda: stage.answered("desk", word, accepted=accepted), lambda: stage.say_state(new)]  # noqa: B023
            for step in steps if answer_first else reversed(steps):
                step()
                await asyncio.sleep(0.05)
            await asyncio.sleep(1)
            assert (stage.status == "ok") is accepted


@pytest.mark.parametrize(
    ("old", "new"),
    [("staging", "racing"), ("finishing", "racing"), ("closed", "racing"), ("racing", "closed")],
)
@virtual
async def test_there_is_no_other_way(old: str, new: str) -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.say_state(old)
        stage.all_show("red")
        await stage.start()
        for word in ("start", "stage", "close"):
            stage.answered("desk", word)
        stage.say_state(new)
        await asyncio.sleep(1)
        assert (stage.trip["due"], stage.trip["shown"]) == (old, new)


@virtual
async def test_what_ends_for_safety_needs_no_word() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.say_state("armed")
        stage.all_show("red")
        await stage.start()
        stage.say_state("staging")
        await asyncio.sleep(1)
        assert stage.status == "ok"


@virtual
async def test_armed_under_a_hold_trips() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.say_state("armed", "caution:s2:p1")
        stage.all_show("red")
        await stage.start()
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["what"] == "armed while something is held"


@virtual
async def test_started_under_a_hold_trips() -> None:
    async with Stage() as stage:
        await stage.stop()
        stage.say_state("staging", "caution:s2:p1")
        stage.all_show("red")
        await stage.start()
        stage.answered("desk", "arm")
        stage.say_state("armed", "caution:s2:p1")
        stage.answered("desk", "start")
        stage.say_state("racing", "caution:s2:p1")
        stage.all_show("yellow-flash")
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["what"] == "started while something was held"


@virtual
async def test_a_caution_right_after_a_start_is_no_wrong_start() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.say_state("racing", "caution:s2:p1")
        stage.all_show("yellow-flash")
        await asyncio.sleep(3)
        assert stage.status == "ok"


@virtual
async def test_a_restart_loses_no_hold() -> None:
    for lost, status in ((False, "ok"), (True, "tripped")):
        async with Stage() as stage:
            stage.racing()
            stage.all_show("red")
            stage.say_state("racing", "caution:s3:p1", "caution:s4:p2")
            await asyncio.sleep(1)
            stage.boot = "boot2"
            kept = ["caution:s3:p1"] if lost else ["caution:s3:p1", "caution:s4:p2"]
            stage.say_state("racing", *kept)
            await asyncio.sleep(1)
            assert stage.status == status


@virtual
async def test_fire_makes_karts_stand() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("red")
        stage.say_state("racing", hold("stop:p1", "fire"))
        stage.limit(1, 0.0)
        await asyncio.sleep(1)
        assert stage.status == "ok"
        stage.limit(1, 1.0)
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["where"] == "kart 1"


@virtual
async def test_a_person_on_the_track_means_creeping_there_and_before() -> None:
    async with Stage() as stage:
        stage.racing()
        stage.all_show("yellow-flash")
        stage.places["1"] = "s2"
        stage.say_state("racing", hold("caution:s3:p1", "person-on-track"))
        stage.limit(1, 5.0)
        await asyncio.sleep(1)
        assert stage.status == "ok"
        stage.limit(1, 6.0)
        await asyncio.sleep(WINDOW_S + 0.01)
        assert stage.trip["due"] == "5 km/h"
