"""Wired heads and boxes as nodes, in virtual time, on devices in memory that fail on command."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import async_solipsism
import pytest

from signals.mqtt.access import access_list
from signals.mqtt.codec import decode, encode
from signals.mqtt.contract import AspectCommand, Beat, InputReport, NodeStatus, Shown
from signals.mqtt.link import Arrived, Credentials, Link, Owner, user_of
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.outputs.contact import Watched, of_loop
from signals.outputs.service import Outputs
from signals.outputs.virtual import Virtual, virtual_output
from signals.venue import load
from signals.venue.model import Venue
from signals.venue.wires import Circuit
from signals.words import Aspect, InputState

VENUE = load(Path(__file__).parents[2] / "configs" / "harbour-wired.toml")
LEASE_S = VENUE.timing.lease_head / 1000


class Desk:
    """A controller of a few words: it beats, and commands what it is told to whoever says who it is."""

    def __init__(self, venue: Venue) -> None:
        self.broker = MemoryBroker(access_list(venue))
        self.link_of: dict[str, Link] = {}
        self.running: asyncio.Task[None]
        self.topics = Topics.of(venue.id, simulated=True)
        self.status: dict[str, NodeStatus] = {}
        self.shown: dict[str, Shown] = {}
        self.inputs: dict[str, InputState] = {}
        self.seq = 0
        self.stop = False
        self.outputs = Outputs(venue, self.make_link, make=virtual_output)
        filters = ("node/+/status", "head/+/shown", "input/+/state")
        self.link = self.make_link(
            "controller",
            subscriptions=tuple((self.topics.name(name), 1) for name in filters),
            owner=Owner(on_message=self.take),
        )

    def make_link(self, client: str, **given: Any) -> Link:
        given["credentials"] = Credentials(user_of(client), "")
        self.link_of[client] = self.broker.link(client, **given)
        return self.link_of[client]

    def take(self, arrived: Arrived) -> None:
        kind, name, _ = self.topics.split(arrived.topic)
        if kind == "node":
            self.status[name] = decode(NodeStatus, arrived.payload)
        elif kind == "head":
            self.shown[name] = decode(Shown, arrived.payload)
        else:
            self.inputs[name] = decode(InputReport, arrived.payload).state

    def device(self, ref: str) -> Virtual:
        found = self.outputs.plant._at[ref]
        assert isinstance(found, Virtual)
        return found

    def beat(self) -> None:
        self.seq += 1
        beat = Beat(boot="desk", seq=self.seq, epoch=1, stop=self.stop, test=False, at=0)
        self.link.publish(self.topics.name("beat"), encode(beat))

    def order(self, head: str, aspect: Aspect, **more: Any) -> AspectCommand:
        node = next(each.node for each in VENUE.heads if each.id == head)
        self.seq += 1
        inc = self.status[node].inc
        return AspectCommand(boot="desk", seq=self.seq, epoch=1, inc=inc, aspect=aspect, **more)

    def command(self, head: str, aspect: Aspect, **more: Any) -> None:
        order = self.order(head, aspect, **more)
        self.link.publish(self.topics.name("head", head, "aspect"), encode(order), qos=1, retain=True)

    async def beating(self, for_s: float) -> None:
        for _ in range(round(for_s / 0.1)):
            self.beat()
            await asyncio.sleep(0.1)

    async def green(self, head: str) -> None:
        await self.beating(0.3)
        self.command(head, Aspect.GREEN)
        await self.beating(0.5)
        assert self.shown[head].aspect is Aspect.GREEN


def in_virtual_time(story: Callable[[Desk], Awaitable[None]]) -> None:
    async def whole() -> None:
        desk = Desk(VENUE)
        ready = asyncio.Event()
        desk.running = asyncio.create_task(desk.outputs.run(ready.set))
        tasks = [asyncio.create_task(desk.link.run()), desk.running]
        await ready.wait()
        try:
            await story(desk)
        finally:
            for task in reversed(tasks):
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
        assert desk.device("H3-YEL").lit["H3-YEL"] == 1  # left with its fail state
        assert desk.device("H3-GRE").lit["H3-GRE"] == 0

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        runner.run(whole())


def test_an_order_becomes_light_and_is_proven_where_there_are_sensors() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        assert (desk.shown["h3"].driven, desk.shown["h3"].proven) == (["green"], ["green"])
        await desk.green("h2")
        assert (desk.shown["h2"].driven, desk.shown["h2"].proven) == (["green"], None)
        assert desk.status["n1"].firmware == "kerblight outputs"

    in_virtual_time(story)


def test_a_lamp_is_driven_before_anything_is_said() -> None:
    async def story(desk: Desk) -> None:
        await desk.beating(0.5)
        link, said = desk.link_of["node-n1"], desk.shown["h3"].seq
        order = desk.order("h3", Aspect.RED)
        link.owner.on_message(Arrived(desk.topics.name("head", "h3", "aspect"), encode(order)))
        assert desk.device("H3-RED").lit["H3-RED"] == 1
        assert desk.shown["h3"].seq == said
        await desk.beating(0.1)
        assert (desk.shown["h3"].aspect, desk.shown["h3"].driven) == (Aspect.RED, ["red"])

    in_virtual_time(story)


def test_orders_to_one_head_do_not_keep_others_waiting_for_their_image() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("r2")
        for turn in range(60):
            desk.beat()
            desk.command("h3", Aspect.RED if turn % 2 else Aspect.GREEN)
            await asyncio.sleep(0.05)
        assert {lit["R2-GRE"] for at_s, lit in desk.device("R2-GRE").history if at_s > 1.0} <= {1}
        assert desk.shown["r2"].aspect is Aspect.GREEN

    in_virtual_time(story)


def test_a_mistake_in_painting_ends_the_process_and_leaves_the_fail_states(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        monkeypatch.setattr(desk.outputs.plant, "paint", lambda *_: 1 / 0)
        with pytest.raises(ExceptionGroup) as ended:
            await desk.running
        assert ended.group_contains(ZeroDivisionError)

    in_virtual_time(story)


def test_a_number_and_its_flash_reach_the_display() -> None:
    async def story(desk: Desk) -> None:
        await desk.beating(0.3)
        desk.command("h1", Aspect.BLUE_FLASH, number=7)
        await desk.beating(2.0)
        blues = [lit["H1-BLU"] for _, lit in desk.device("H1-BLU").history[-3:]]
        assert sorted(set(blues)) == [0, 1]
        assert desk.device("H1-NUM").lit["H1-NUM"] == 7
        assert (desk.shown["h1"].aspect, desk.shown["h1"].driven) == (Aspect.BLUE_FLASH, ["blue"])

    in_virtual_time(story)


def test_beats_lost_give_the_flashing_fail_aspect_at_the_lease() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        lost_s = asyncio.get_running_loop().time() - 0.1
        await asyncio.sleep(LEASE_S + 2.0)
        history = desk.device("H3-GRE").history
        out_s = next(at_s for at_s, lit in history if at_s > lost_s and not lit["H3-GRE"])
        assert out_s - lost_s == pytest.approx(LEASE_S, abs=0.02)
        edges = [at_s for at_s, lit in history if at_s > out_s]
        period_s, lit_s = VENUE.choices.flash_period_ms / 1000, VENUE.choices.flash_lit_ms / 1000
        assert [at_s % period_s for at_s in edges[1:3]] == pytest.approx([lit_s, 0.0], abs=0.02) or [
            at_s % period_s for at_s in edges[1:3]
        ] == pytest.approx([0.0, lit_s], abs=0.02)
        assert desk.shown["h3"].aspect is Aspect.YELLOW_FLASH

    in_virtual_time(story)


def test_a_device_lost_for_the_lease_is_a_fault_and_nothing_comes_back_by_itself() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        inc = desk.status["n1"].inc
        board = desk.device("H3-GRE")
        board.unreachable = "no current"
        await desk.beating(LEASE_S + 0.5)
        assert desk.status["n1"].status == "fault"
        assert desk.status["n1"].inc != inc
        at_loss = desk.shown["h3"].seq
        await desk.beating(1.0)
        assert desk.shown["h3"].seq == at_loss  # silent: what is not known is not said
        board.unreachable = ""
        await desk.beating(1.0)
        assert desk.status["n1"].status == "ready"
        assert desk.shown["h3"].aspect is Aspect.YELLOW_FLASH
        assert board.lit["H3-GRE"] == 0
        await desk.green("h3")

    in_virtual_time(story)


def test_a_device_lost_for_less_than_the_lease_changes_nothing() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        inc = desk.status["n1"].inc
        desk.device("H3-GRE").unreachable = "a hiccup"
        await desk.beating(0.2)
        desk.device("H3-GRE").unreachable = ""
        await desk.beating(1.0)
        assert (desk.status["n1"].status, desk.status["n1"].inc) == ("ready", inc)
        assert desk.shown["h3"].aspect is Aspect.GREEN

    in_virtual_time(story)


def test_a_dead_lamp_is_not_reported_as_light() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        desk.device("H3-GRE").dead.add("H3-GRE")
        await desk.beating(1.0)
        assert (desk.shown["h3"].aspect, desk.shown["h3"].driven) == (Aspect.DARK, ["green"])
        assert desk.shown["h3"].proven == []

    in_virtual_time(story)


def test_a_dead_lamp_that_flashes_stays_dead_between_its_flashes() -> None:
    async def story(desk: Desk) -> None:
        desk.device("H3-YEL").dead.add("H3-YEL")
        await desk.beating(0.3)
        desk.command("h3", Aspect.YELLOW_FLASH)
        await desk.beating(1.5)
        for _ in range(20):
            assert (desk.shown["h3"].aspect, desk.shown["h3"].proven) == (Aspect.DARK, [])
            await desk.beating(0.1)
        desk.device("H3-YEL").dead.clear()
        await desk.beating(1.1)
        for _ in range(20):
            assert (desk.shown["h3"].aspect, desk.shown["h3"].proven) == (Aspect.YELLOW_FLASH, ["yellow"])
            await desk.beating(0.1)

    in_virtual_time(story)


def test_a_head_that_flashes_never_says_that_it_is_dark() -> None:
    """Between a flash's edge on the wire and its reading back a report must not take the old for a fault."""

    async def story(desk: Desk) -> None:
        await desk.beating(0.3)
        desk.command("h3", Aspect.YELLOW_FLASH)
        desk.command("h2", Aspect.YELLOW_FLASH)
        await desk.beating(1.0)
        said: set[Aspect] = set()
        heard = desk.take

        def take(arrived: Arrived) -> None:
            heard(arrived)
            said.update(desk.shown[head].aspect for head in ("h2", "h3"))

        desk.link.owner.on_message = take
        await desk.beating(5.0)
        assert said == {Aspect.YELLOW_FLASH}

    in_virtual_time(story)


