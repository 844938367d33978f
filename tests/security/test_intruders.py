"""Who gets in with somebody's keys, or hears what passes, and what that buys: over a real broker, by TLS."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path

import pytest

from signals.mqtt import contract
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import Call, Where
from signals.words import Aspect, Because, Phase, Word
from tests.broker.site import holder_of
from tests.security.guarded import Guarded, Thief, guarded

pytestmark = [
    pytest.mark.gate,
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]

STRICT = (Aspect.RED, Aspect.YELLOW_FLASH)


def shown_since(town: Guarded, mark: int) -> set[Aspect]:
    """Give whatever any head has shown."""
    return {noted.message.aspect for noted in town.since(mark, "head") if noted.levels[-1] == "shown"}


def limits_since(town: Guarded, mark: int, kart: int) -> list[float]:
    return [noted.message.limit_kmh for noted in town.since(mark, "kart", str(kart), "taken")]


async def racing(town: Guarded) -> None:
    """Bring kart 1 to full speed under green."""
    await town.race(1)
    await town.until(lambda: town.all_shown == {Aspect.GREEN} and town.takes(1) > 0)


def order(town: Guarded, boot: str) -> list[tuple[str, bytes]]:
    """Forge what would bring green and full speed, for the incarnations that nodes have told to all."""
    inc = {node: status.inc for node, status in town.statuses.items()}
    orders = []
    for node in (node for node in town.venue.nodes if node.id in inc):
        for head in node.heads:
            aspect = contract.AspectCommand(boot=boot, seq=9, epoch=99, inc=inc[node.id], aspect=Aspect.GREEN)
            orders.append((f"head/{head}/aspect", encode(aspect)))
        for kart in node.karts:
            limit = contract.LimitCommand(
                boot=boot, seq=9, epoch=99, inc=inc[node.id], limit_kmh=45, boosts=0, because=Because.CLASS
            )
            orders.append((f"kart/{kart}/limit", encode(limit)))
    return orders


def beat(boot: str, seq: int) -> bytes:
    return encode(contract.Beat(boot=boot, seq=seq, epoch=99, stop=False, test=False, at=1))


async def test_a_second_controller_with_the_controllers_own_keys_stops_the_venue_and_turns_nothing_green(
    tmp_path: Path,
) -> None:
    """Boot fencing: two boots within a lease, and a foreign beat, however right its orders are."""
    async with guarded(tmp_path) as town:
        await town.ask("p2", "caution", where="s4")
        await town.settled()
        mark, boot = len(town.noted), town.state.boot
        async with Thief(town, "controller", "controller.second").inside() as second:
            for turn in range(30):
                second.say("beat", beat("rogue0", turn + 1))
                for topic, payload in order(town, "rogue0"):
                    second.say(topic, payload)
                await asyncio.sleep(0.1)
            await town.until(lambda: any(hold.what == "stop" for hold in town.state.holds))
        stop = next(hold for hold in town.state.holds if hold.what == "stop")
        assert "another controller" in stop.reason
        assert "rogue0" in stop.reason
        assert town.state.boot == boot
        assert Aspect.GREEN not in shown_since(town, mark)
        assert all(max(limits_since(town, mark, kart.number), default=0) == 0 for kart in town.venue.karts)
        await town.until(lambda: town.all_shown <= set(STRICT))


async def test_two_controllers_started_by_mistake_leave_no_head_green(tmp_path: Path) -> None:
    """The same keys and the same client's name: the broker lets in one at a time, and they take turns."""
    async with guarded(tmp_path) as town:
        await racing(town)
        first = town._tasks["controller"]
        town._folder = tmp_path / "second"
        town._folder.mkdir()
        mark = len(town.noted)
        await town.start("controller")
        town._tasks["first"] = first
        await town.until(lambda: Aspect.GREEN not in town.all_shown)
        gone = len(town.noted)
        await asyncio.sleep(3)
        assert Aspect.GREEN not in shown_since(town, gone)
        limits = limits_since(town, mark, 1)
        assert limits == sorted(limits, reverse=True)


