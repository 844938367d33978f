"""A session over the bus, with the monitor watching: what people and drivers get to see."""

from __future__ import annotations

import asyncio
from pathlib import Path

from signals.mqtt.contract import Inject, MonitorReset
from signals.words import Aspect, Phase
from tests.controller.town import Town
from tests.virtual import virtual


@virtual
async def test_a_group_races_stops_and_comes_home(tmp_path: Path) -> None:
    async with Town(tmp_path, monitored=True) as town:
        assert town.state.phase is Phase.CLOSED
        assert not town.state.holds
        assert town.all_shown == {Aspect.DARK, Aspect.RED}
        await town.race(1, 2)
        await town.until(lambda: town.all_shown == {Aspect.GREEN})
        await town.until(lambda: town.takes(1) == 45.0)
        await town.ask("p2", "caution", where="s4")
        await town.until(lambda: town.shows("h4") is town.shows("r4") is Aspect.YELLOW_FLASH)
        assert town.shows("h2") is Aspect.GREEN
        await town.ask("p1", "stop")
        await town.until(lambda: town.all_shown == {Aspect.RED} and town.takes(1) == 0.0)
        await town.drive(1.0, {1: "s1", 2: "s1"}, speed=0.0)
        await town.ask("p1", "lift", hold="stop:p1", checked=True)
        assert Aspect.GREEN not in town.all_shown
        await town.ask("p2", "lift", hold="caution:s4:p2", where="s4", checked=True)
        await town.ask("desk", "clear", checked=True)
        await town.until(lambda: town.all_shown == {Aspect.GREEN})
        await town.ask("desk", "finish")
        await town.until(lambda: town.shows("h1") is Aspect.RED_YELLOW)
        await town.drive(1.0, {1: "pit", 2: "pit"}, speed=0.0)
        await town.ask("desk", "close")
        await town.until(lambda: town.all_shown == {Aspect.DARK, Aspect.RED})
        assert town.state.monitor == "ok"
        assert not town.state.faults


@virtual
async def test_a_wrong_lamp_trips_the_monitor_and_only_persons_end_what_follows(tmp_path: Path) -> None:
    async with Town(tmp_path, monitored=True) as town:
        await town.race(1)
        await town.until(lambda: town.all_shown == {Aspect.GREEN})
        fault = Inject(id="i1", event="wrong-lamp", head="h3", aspect=Aspect.GREEN, for_ms=3000)
        town.say("instructor", "inject", "n1", message=fault)
        await town.ask("p1", "caution", where="s3")
        await town.until(lambda: town.state.monitor == "tripped")
        assert ("stop", None, "E") in town.holds()
        await town.drive(4.0, {1: "s1"}, speed=0.0)
        refused = await town.call("desk", "lift", hold="stop:E", reason="seen", checked=True)
        assert "monitor-tripped" in {one.rule for one in refused.refusals}
        reset = MonitorReset(reason="lamp changed")
        town.say("post-desk", "monitor", "reset", "desk", message=reset)
        await town.until(lambda: town.state.monitor == "ok")
        assert ("stop", None, "E") in town.holds()
        town.sees(1, "s1", speed=0.0)
        await asyncio.sleep(0.2)
        await town.ask("desk", "lift", hold="stop:E", reason="seen", checked=True)
        assert Aspect.GREEN not in town.all_shown


@virtual
async def test_a_killed_monitor_is_yellow_everywhere(tmp_path: Path) -> None:
    async with Town(tmp_path, monitored=True) as town:
        await town.race(1)
        await town.until(lambda: town.all_shown == {Aspect.GREEN})
        await town.kill("monitor")
        await town.until(lambda: town.state.monitor == "lost")
        await town.until(lambda: Aspect.GREEN not in town.all_shown)