def test_a_lamp_that_burns_though_it_is_off_is_reported() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        light = desk.device("H3-RED")._light
        desk.device("H3-RED")._light = lambda point: 1 if point.ref == "H3-RED" else light(point)
        await desk.beating(1.0)
        assert desk.shown["h3"].proven == ["red", "green"]
        assert desk.shown["h3"].aspect is Aspect.GREEN  # the least restrictive of what burns

    in_virtual_time(story)


def test_swapped_wires_show_as_what_burns() -> None:
    async def story(desk: Desk) -> None:
        board = desk.device("H3-GRE")
        board.crossed = {"H3-GRE": "H3-RED", "H3-RED": "H3-GRE"}
        await desk.beating(0.3)
        desk.command("h3", Aspect.RED)
        await desk.beating(1.0)
        assert (desk.shown["h3"].aspect, desk.shown["h3"].proven) == (Aspect.GREEN, ["green"])

    in_virtual_time(story)


def test_a_stop_is_red_on_every_wire() -> None:
    async def story(desk: Desk) -> None:
        desk.stop = True
        await desk.beating(0.5)
        for head in VENUE.heads:
            red, green = f"{head.id.upper()}-RED", f"{head.id.upper()}-GRE"
            assert (desk.device(red).lit[red], desk.device(green).lit[green]) == (1, 0)
            assert desk.shown[head.id].aspect is Aspect.RED

    in_virtual_time(story)


