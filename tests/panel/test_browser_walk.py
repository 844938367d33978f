"""A technician's morning in a real browser: two planted faults are found, nothing opens, repaired, it opens.

The tester here sees only which lamps burn, and says so on the page.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AsyncExitStack
from dataclasses import dataclass

import msgspec
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from signals.opening.floor import floor_of
from signals.opening.sheet import Question, Said
from tests.opening.town import Town, Walker, small
from tests.panel.browsing import chromium, confirm_all, in_browser, opened, sign_in, violations
from tests.panel.court import WALKED_LEASE_MS, Court, patient

pytestmark = in_browser
ITEMS = ("barriers", "brakes")
STEP_MS, CAUSES_MS = 30_000, 150_000
RESTS = "() => !document.querySelector('#walk .busy, #walk[aria-busy]')"
"""Nothing is being done now."""


@pytest.fixture
def court(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Court]:
    venue = small()
    fewer = tuple(item for item in venue.check_items if item.id in ITEMS)
    venue = patient(msgspec.structs.replace(venue, check_items=fewer), lease_ms=WALKED_LEASE_MS)
    with Court(tmp_path_factory.mktemp("morning"), venue=venue, stage=Town) as court:
        yield court


@dataclass
class Technician:
    """Walks with a phone: asks nobody but the lamps."""

    court: Court
    page: Page
    walker: Walker

    def walk(self) -> None:
        """Answer until nothing more is asked."""
        while (question := self._asked()) is not None:
            self._answer(question, self.court.do(lambda question=question: self.walker.say(question)))

    def _asked(self) -> Question | None:
        self.page.wait_for_selector("#walk:not([aria-busy]) :is(form, [data-walk=causes])", timeout=STEP_MS)
        self.page.wait_for_function(RESTS, timeout=STEP_MS)
        step = self.court.site._walking.step
        return step if isinstance(step, Question) else None

    def _answer(self, question: Question, said: Said) -> None:
        walk = self.page.locator("#walk")
        if said.number is not None and question.reads_number:
            walk.locator("#number").fill(str(said.number))
        match question.asks:
            case "lamps":
                for lamp in said.lamps or ():
                    walk.locator(f"[name=lamps][value={lamp}]").check()
                walk.get_by_text("These burn" if said.lamps else "Nothing burns").click()
            case "shows" | "cut-off":
                walk.locator(f"[name=aspect][value={said.aspect}]").click()
            case "answers":
                walk.locator(f"[name=kart][value='{said.kart}']" if said.kart else "[name=nokart]").click()
            case "speed":
                walk.locator("#kmh").fill(f"{said.kmh:g}")
                walk.get_by_text("So fast").click()
            case "good":
                walk.locator("[name=good][value=yes]").click()
            case "press":
                walk.get_by_text("Done").click()
        self.page.wait_for_function(RESTS, timeout=STEP_MS)


@pytest.fixture
def browser() -> Iterator[Browser]:
    with chromium() as started:
        yield started


def test_two_planted_faults_are_found_and_repaired_and_only_then_a_start_is_accepted(
    court: Court, browser: Browser
) -> None:
    town = court.stage
    assert isinstance(town, Town)
    ears = AsyncExitStack()
    floor = court.do(
        lambda: ears.enter_async_context(floor_of(court.venue, town.link, post="bank", device="eyes"))
    )
    try:
        with opened(browser, court.url, 360) as page:
            sign_in(page, "desk", "Ada Westerby")
            technician = Technician(court, page, Walker(town, floor.ears))
            swapped, dead = town.devices["H4-RED"], town.devices["H3-YEL"]
            swapped.crossed = {"H4-RED": "H4-GRE", "H4-GRE": "H4-RED"}
            dead.dead.add("H3-YEL")
            _begin(page)
            technician.walk()
            walk = page.locator("#walk")
            assert violations(page) == []
            expect(walk).to_contain_text("head h4: green; expected red alone")
            expect(walk).to_contain_text("head h4: red; expected green alone")
            expect(walk).to_contain_text("head h3: nothing; expected yellow alone")
            _sign(page, "open")
            expect(walk.locator(".outcome.refused")).to_contain_text("3 rows failed")
            _sign(page, "do-not-open")
            expect(walk).to_contain_text("Signed: Do not open")
            page.get_by_text("Close the check").click()
            expect(walk).to_contain_text("Begin, or go on")

            expect(_ready(page)).to_contain_text("No passed opening check of today stands.")
            _home(page)

            swapped.crossed.clear()
            dead.dead.clear()
            _begin(page)
            technician.walk()
            page.get_by_text("Repaired: test again what failed").click()
            technician.walk()
            expect(walk.locator(".finding.failed")).to_have_count(0)
            page.get_by_text("Run cause and effect").click()
            page.wait_for_function(RESTS, timeout=CAUSES_MS)
            expect(walk.locator(".finding.failed")).to_have_count(0)
            _sign(page, "open")
            expect(walk).to_contain_text("Signed: Open")
            page.get_by_text("Close the check").click()

            assert "No passed opening check" not in (_ready(page).text_content() or "")
            expect(page.locator(".top .phase")).to_have_text("Ready")
    finally:
        court.do(ears.aclose)


def _begin(page: Page) -> None:
    page.click(".pages a[href='/walk']")
    page.click("[data-walk=begin]")


def _sign(page: Page, verdict: str) -> None:
    page.check(f"[name=verdict][value={verdict}]")
    page.fill("#sign-by", "Ada Westerby")
    page.click("#walk >> text=Sign >> nth=-1")
    page.wait_for_function(RESTS, timeout=STEP_MS)


def _ready(page: Page) -> Locator:
    """Bring a group in, confirm all, call ready; gives where the answer stands."""
    page.click(".pages a[href='/group']")
    page.fill("[data-kart='1']", "Kim")
    page.click("text=Prepare this group")
    expect(page.locator("[data-region=group]")).to_contain_text("Next group")
    page.click(".pages a[href='/']")
    page.click("[data-pane=session]")
    page.click(".session >> text=Group in")
    confirm_all(page)
    page.click(".session >> text=Ready")
    answer = page.locator(".session .grid .answer")
    expect(answer).not_to_be_empty()
    return answer


def _home(page: Page) -> None:
    page.click(".session >> text=Close")
    expect(page.locator(".top .phase")).to_have_text("Closed")
