"""Real controller, nodes and monitor in virtual time: no trip by the book, one for each wrong rule."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from signals.core.forms import Move, Table
from signals.core.machine import Core
from signals.core.table import TABLE
from signals.monitor.service import Monitor
from signals.monitor.watch import NEVER_HEARD_S
from signals.mqtt import contract
from signals.mqtt.contract import Message
from signals.mqtt.link import Arrived
from signals.words import Aspect
from tests.controller.town import Town
from tests.virtual import virtual


class Watched(Town):
    """A town with the real monitor in place of a claim that there is one."""

    monitor: Monitor

    async def join(
        self,
        client: str,
        filters: tuple[tuple[str, int], ...] = (),
        on_message: Callable[[Arrived], None] = lambda _: None,
    ) -> None:
        if client != "monitor":
            await super().join(client, filters, on_message)
            return
        self.monitor = Monitor(self.venue, self.link, clock=self.clock)
        ready = asyncio.Event()
        self._tasks["monitor"] = asyncio.create_task(self.monitor.run(ready.set))
        await ready.wait()

    def say(self, client: str, *levels: str, message: Message | bytes, retain: bool = False) -> None:
        if client != "monitor":
            super().say(client, *levels, message=message, retain=retain)

    def reset(self, reason: str = "looked at it") -> None:
        self.say("post-desk", "monitor", "reset", "desk", message=contract.MonitorReset(reason=reason))

    async def inject(self, head: str, event: str, aspect: Aspect | None = None) -> None:
        node = next(head_.node for head_ in self.venue.heads if head_.id == head)
        if "instructor" not in self._links:
            await self.join("instructor")
        message = contract.Inject(id="i1", event=event, head=head, aspect=aspect)
        self.say("instructor", "inject", node, message=message)
        await asyncio.sleep(0.1)

    @property
    def why(self) -> str:
        trip = self.monitor._latch.trip
        return f"{trip.what} at {trip.where}: {trip.shown} for {trip.due}" if trip else ""


@virtual
async def test_a_session_by_the_book_never_trips(tmp_path: Path) -> None:
    async with Watched(tmp_path) as town:
        await town.race(1, 2)
        await town.ask("p1", "caution", where="s2")
        await town.ask("p2", "caution", where="s2")
        await town.drive(2, {1: "s1", 2: "s2"})
        await town.ask("p1", "lift", hold="caution:s2:p1", checked=True)
        await town.ask("p2", "lift", hold="caution:s2:p2", checked=True)
        await town.drive(1, {1: "s3", 2: "s4"})
        await town.ask("p2", "stop")
        await town.drive(2, {1: "s3", 2: "s4"}, speed=0.0)
        await town.ask("p2", "lift", hold="stop:p2", checked=True)
        await town.drive(2, {1: "s3", 2: "s4"}, speed=0.0)
        await town.ask("desk", "clear", checked=True)
        await town.drive(2, {1: "s5", 2: "s6"})
        await town.ask("desk", "finish")
        await town.drive(2, {1: "s6", 2: "pit"}, speed=10.0)
        await town.drive(4, {1: "pit", 2: "pit"}, speed=0.0)
        await town.ask("desk", "close")
        await asyncio.sleep(2)
        assert not town.monitor.tripped, town.why
        assert town.monitor.refused.total() == 0
        assert town.state.monitor == "ok"


@virtual
async def test_a_controller_that_dies_and_comes_back_does_not_trip(tmp_path: Path) -> None:
    async with Watched(tmp_path) as town:
        await town.race(1)
        await town.kill("controller")
        await asyncio.sleep(5)
        await town.start("controller")
        await town.drive(3, {1: "s2"}, speed=0.0)
        assert not town.monitor.tripped, town.why
        assert ("stop", None, "E") in town.holds()


@virtual
async def test_heads_that_never_come_up_are_yellow_before_the_monitor_misses_them(tmp_path: Path) -> None:
    town = Watched(tmp_path)
    town.here = frozenset(node.id for node in town.venue.nodes if node.id != "n2")
    async with town:
        await asyncio.sleep(NEVER_HEARD_S + 5)
        assert not town.monitor.tripped, town.why
        missing = {head.id: head.protects for head in town.venue.heads if head.node == "n2"}
        assert missing
        assert {town.state.heads[head].health for head in missing} == {"lost"}
        for sector in {sector for protects in missing.values() for sector in protects}:
            assert ("caution", sector, "E") in town.holds()


def without_show(row: str) -> Table:
    return replace(TABLE, shows=tuple(show for show in TABLE.shows if show.aspect != row))


def without_cap(*names: str) -> Table:
    return replace(TABLE, caps=tuple(cap for cap in TABLE.caps if cap.because not in names))


def rule(name: str, **wrong: Any) -> Table:
    return replace(TABLE, rules=tuple(replace(r, **wrong) if r.name == name else r for r in TABLE.rules))


def started_under_caution() -> Table:
    rules = [
        replace(r, needs=tuple(need for need in r.needs if need != "caution-holds"))
        if r.name in ("arm", "start")
        else r
        for r in TABLE.rules
    ]
    return replace(TABLE, rules=tuple(rules))


async def yellow(town: Watched) -> None:
    await town.race(1)
    await town.ask("p1", "caution", where="s1")


async def red_and_lifted(town: Watched) -> None:
    await town.race(1)
    await town.ask("desk", "stop")
    await town.drive(1, {1: "s1"}, speed=0.0)
    await town.ask("desk", "lift", hold="stop:desk", checked=True)


async def two_yellows_and_one_lifted(town: Watched) -> None:
    await town.race(1)
    await town.ask("p1", "caution", where="s1")
    await town.ask("desk", "caution", where="s1")
    await town.drive(1, {1: "s1"})
    await town.ask("p1", "lift", hold="caution:s1:p1", checked=True)


async def race_under_yellow(town: Watched) -> None:
    await town.ask("p1", "caution", where="s3")
    await town.race(1)


WRONG = {
    "green-under-caution": (without_show("yellow_flash"), yellow),
    "the-last-lift-clears": (
        rule(
            "lift-stop",
            moves=(Move("latch", ("stop",), "none", "all(stop[p] == none for p in holder if p != placer)"),),
        ),
        red_and_lifted,
    ),
    "started-under-caution": (started_under_caution(), race_under_yellow),
    "a-lift-ends-every-hold": (
        rule("lift-caution", sets={"caution[where, p] for p in holder": "none"}),
        two_yellows_and_one_lifted,
    ),
    "full-speed-under-caution": (without_cap("caution", "approach"), yellow),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_rule_in_the_controllers_table_trips(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    table, story = WRONG[name]

    @virtual
    async def play() -> None:
        async with Watched(tmp_path) as town:
            with suppress(AssertionError):  # a controller that was tripped may refuse the rest
                await story(town)
            await town.drive(1, {1: "s1"})
            assert town.monitor.tripped
            await town.until(lambda: ("stop", None, "E") in town.holds())
            assert town.all_shown == {Aspect.RED}

    monkeypatch.setattr("signals.controller.service.Core", partial(Core, table=table))
    play()


@pytest.mark.parametrize("name", WRONG)
def test_the_same_story_by_the_right_table_does_not(tmp_path: Path, name: str) -> None:
    _, story = WRONG[name]

    @virtual
    async def play() -> None:
        async with Watched(tmp_path) as town:
            with suppress(AssertionError):  # starting under yellow is refused
                await story(town)
            await town.drive(1, {1: "s1"} if name != "started-under-caution" else {})
            assert not town.monitor.tripped, town.why

    play()


@virtual
async def test_a_reset_gives_the_session_back(tmp_path: Path) -> None:
    async with Watched(tmp_path) as town:
        await town.race(1)
        await town.inject("h3", "wrong-lamp", aspect=Aspect.GREEN)
        await town.ask("p1", "caution", where="s3")
        await town.until(lambda: town.state.monitor == "tripped")
        town.reset()
        await town.drive(1, {1: "s1"}, speed=0.0)
        assert town.monitor.tripped
        await town.inject("h3", "head-back")
        await town.drive(1, {1: "s1"}, speed=0.0)
        town.reset()
        await town.until(lambda: town.state.monitor == "ok")
        assert ("stop", None, "E") in town.holds()