def test_boxes_pressed_cut_shorted_and_silent() -> None:
    async def story(desk: Desk) -> None:
        await desk.beating(0.5)
        assert set(desk.inputs.values()) == {InputState.NORMAL}
        board = desk.device("BOX-P1-MA")
        for contacts, means in (
            ((1, 0), InputState.ACTIVE),
            ((0, 1), InputState.NORMAL),
            ((0, 0), InputState.FAULT),
            ((0, 1), InputState.NORMAL),
            ((1, 1), InputState.FAULT),
        ):
            board.contacts["BOX-P1-MA"], board.contacts["BOX-P1-BR"] = contacts
            await desk.beating(0.6)
            assert desk.inputs["box-p1"] is means
        assert desk.inputs["box-p2"] is InputState.NORMAL
        desk.device("BOX-P2-MA").unreachable = "cut off"
        await desk.beating(LEASE_S + 0.5)
        assert desk.inputs["box-p2"] is InputState.FAULT

    in_virtual_time(story)


def test_a_box_on_a_loop_pressed_cut_shorted_and_between(caplog: pytest.LogCaptureFixture) -> None:
    async def story(desk: Desk) -> None:
        await desk.beating(0.5)
        assert desk.inputs["box-3"] is InputState.NORMAL
        for reads, means, why in (
            (611, InputState.ACTIVE, ""),
            (2047, InputState.NORMAL, ""),
            (4095, InputState.FAULT, "box-3: an open circuit: a cut wire, or no supply (BOX-3=4095)"),
            (2047, InputState.NORMAL, ""),
            (12, InputState.FAULT, "box-3: a short circuit (BOX-3=12)"),
            (611, InputState.ACTIVE, ""),
            (1200, InputState.FAULT, "box-3: a reading that is in no band of the table (BOX-3=1200)"),
        ):
            caplog.clear()
            desk.device("BOX-3").contacts["BOX-3"] = reads
            await desk.beating(0.6)
            assert desk.inputs["box-3"] is means
            assert [record.message for record in caplog.records] == ([why] if why else [])

    in_virtual_time(story)


