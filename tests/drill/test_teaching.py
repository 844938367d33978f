"""The instructor's window: what can be let happen, to whom, and what is told of it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import pygame
import pytest

from signals.clock import Clock
from signals.mqtt.access import access_list
from signals.mqtt.link import Credentials, user_of
from signals.mqtt.memory import MemoryBroker
from sim.view.desk import Desk, Outcome
from sim.view.drill.joined import GONE, NOT_YET, HostedScreen
from sim.view.drill.teaching import LETS, InstructorWindow, Throwing
from sim.view.hands import Hands
from sim.view.layout import DESIGNED, SMALLEST
from sim.view.wire import Wire
from sim.world import World
from tests.drill.playing import venue

WITHIN_S = 10.0


@pytest.fixture
def window() -> Iterator[InstructorWindow]:
    """A window on a world that runs, over a broker with the venue's access list."""
    broker = MemoryBroker(access_list(venue()))

    def link(client: str, **more: Any) -> Any:
        return broker.link(client, **{**more, "credentials": Credentials(user_of(client), "")})

    desk, throwing = Desk(venue()), Throwing(venue(), link)
    world = World(venue(), link, seed=1, clock=Clock())
    wire = Wire(link, f"post-{desk.post}.instructor", desk.subscriptions(), (world, throwing))
    assert wire.start()
    yield InstructorWindow(venue(), wire, desk, throwing)
    wire.stop()


def told(window: InstructorWindow) -> Outcome:
    """Wait for what comes of what was let happen."""
    deadline = time.monotonic() + WITHIN_S
    while window.desk.outcome is None or window.desk.outcome.accepted is None:
        assert time.monotonic() < deadline, "nothing was told"
        window._listen(time.monotonic())
    return window.desk.outcome


def asked(window: InstructorWindow) -> list[str]:
    """Ask what is to happen; gives what there is to choose."""
    window.ask()
    assert window.hands.question is not None
    return [option.label for option in window.hands.question.options]


@pytest.mark.parametrize("by", ["key", "click"])
def test_it_is_asked_for_by_key_and_by_click(window: InstructorWindow, by: str) -> None:
    screen = window._made(pygame.Surface(DESIGNED))
    screen.draw(0.0)
    ((box, target),) = screen._touched["lets"]
    assert target == LETS
    events = {
        "key": pygame.event.Event(pygame.KEYDOWN, key=pygame.K_F4, unicode=""),
        "click": pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=box.center),
    }
    window._act(screen, events[by], 0.0)
    assert window.hands.question is not None
    assert window.hands.question.action == LETS


def test_in_a_sector_it_happens_and_is_told(window: InstructorWindow) -> None:
    window.hands.press("3", 0.0)
    assert asked(window)[0] == "Debris, 3 Hairpin"
    window.hands.press("1", 0.0)
    assert window.desk.outcome == Outcome(LETS, "Debris, 3 Hairpin …")
    found = told(window)
    assert (found.title, found.accepted) == ("Debris in 3 Hairpin", True)


def test_to_a_kart_only_once_one_was_chosen_and_a_refusal_says_why(window: InstructorWindow) -> None:
    assert not any("kart" in label for label in asked(window))
    window.hands.press("Down", 0.0)
    assert asked(window)[:2] == ["Spin, kart 1", "Stall, kart 1"]
    window.hands.press("1", 0.0)
    found = told(window)
    assert found.accepted is False, "it stands in its box"
    assert "1" in found.title


@pytest.mark.parametrize("size", [DESIGNED, SMALLEST])
def test_a_window_says_whose_it_is_and_that_nothing_runs(
    size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(venue())
    screen = HostedScreen(pygame.Surface(size), desk, Hands(desk, lambda *_: False), "Post 1")
    written: list[str] = []
    write = screen.brush.write

    def noted(on: pygame.Surface, text: str, *rest: Any, **more: Any) -> pygame.Rect:
        written.append(text)
        box = write(on, text, *rest, **more)
        assert on.get_rect().contains(box)
        return box

    monkeypatch.setattr(screen.brush, "write", noted)
    screen.draw(0.0)
    assert {"Post 1", NOT_YET} <= set(written)
    assert GONE not in written
