"""The pages of the drills' window, without a display: what keys do, what a drill leaves behind."""

from __future__ import annotations

import time
from pathlib import Path

import pygame
import pytest

from sim.drill import deeds
from sim.drill.tape import read
from sim.drill.trainees import NAME, Trainees
from sim.view.drill.flow import GUEST, Flow, Page
from sim.view.drill.pages import Pages
from sim.view.drill.window import DrillWindow
from sim.view.paint import Brush
from tests.drill.playing import SHIPPED, drill, venue
from tests.drill.test_trainees import DAY_MS, START_MS, a_score

SIZES = [(1280, 800), (1024, 700), (1920, 1080)]


@pytest.fixture
def flow(tmp_path: Path) -> Flow:
    return Flow(venue(), [drill(path.stem) for path in SHIPPED], tmp_path, seed=4)


def wait_for(flow: Flow, page: Page, within_s: float = 20.0) -> None:
    deadline = time.monotonic() + within_s
    while flow.page is not page:
        assert time.monotonic() < deadline, f"still {flow.page}: {flow.failure}"
        flow.tick(flow.now_s(), 0.02)
        time.sleep(0.02)


def test_a_name_is_typed_and_the_list_becomes_that_trainees(flow: Flow) -> None:
    for key in ("N", *"AD", "Back", *"DA", "Enter"):
        flow.press(key, 0.0)
    assert (flow.who, flow.page) == ("Ada", Page.LOBBY)
    assert {row.why for row in flow.rows} == {"new"}


def test_the_list_is_walked_around_and_seats_are_chosen(flow: Flow) -> None:
    flow.press("Up", 0.0)
    assert flow.chosen == len(flow.rows) - 1
    flow.take(drill("spin-rejoins"), "p1")
    assert (flow.drill.name, flow.post) == ("spin-rejoins", "p1")
    flow.press("Right", 0.0)
    assert flow.post == "p2"


def test_a_drill_is_played_paused_ended_kept_and_looked_at_again(flow: Flow, tmp_path: Path) -> None:
    flow.who = "Ada"
    flow.take(drill("spin-rejoins"), "desk")
    flow.press("Enter", 0.0)
    flow.press("Enter", 0.0)
    wait_for(flow, Page.RUNNING)
    flow.press("3", flow.now_s())
    time.sleep(0.3)  # the drill looks ten times a second
    flow.press("F10", flow.now_s())
    booth = flow.booth
    assert booth is not None
    stood_s = booth.now_s()
    time.sleep(0.3)
    assert (flow.page, booth.now_s()) == (Page.PAUSED, stood_s)
    flow.press("F10", flow.now_s())
    flow.press("F12", flow.now_s())
    wait_for(flow, Page.SUMMARY)
    assert flow.played is not None
    assert not flow.played.score.passed
    tapes = list((tmp_path / "drills").glob("*.tape"))
    assert read(tapes[0]).head.drill == "spin-rejoins"
    calls = deeds.load(tapes[0].with_suffix(".toml"))
    assert [deed.seen for deed in calls] == ["s3"]
    with Trainees(tmp_path / NAME) as trainees:
        assert trainees.best("Ada") == {"spin-rejoins": flow.played.score.percent}
    flow.press("R", 0.0)
    assert flow.replay is not None
    flow.replay.to(flow.replay.ends_s)
    there = flow.again
    flow.press("Home", 0.0)
    assert flow.again is not there, "a tape is only heard forwards: the desk was begun anew"
    assert flow.again is not None
    assert flow.again.state is not None
    assert len(flow.again.worlds) == 1


def test_weeks_are_looked_at_with_a_name_and_without(flow: Flow, tmp_path: Path) -> None:
    surface, pages = pygame.Surface(SIZES[0]), Pages(SIZES[0], Brush(1.0))
    with Trainees(tmp_path / NAME) as trainees:
        for week in range(3):
            trainees.add("Ada", a_score(percent=70.0 + 10 * week), START_MS + week * 7 * DAY_MS)
    for who, weeks in ((GUEST, 0), ("Ada", 3)):
        flow.who = who
        flow.press("W", 0.0)
        assert (flow.page, len(flow.weeks)) == (Page.WEEKS, weeks)
        pages.draw(surface, flow)
        flow.press("Esc", 0.0)
        assert flow.page is Page.LOBBY


def test_a_guest_leaves_no_name(flow: Flow, tmp_path: Path) -> None:
    assert flow.who == GUEST
    assert not (tmp_path / NAME).exists()


@pytest.mark.parametrize("size", SIZES)
def test_no_text_of_a_page_is_cut_off_by_its_lower_edge(flow: Flow, size: tuple[int, int]) -> None:
    surface = pygame.Surface(size)
    pages = Pages(size, Brush(1.0))
    for page in (Page.LOBBY, Page.NAMING, Page.BRIEFING, Page.READYING, Page.FAILED):
        flow.page = page
        touched = pages.draw(surface, flow)
        assert all(surface.get_rect().contains(box) for box, _ in touched)


def test_every_page_can_be_drawn_with_a_desk_too(flow: Flow) -> None:
    surface = pygame.Surface(SIZES[0])
    window = DrillWindow(flow)
    flow.take(drill("spin-rejoins"), "p2")
    flow.begin(4)
    wait_for(flow, Page.RUNNING)
    window.draw(surface)
    flow.press("F10", 0.0)
    window.draw(surface)
    flow.press("F12", 0.0)
    wait_for(flow, Page.SUMMARY)
    window.draw(surface)
    flow.press("R", 0.0)
    flow.tick(flow.now_s(), 0.0)
    window.draw(surface)
