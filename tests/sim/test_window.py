"""The window as it runs: pygame's loop on this thread, the network and the world on another."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pygame
import pytest
from typer.testing import CliRunner

from signals.clock import Clock
from signals.errors import BadInput
from signals.mqtt.access import access_list
from signals.mqtt.link import Credentials, user_of
from signals.mqtt.memory import MemoryBroker
from signals.venue.model import Venue
from sim.cli import app
from sim.view.desk import Desk
from sim.view.window import Window, key_name
from sim.view.wire import Wire
from sim.world import World


@pytest.fixture
def wired(venue: Venue) -> tuple[Wire, Desk]:
    broker = MemoryBroker(access_list(venue))

    def link(client: str, **more: Any) -> Any:
        return broker.link(client, **{**more, "credentials": Credentials(user_of(client), "")})

    desk = Desk(venue)
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