@pytest.mark.parametrize("user", ["node-n1", "reader", "gateway", "world", "instructor", "post-p1", "board"])
async def test_no_other_users_keys_command_anything(tmp_path: Path, user: str) -> None:
    async with guarded(tmp_path) as town:
        await town.ask("p2", "caution", where="s4")
        await town.settled()
        before, mark = town.state, len(town.noted)
        async with Thief(town, user).inside() as thief:
            thief.say("beat", beat("rogue0", 1))
            for topic, payload in order(town, town.state.boot):
                thief.say(topic, payload)
            thief.say("monitor/status", encode(contract.MonitorStatus(status="lost")))
            thief.say("controller/status", encode(contract.ControllerStatus(status="gone", boot=before.boot)))
            await asyncio.sleep(1)
        assert (town.state.holds, town.state.heads) == (before.holds, before.heads)
        assert Aspect.GREEN not in shown_since(town, mark)


async def passed(ear: Thief, topic: str, word: Word) -> bytes:
    """Give the bytes of a call that passed, as somebody who listens has them."""
    async with asyncio.timeout(5):
        while True:
            for arrived in ear.heard:
                if arrived.topic.endswith(topic) and decode(Call, arrived.payload).call is word:
                    return arrived.payload
            await asyncio.sleep(0.02)


async def test_a_call_that_passed_once_is_worth_nothing_when_it_comes_again(tmp_path: Path) -> None:
    """Somebody kept a lift's bytes, and sends them when the next yellow stands; with the post's own keys."""
    async with guarded(tmp_path) as town, Thief(town, "post-p2", "post-p2.ear").inside() as ear:
        await town.ask("p1", "caution", where="s2")
        await town.ask("p1", "lift", hold="caution:s2:p1", checked=True)
        kept = await passed(ear, "call/p1", Word.LIFT)
        await town.ask("p1", "caution", where="s2")
        assert ("caution", "s2", "p1") in town.holds()
        async with Thief(town, "post-p1", "post-p1.thief").inside() as thief:
            for _ in range(5):
                thief.say("call/p1", kept)
            await asyncio.sleep(1)
            assert ("caution", "s2", "p1") in town.holds()
            boot = town.state.boot
            await town.kill("controller")
            await town.start("controller")
            await town.until(lambda: town.state.boot != boot)
            thief.say("call/p1", kept)  # another boot remembers no ids; the state it was made on is older
            await asyncio.sleep(1)
            assert ("caution", "s2", "p1") in town.holds()
        for holder in ("post-p2", "reader", "controller"):  # and from another topic, or by another's keys
            async with Thief(town, holder, f"{holder}.again").inside() as thief:
                for topic in ("call/p1", "call/p2"):
                    thief.say(topic, kept)
                await asyncio.sleep(0.5)
        assert ("caution", "s2", "p1") in town.holds()


async def test_a_start_that_passed_once_starts_nothing_again(tmp_path: Path) -> None:
    async with guarded(tmp_path) as town, Thief(town, "post-p2", "post-p2.ear").inside() as ear:
        await racing(town)
        kept = await passed(ear, "call/desk", Word.START)
        await town.ask("p1", "stop")
        assert town.state.phase is Phase.RACING
        mark = len(town.noted)
        async with Thief(town, "post-desk", "post-desk.thief").inside() as thief:
            for _ in range(5):
                thief.say("call/desk", kept)
            await asyncio.sleep(1)
        assert ("stop", None, "p1") in town.holds()
        assert Aspect.GREEN not in shown_since(town, mark)


def where_says(sector: str, *, seq: int, boot: str = "gate0", speed: float = 0.0) -> bytes:
    said = Where(
        boot=boot, seq=seq, sector=sector, at_m=None, speed_kmh=speed, in_pit=sector == "pit", button=False
    )
    return encode(said)


@pytest.mark.parametrize("user", ["node-k1", "node-n1", "world", "reader", "post-p1", "controller"])
async def test_a_karts_place_is_told_by_who_locates_it_and_by_nobody_else(tmp_path: Path, user: str) -> None:
    async with guarded(tmp_path) as town:
        await racing(town)
        async with Thief(town, user).inside() as thief:
            for seq in range(10):
                town.sees(1, "s1")
                thief.say("kart/1/where", where_says("pit", seq=10_000 + seq))
                thief.say("loop/l1/passed", encode(contract.Passed(boot="gate0", seq=10_000 + seq, kart=1)))
                await asyncio.sleep(0.1)
        assert town.state.karts["1"].place == "s1"


