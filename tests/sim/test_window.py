"""The window as it runs: pygame's loop on this thread, the network and the world on another."""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import async_solipsism
import msgspec
import pygame
import pytest
from msgspec.structs import replace
from typer.testing import CliRunner

from signals.clock import Clock
from signals.errors import BadInput
from signals.mqtt.access import access_list
from signals.mqtt.contract import WorldView
from signals.mqtt.link import Arrived, Credentials, Owner, user_of
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.supervise.supervisor import STAYS
from signals.venue.model import Venue
from signals.words import Aspect
from sim.cli import app
from sim.view.desk import Desk
from sim.view.window import Window, key_name
from sim.view.wire import Wire
from sim.world import World
from tests.sim.drive import Drive

SECONDS = 2


def linked(broker: MemoryBroker) -> MakeLink:
    def link(client: str, **more: Any) -> Any:
        return broker.link(client, **{**more, "credentials": Credentials(user_of(client), "")})

    return link


@pytest.fixture
def wired(venue: Venue) -> tuple[Wire, Desk]:
    link, desk = linked(MemoryBroker(access_list(venue))), Desk(venue)
    world = World(venue, link, seed=1, clock=Clock())
    return Wire(link, f"post-{desk.post}", desk.subscriptions(), (world,)), desk


def shown(
    wired: tuple[Wire, Desk], venue: Venue, events: Callable[[int, Window], None], to: Path | None = None
) -> Window:
    """Run the window for a few frames; `events` posts what a person does at each of them."""
    wire, desk = wired
    assert wire.start()
    window = Window(venue, wire, desk)
    listen, frames = window._listen, [0]

    def at_frame(now_s: float) -> None:
        listen(now_s)
        frames[0] += 1
        events(frames[0], window)

    window._listen = at_frame  # type: ignore[method-assign]
    try:
        window.run(to)
    finally:
        wire.stop()
    assert wire.failure is None
    return window


def key(name: int, text: str = "") -> None:
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=name, unicode=text))


def test_it_shows_the_world_takes_keys_and_closes(
    wired: tuple[Wire, Desk], venue: Venue, tmp_path: Path
) -> None:
    def events(frame: int, _: Window) -> None:
        if frame == 5:
            key(pygame.K_4, "4")
            key(pygame.K_m, "m")
            key(pygame.K_SPACE, " ")
        if frame == 20:
            pygame.event.post(pygame.event.Event(pygame.QUIT))

    window = shown(wired, venue, events, tmp_path / "window.png")
    assert len(window.desk.worlds[-1][1].karts) == 12
    assert window.hands.sector == "s4"
    assert window.hands.lens.steady
    assert window.desk.sent or window.desk.outcome is not None
    assert pygame.image.load(tmp_path / "window.png").get_size() == (1280, 800)


def driven(venue: Venue, link: MakeLink) -> World:
    """Give a world in the middle of a race; what limiters took and heads show never goes stale."""
    race, world = Drive(venue, seed=7), World(venue, link, seed=7, clock=Clock(), rates=(("spin", 900.0),))
    for number in range(1, 9):
        race.place(number, at_m=40.0 * number % venue.length_m, v_mps=7.0)
        world._taken[number] = (45.0, math.inf)
    world._shown.update({head.id: (Aspect.GREEN, None, math.inf) for head in venue.heads})
    world.scene = replace(world.scene, karts=race.scene.karts)
    return world


def test_in_a_window_and_without_a_world_comes_to_the_same_at_every_step(venue: Venue) -> None:
    """The window as it runs, on the clock's time and a thread of its own; the other in virtual time."""
    link, desk = linked(MemoryBroker(access_list(venue))), Desk(venue)
    world = driven(venue, link)
    in_window: dict[int, str] = {}

    def events(_: int, window: Window) -> None:
        in_window.update({view.steps: view.digest for _, view in window.desk.worlds if view.digest})
        if len(in_window) >= SECONDS:
            window._wire.ended.set()

    shown((Wire(link, f"post-{desk.post}", desk.subscriptions(), (world,)), desk), venue, events)
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        without = runner.run(alone(venue))
    assert in_window.items() <= without.items(), "a busy machine may let the window miss some"


