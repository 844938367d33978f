"""What people on the track see when something of the system goes: over the bus, in virtual time."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from signals.clock import Clock
from signals.mqtt.contract import Beat, Inject
from signals.words import Aspect, HeadRole, Phase
from tests.controller.made import harbour
from tests.controller.town import UTC_MS, Town
from tests.virtual import virtual

LEASE_S = harbour().timing.lease_head / 1000
FAIL = harbour().choices.fail_aspect


async def racing(town: Town) -> None:
    """Bring kart 1 to full speed under green."""
    await town.race(1)
    await town.until(lambda: town.all_shown == {Aspect.GREEN} and town.takes(1) == 45.0)


def limits_since(town: Town, mark: int, kart: int) -> list[float]:
    return [noted.message.limit_kmh for noted in town.since(mark, "kart", str(kart), "taken")]


@virtual
async def test_killed_mid_race_every_head_fails_exactly_at_the_lease_and_no_limit_rises(
    tmp_path: Path,
) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        last_beat_s = town.since(0, "beat")[-1].at_s
        await town.kill("controller")
        mark = len(town.noted)
        await asyncio.sleep(LEASE_S + 5)
        for head in town.venue.heads:
            said = town.since(mark, "head", head.id, "shown")
            left = next(noted for noted in said if noted.message.aspect is not Aspect.GREEN)
            assert left.at_s - last_beat_s == pytest.approx(LEASE_S, abs=0.002)
            assert town.shows(head.id) is FAIL[head.role]
        limits = limits_since(town, mark, 1)
        assert limits == sorted(limits, reverse=True)
        assert limits[-1] == town.venue.limits.creep


@virtual
async def test_restarted_it_is_stopped_with_all_holds_and_nothing_turns_green_until_a_person_acts(
    tmp_path: Path,
) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        await town.ask("p2", "caution", where="s4", reason="cone on the line")
        before, boot = town.holds(), town.state.boot
        await town.kill("controller")
        await asyncio.sleep(2.0)
        mark = len(town.noted)
        await town.start("controller")
        await asyncio.sleep(11.0)  # longer than a start may take
        assert town.state.boot != boot
        assert town.state.phase is Phase.RACING
        assert before | {("stop", None, "E")} <= town.holds()
        shown = {noted.message.aspect for noted in town.since(mark, "head") if noted.levels[2] == "shown"}
        assert Aspect.GREEN not in shown
        assert town.all_shown == {Aspect.RED}
        limits = limits_since(town, mark, 1)
        assert limits == sorted(limits, reverse=True)
        assert limits[-1] == 0.0
        kept = next(hold for hold in town.state.holds if hold.post == "p2")
        assert kept.reason == "cone on the line"
        await person_brings_it_back(town)


async def person_brings_it_back(town: Town) -> None:
    """Lift, check, clear: only the last of these shows green."""
    town.sees(1, "s1", speed=0.0)
    for kart in (2, 7, 9):
        town.sees(kart, "pit", speed=0.0)
    await town.until(lambda: all(kart.place != "unknown" for kart in town.state.karts.values()))
    reason = {"reason": "seen", "checked": True}
    await town.ask("desk", "lift", hold="stop:E", **reason)
    assert Aspect.GREEN not in town.all_shown
    for what, where, post in sorted(town.holds(), key=str):
        if what == "caution":
            await town.ask("desk", "lift", hold=f"{what}:{where}:{post}", where=where, **reason)
    assert Aspect.GREEN not in town.all_shown
    mark = len(town.noted)
    await town.ask("desk", "clear", checked=True)
    await town.until(lambda: town.all_shown == {Aspect.GREEN})
    assert all(noted.message.aspect is Aspect.GREEN for noted in town.since(mark, "head", "h3", "aspect"))


@virtual
async def test_restarted_in_closed_it_is_closed_and_not_stopped(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await town.kill("controller")
        await town.start("controller")
        await asyncio.sleep(1.0)
        assert town.state.phase is Phase.CLOSED
        assert not town.state.holds
        assert {kart.place for kart in town.state.karts.values()} == {"pit"}


@virtual
async def test_a_broker_gone_for_longer_than_the_lease_is_a_stop(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        town.broker.stop()
        await asyncio.sleep(2.0)
        mark = len(town.noted)
        town.broker.start()
        await town.until(lambda: ("stop", None, "E") in town.holds())
        await town.until(lambda: town.all_shown == {Aspect.RED})
        shown = [noted.message.aspect for noted in town.since(mark, "head") if noted.levels[2] == "shown"]
        assert Aspect.GREEN not in shown


@virtual
async def test_a_broker_that_forgot_everything_is_told_everything(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        told = {topic for topic in town.broker.retained if "/node/" not in topic and "/monitor/" not in topic}
        assert len(told) > 3 * len(town.venue.karts) + len(town.venue.heads)
        town.broker.stop()
        town.broker.start()
        await asyncio.sleep(0.3)
        assert told <= set(town.broker.retained)
        assert not town.state.holds


@virtual
async def test_a_cut_shorter_than_the_lease_is_none(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        town.broker.partition("controller")
        await asyncio.sleep(0.25)
        town.broker.heal("controller")
        await asyncio.sleep(1.0)
        assert not town.state.holds
        assert town.all_shown == {Aspect.GREEN}


@virtual
async def test_cut_off_behind_a_link_that_looks_whole_it_stops_when_back(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        town.broker.partition("controller", detected_s=60.0)
        await asyncio.sleep(2.0)
        town.broker.heal("controller")
        await town.until(lambda: town.all_shown == {Aspect.RED})
        await town.until(lambda: ("stop", None, "E") in town.holds())


@virtual
async def test_a_second_controllers_beat_turns_every_head_red(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        foreign = Beat(boot="other1", seq=1, epoch=0, stop=False, test=False, at=0)
        town.say_as("controller", "beat", message=foreign)
        await town.until(lambda: town.all_shown == {Aspect.RED})
        await town.until(lambda: ("stop", None, "E") in town.holds())


@virtual
async def test_a_node_that_begins_anew_finds_yellow_before_it_is_addressed(tmp_path: Path) -> None:
    """h1, h3 and h5 hang on n1; they protect s1, s3 and s5, the heads before them guard them too."""
    async with Town(tmp_path) as town:
        await racing(town)
        old = town.latest["head", "h3", "aspect"].inc
        mark = len(town.noted)
        town.say("instructor", "inject", "n1", message=Inject(id="i1", event="reboot"))
        await town.until(lambda: town.latest["head", "h3", "aspect"].inc != old)
        commands = [noted.message for noted in town.since(mark, "head", "h3", "aspect")]
        assert [(command.inc == old, command.aspect) for command in commands] == [
            (True, Aspect.YELLOW_FLASH),
            (False, Aspect.YELLOW_FLASH),
        ]
        await asyncio.sleep(1.0)
        seen = [noted.message.aspect for noted in town.since(mark, "head", "h3", "shown")]
        assert set(seen[seen.index(Aspect.YELLOW_FLASH) :]) == {Aspect.YELLOW_FLASH}
        assert {("caution", sector, "E") for sector in ("s1", "s3", "s5")} <= town.holds()
        assert town.state.heads["h3"].health == "ok"  # back, and its yellow stays


@virtual
async def test_a_silent_head_puts_yellow_where_it_should_have_shown(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        town.say("instructor", "inject", "n2", message=Inject(id="i1", event="head-lost"))
        await town.until(lambda: town.state.heads["h4"].health == "lost")
        assert ("caution", "s4", "E") in town.holds()
        assert town.latest["head", "r4", "aspect"].aspect is Aspect.YELLOW_FLASH
        assert any("h4" in fault for fault in town.state.faults)


@virtual
async def test_a_kart_that_enters_against_red_is_a_stop(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        town.sees(2, "s1")
        await town.until(lambda: town.all_shown == {Aspect.RED})
        await town.until(lambda: ("stop", None, "E") in town.holds())
        assert town.state.karts["2"].limit_kmh == 0


@virtual
async def test_a_dead_gateway_makes_karts_on_the_track_unknown(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await racing(town)
        await town.until(lambda: town.state.karts["1"].place == "unknown")
        assert {where for what, where, _ in town.holds() if what == "caution"} >= {"s1", "s6", "pit"}
        town.sees(1, "s2")
        await town.until(lambda: town.state.karts["1"].link and town.state.karts["1"].place == "s2")


@virtual
async def test_the_end_of_the_operating_day_ends_the_verdict(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        await town.kill("controller")
        town.clock = Clock(lambda: UTC_MS + 21 * 3_600_000)
        await town.start("controller")
        faults = [entry.body["what"] for entry in town.journal.entries() if entry.kind == "fault"]
        assert faults[-1] == "day-ended"


def test_the_fail_aspects_of_the_venue_are_never_green() -> None:
    assert set(FAIL) >= {HeadRole.TRACK, HeadRole.PIT_EXIT}
    assert Aspect.GREEN not in FAIL.values()
