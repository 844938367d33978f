"""The debrief opens in a real browser by itself, says what must be said, and prints on A4 without colour."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from signals.actions import NOT_A_STOP
from sim.drill.cast import cast
from sim.drill.facts import facts
from sim.drill.paper import write
from sim.drill.report import report
from sim.drill.telling import NOT_INSTEAD
from sim.drill.trainees import Run
from tests.drill.playing import NOBODY, Job, drill, taped, venue

CHROMIUM = shutil.which("chromium")
BUILT = Path(__file__).parents[2] / "build" / "drill-report"


@pytest.fixture(scope="module")
def page() -> str:
    job = Job("spin-rejoins", 4, 1)
    tape, score = taped(job)
    drawn = cast(drill(job.drill), venue(), job.seed, ["desk"])
    _, better = taped(Job("spin-rejoins", 4))
    before = [Run(number=number, at_ms=number, score=better) for number in range(1, 6)]
    return report(score, drawn, facts(tape, venue()), before)


def test_it_loads_nothing_from_anywhere(page: str) -> None:
    assert re.findall(r'(?:src|href|url\()\s*=?\s*["\']?(?!#)[^)"\' >]*', page) == []
    assert "<script" not in page


def test_it_says_what_it_is_not_and_what_would_have_been_better(page: str) -> None:
    assert NOT_A_STOP in page
    assert NOT_INSTEAD.replace("'", "&#39;") in page
    assert "Better: It was 3 Hairpin." in page
    assert "Nothing was called rightly this time: there is no time to draw." in page
    assert "Not passed" in page


def test_where_nothing_was_called_words_stand_in_the_place_of_an_empty_plot() -> None:
    job = Job("spin-rejoins", 4, NOBODY)
    tape, score = taped(job)
    drawn = cast(drill(job.drill), venue(), job.seed, ["desk"])
    page = report(score, drawn, facts(tape, venue()))
    assert "Nothing was called this time: there is no time to draw." in page
    assert page.count("<svg") == 2


def test_names_are_escaped() -> None:
    tape, score = taped(Job("spin-rejoins", 4))
    tape.head = type(tape.head)(
        drill="spin-rejoins", venue="harbour-loop", seed=4, seats={"desk": "x"}, lean=True
    )
    drawn = cast(drill("spin-rejoins"), venue(), 4, ["desk"])
    named = type(score)(
        **{**{name: getattr(score, name) for name in score.__struct_fields__}, "who": "<b>Ada"}
    )
    assert "<b>Ada" not in report(named, drawn, facts(tape, venue()))


@pytest.mark.gate
@pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
def test_it_opens_in_a_browser_and_prints_on_a4(page: str) -> None:
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where a browser is

    file = BUILT / "debrief.html"
    write(file, page)
    asked: list[str] = []
    said: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": 1000, "height": 1400})
        tab.on("request", lambda request: asked.append(request.url))
        tab.on("console", lambda message: said.append(message.text))
        tab.goto(file.as_uri())
        assert tab.locator("svg").count() == 3
        boxes = [svg.bounding_box() for svg in tab.locator("svg").all()]
        assert all(box is not None and box["width"] > 500 and box["height"] > 100 for box in boxes)
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
        tab.screenshot(path=str(BUILT / "debrief.png"), full_page=True)
        tab.emulate_media(media="print")
        pdf = tab.pdf(path=str(BUILT / "debrief.pdf"), format="A4", print_background=False)
        browser.close()
    assert asked == [file.as_uri()], "it asks for nothing but itself"
    assert said == []
    assert pdf.startswith(b"%PDF")