async def alone(venue: Venue) -> dict[int, str]:
    """Run the world without a window, and hear what it came to at its first seconds."""
    link, told, heard = linked(MemoryBroker(access_list(venue))), dict[int, str](), asyncio.Event()
    world = driven(venue, link)

    def hear(arrived: Arrived) -> None:
        view = msgspec.json.decode(arrived.payload, type=WorldView)
        if view.digest:
            told[view.steps] = view.digest
        if len(told) == 5 * SECONDS:
            heard.set()

    topic = Topics.of(venue.id, simulated=True).name("world")
    reader = link("reader.window", subscriptions=((topic, 0),), owner=Owner(on_message=hear))
    work = [asyncio.ensure_future(each) for each in (reader.run(), world.run(lambda: None))]
    await heard.wait()
    for task in work:
        task.cancel()
    await asyncio.gather(*work, return_exceptions=True)
    return told


def test_it_ends_when_told_to(wired: tuple[Wire, Desk], venue: Venue) -> None:
    def events(frame: int, window: Window) -> None:
        if frame == 3:
            window._wire.ended.set()

    shown(wired, venue, events)


def test_a_smaller_window_grows_to_what_everything_needs(wired: tuple[Wire, Desk], venue: Venue) -> None:
    sizes = []

    def events(frame: int, _: Window) -> None:
        if frame == 3:
            pygame.event.post(pygame.event.Event(pygame.VIDEORESIZE, size=(640, 480), w=640, h=480))
        if frame == 6:
            sizes.append(pygame.display.get_surface().get_size())  # type: ignore[union-attr]
            pygame.event.post(pygame.event.Event(pygame.QUIT))

    shown(wired, venue, events)
    assert sizes == [(1024, 700)]


def test_lines_of_the_supervisor_become_banners(wired: tuple[Wire, Desk], venue: Venue) -> None:
    def events(frame: int, window: Window) -> None:
        if frame == 3:
            window._wire._put("controller ended with exit code 1; starting it again (1 of 3)")
        if frame == 6:
            pygame.event.post(pygame.event.Event(pygame.QUIT))

    window = shown(wired, venue, events)
    assert any(text.startswith("Controller ended") for _, text in window.desk._banners)


def test_what_stays_to_be_read_is_told_after_all_that_is_wrong(
    wired: tuple[Wire, Desk], venue: Venue
) -> None:
    over = "The sequence is over: all 9 steps met. Close the window to end."

    def events(frame: int, window: Window) -> None:
        if frame == 3:
            window._wire._put(f"{STAYS}{over}")
            window._wire._put("nodes is back")
        if frame == 6:
            pygame.event.post(pygame.event.Event(pygame.QUIT))

    desk = shown(wired, venue, events).desk
    assert desk.warnings(time.monotonic())[-2:] == ["Nodes is back", over]
    assert desk.note == over
    assert not any(text == over for _, text in desk._banners)


@pytest.mark.parametrize(
    ("code", "text", "name"),
    [
        (pygame.K_SPACE, " ", "Space"),
        (pygame.K_RETURN, "\r", "Enter"),
        (pygame.K_KP_ENTER, "\r", "Enter"),
        (pygame.K_ESCAPE, "\x1b", "Esc"),
        (pygame.K_F9, "", "F9"),
        (pygame.K_y, "y", "Y"),
        (pygame.K_SLASH, "?", "?"),
        (pygame.K_KP3, "3", "3"),
        (pygame.K_LSHIFT, "", ""),
        (pygame.K_c, "\x03", ""),
    ],
)
def test_keys_have_names(code: int, text: str, name: str) -> None:
    assert key_name(pygame.event.Event(pygame.KEYDOWN, key=code, unicode=text)) == name


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--post", "nobody"], "one of the venue's posts: desk, p1, p2"),
        (["--headless", "--no-world"], "give only one"),
    ],
)
def test_bad_options_are_named(options: list[str], said: str) -> None:
    result = CliRunner().invoke(app, options)
    assert isinstance(result.exception, BadInput)
    assert said in str(result.exception)