def test_a_circuit_on_its_way_over_is_no_fault() -> None:
    box = Watched(prove_ms=200)
    assert box.settle(Circuit.OPEN, 0.0) is None
    assert box.settle(Circuit.NORMAL, 10.0) is InputState.NORMAL
    assert box.settle(Circuit.OPEN, 20.0) is InputState.NORMAL
    assert box.settle(Circuit.ODD, 219.0) is InputState.NORMAL
    assert box.settle(Circuit.SHORT, 220.0) is InputState.FAULT
    assert box.settle(Circuit.ACTIVE, 221.0) is InputState.ACTIVE


@pytest.mark.parametrize(
    ("ohms", "reads"),
    [(0, Circuit.SHORT), (1000 * 4700 / 5700, Circuit.ACTIVE), (4700, Circuit.NORMAL), (1e12, Circuit.OPEN)],
)
@pytest.mark.parametrize("error", [0.93, 1.0, 1.07])
def test_the_demo_loop_is_told_by_its_resistors(ohms: float, reads: Circuit, error: float) -> None:
    """A divider of 4k7 and the loop's resistance on a converter of 12 bits (arithmetic), each 7 % off."""
    wire = next(wire for wire in VENUE.wires if wire.ref == "BOX-3")
    value = round(4095 * ohms * error / (ohms * error + 4700))
    assert of_loop("BOX-3", dict(wire.circuits))({"BOX-3": value}) is reads