async def test_an_old_report_of_a_karts_place_is_dropped(tmp_path: Path) -> None:
    """Bytes of the gateway that passed once, sent again with its own keys."""
    async with guarded(tmp_path) as town:
        await racing(town)
        town.sees(1, "s1")
        async with Thief(town, "gateway").inside() as thief:
            for seq in (1, 2):
                thief.say("kart/1/where", where_says("pit", seq=seq))
            await asyncio.sleep(1)
        assert town.state.karts["1"].place == "s1"


async def test_with_the_gateways_keys_a_forged_place_frees_nobody(tmp_path: Path) -> None:
    """Who locates karts is believed: but no place it can name makes a head or a limit less restrictive."""
    async with guarded(tmp_path) as town:
        await racing(town)
        await town.ask("p1", "stop")
        await town.until(lambda: town.takes(1) == 0)
        mark = len(town.noted)
        async with Thief(town, "gateway").inside() as thief:
            places = [sector.id for sector in town.venue.sectors]
            for turn, sector in enumerate([*places, "pit", "nowhere"] * 2):
                thief.say("kart/1/where", where_says(sector, seq=turn + 1, boot="gate9", speed=turn * 5.0))
                await asyncio.sleep(0.1)
            await asyncio.sleep(1)
        assert any(hold.what == "stop" for hold in town.state.holds)
        assert shown_since(town, mark) <= set(STRICT)
        assert set(limits_since(town, mark, 1)) <= {0}


FLOOD = 20_000


async def flood(town: Guarded, user: str, topic: str) -> asyncio.subprocess.Process:
    """Send as fast as a process of its own can, with a user's keys."""
    folder = town.keys / holder_of(town.keys, user)
    keys = ("--cafile", folder / "ca.crt", "--cert", folder / f"{user}.crt", "--key", folder / f"{user}.key")
    name = town.topics.name(topic)
    argv = ("mosquitto_pub", "-h", "localhost", "-p", str(town.port), *map(str, keys), "-t", name, "-l")
    process = await asyncio.create_subprocess_exec(*argv, stdin=asyncio.subprocess.PIPE)
    assert process.stdin is not None
    lines = (b'{"id":"x%d","call":"lift","hold":"caution:s2:p1"}\n' % turn for turn in range(FLOOD))
    process.stdin.writelines(lines)
    process.stdin.close()
    return process


@pytest.mark.skipif(shutil.which("mosquitto_pub") is None, reason="mosquitto's clients are not installed")
async def test_a_flood_of_one_user_costs_nobody_the_controller(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Twenty thousand calls of a post's own keys: red comes through, the link stays, nothing is forgotten."""
    async with guarded(tmp_path) as town:
        await town.ask("p1", "caution", where="s2")
        flooding = await flood(town, "post-p2", "call/p2")
        await town.ask("p1", "stop")
        assert await flooding.wait() == 0
        await town.ask("desk", "caution", where="s3")
        held = {("stop", None, "p1"), ("caution", "s2", "p1"), ("caution", "s3", "desk")}
        assert held <= town.holds()
        told = [record.getMessage() for record in caplog.records]
        assert [line for line in told if line.startswith(("disconnected", "head-lost", "kart-lost"))] == []


async def test_a_retained_call_waits_for_no_controller(tmp_path: Path) -> None:
    async with guarded(tmp_path) as town:
        await town.ask("p1", "caution", where="s2")
        await town.kill("controller")
        async with Thief(town, "post-p1", "post-p1.thief").inside() as thief:
            lift = Call(id="kept", call=Word.LIFT, hold="caution:s2:p1", checked=True)
            thief.say("call/p1", encode(lift), retain=True)
            await asyncio.sleep(0.3)
            boot = town.state.boot
            await town.start("controller")
            await town.until(lambda: town.state.boot != boot)
            await asyncio.sleep(1)
            assert ("caution", "s2", "p1") in town.holds()
            thief.say("call/p1", b"", retain=True)
