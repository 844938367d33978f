"""The page in a real browser: driven, read by axe, looked at in every size and both schemes."""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.panel.browsing import (
    SCHEMES,
    SIZES,
    chromium,
    confirm_all,
    in_browser,
    opened,
    overflow_px,
    sign_in,
    violations,
)
from tests.panel.court import GROUP, Court, Visitor

pytestmark = in_browser
PAGES = ("/", "/group", "/walk", "/journal", "/shift")
SMALLEST_PX = 24
"""WCAG 2.2, 2.5.8 (AA): the least side of a target, where none of its exceptions holds."""
LOST_WITHIN_MS = 1_000
BARRED = itertools.count(1)
"""Who was shown black is out for the day: each test needs another."""
FLASHES_MAX = 3
"""WCAG 2.2, 2.3.1."""
HIDE = """(is) => {
    Object.defineProperty(document, 'hidden', { value: is, configurable: true });
    document.dispatchEvent(new Event('visibilitychange'));
}"""
SMALL = """(least) => [...document.querySelectorAll('button, a, input:not([type=hidden]), select, summary')]
    .filter((each) => each.offsetParent && !each.classList.contains('skip'))
    .map((each) => [(each.closest('label') || each).getBoundingClientRect(), each.innerText || each.name])
    .filter(([box]) => box.width < least || box.height < least)
    .map(([box, name]) => [name, box.width, box.height])"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as started:
        yield started


@pytest.fixture
def busy(court: Court, desk: Visitor, p1: Visitor) -> Court:
    """A group is in, yellow and black stand, another group is prepared."""
    barred = {"number": 7, "driver": f"Zed-{next(BARRED)} Outsider", "class": "adult"}
    desk.done("prepare", entries=[*GROUP, barred])
    desk.done("stage")
    desk.done("confirm", item="helmets")
    desk.done("prepare", entries=[{"number": 9, "driver": "Nico", "class": "junior"}])
    desk.done("disqualify-one", kart=7)
    p1.call("caution", where="s3", kind="incident")
    desk.call("caution", where="s2", kind="person-on-track")
    return court


def touch(page: Page, selector: str) -> None:
    page.locator(selector).first.click()


# --- driven


def test_yellow_is_one_touch_and_a_refusal_stands_beside_its_call(court: Court, browser: Browser) -> None:
    with opened(browser, court.url, 360) as marshal, opened(browser, court.url) as other:
        sign_in(marshal, "p1", "Tove Merriweather")
        sign_in(other, "p2", "Idris Fairholm")
        touch(marshal, "[data-id=s3] .yellow")
        expect(other.locator(".holds .hold")).to_contain_text("Yellow 3 Hairpin")
        expect(other.locator(".holds .hold")).to_contain_text("by Post 1")
        expect(other.locator(".top .condition")).to_have_text("YELLOW 3 Hairpin")
        touch(other, ".hold .call")
        question = other.locator(".hold .question")
        expect(question).to_contain_text("Has the place been checked?")
        other.wait_for_timeout(400)
        question.locator("[data-answer=yes]").click()
        refused = other.locator(".hold .outcome.refused")
        expect(refused).to_contain_text("Lift yellow 3 Hairpin by Post 1 refused.")
        expect(refused).to_contain_text("it is not yours to lift")
        other.wait_for_timeout(600)
        expect(refused, "it stays until the next call").to_be_visible()
        touch(other, "[data-id=s5] .yellow")
        expect(refused).to_have_count(0)


def test_what_widens_danger_asks_first_and_the_question_falls_with_its_picture(
    court: Court, browser: Browser
) -> None:
    with opened(browser, court.url) as page:
        sign_in(page, "p1")
        touch(page, "[data-id=s1] .yellow")
        touch(page, ".hold .call")
        expect(page.locator(".question")).to_be_visible()
        expect(page.locator("#asked")).to_be_focused()
        page.keyboard.press("Escape")
        expect(page.locator(".question")).to_have_count(0)
        expect(page.locator(".hold .call").first).to_be_focused()
        touch(page, ".hold .call")
        marshal = court.at("p2")
        marshal.call("caution", where="s4", kind="incident")
        marshal.close()
        expect(page.locator(".outcome.refused")).to_contain_text("Look again: the picture has changed.")
        page.wait_for_timeout(200)
        expect(page.locator(".hold")).to_have_count(2)


def test_a_second_tap_of_the_same_finger_answers_no_question(court: Court, browser: Browser) -> None:
    with opened(browser, court.url, 360) as page:
        sign_in(page, "p1")
        touch(page, "[data-id=s1] .yellow")
        expect(page.locator(".hold")).to_have_count(1)
        touch(page, ".hold .call")
        page.locator("[data-answer=yes]").dispatch_event("click")
        expect(page.locator(".question"), "too soon to be meant").to_be_visible()
        expect(page.locator(".hold")).to_have_count(1)


def test_a_session_from_group_to_start_by_touch_alone(court: Court, browser: Browser) -> None:
    with opened(browser, court.url) as page:
        sign_in(page, "desk", "Mika Sandbrook")
        page.click(".pages a[href='/group']")
        page.fill("[data-kart='1']", "Ada")
        page.fill("[data-kart='2']", "Bo")
        page.click("text=Prepare this group")
        expect(page.locator("[data-region=group]")).to_contain_text("Next group: 2 karts")
        page.click(".pages a[href='/']")
        page.click(".session >> text=Group in")
        confirm_all(page)
        expect(page.locator(".items .done")).to_have_count(len(court.venue.checklist))
        expect(page.locator(".items").first).to_contain_text("Mika Sandbrook")
        page.click(".session >> text=Ready")
        expect(page.locator(".top .phase")).to_have_text("Ready")
        page.click(".session >> text=Start…")
        page.wait_for_timeout(400)
        page.click("[data-answer=yes]")
        expect(page.locator(".top .phase")).to_have_text("Racing")
        expect(page.locator(".top .clock")).to_have_text("8:00", timeout=2000)
        expect(page.locator(".outs .call").first).to_have_text("Let out 1, Ada…")


def test_everything_is_reached_by_keys_alone(court: Court, browser: Browser) -> None:
    with opened(browser, court.url) as page:
        page.goto("/sign-in")
        page.keyboard.press("Tab")
        page.keyboard.press("ArrowDown")
        for _ in range(2):
            page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.wait_for_selector(".sector-row")
        expect(page.locator(".post")).to_contain_text("Post 1")
        reached: set[str] = set()
        for _ in range(160):
            page.keyboard.press("Tab")
            reached.add(
                page.evaluate(
                    "() => document.activeElement.dataset.call || document.activeElement.href || ''"
                )
            )
        calls = "() => [...document.querySelectorAll('.call')].filter(b => b.checkVisibility())"
        shown = page.evaluate(f"{calls}.map(b => b.dataset.call)")
        assert set(shown) <= reached
        page.locator(".dock .red").focus()
        outline = page.evaluate("() => getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid", "the focus is seen"
        page.keyboard.press("Enter")
        expect(page.locator(".top .condition")).to_have_text("RED")


def test_changes_are_said_to_a_screen_reader(court: Court, browser: Browser) -> None:
    with opened(browser, court.url) as page:
        sign_in(page, "desk")
        expect(page.locator("#alarm")).to_have_attribute("role", "alert")
        marshal = court.at("p2")
        marshal.call("caution", where="s4", kind="incident")
        expect(page.locator("#alarm")).to_have_text("YELLOW 4 Slipway")
        marshal.close()
        touch(page, "[data-id=s1] .yellow")
        expect(page.locator("#said")).to_have_text("Yellow 1 Quay: done.")
        expect(page.get_by_role("button", name="Yellow, 3 Hairpin", exact=True)).to_have_count(1)


# --- the link


def test_a_server_that_hangs_is_told_within_a_second_and_calls_do_not_go_out(
    court: Court, browser: Browser
) -> None:
    with opened(browser, court.url) as page:
        sign_in(page, "p1")
        page.evaluate("""() => {
            const seen = new MutationObserver(() => { window.told ||= performance.now() });
            seen.observe(document.getElementById('nolink'), { attributes: true });
        }""")
        page.wait_for_timeout(300)
        assert page.evaluate("() => window.told ?? null") is None
        before = page.evaluate("() => performance.now()")
        assert court._loop is not None
        court._loop.call_soon_threadsafe(time.sleep, 1.5)
        page.wait_for_function("() => window.told")
        expect(page.locator("#nolink strong")).to_have_text("NO LINK: FLAG AND RADIO")
        assert page.evaluate("() => window.told") - before < LOST_WITHIN_MS
        touch(page, "[data-id=s1] .yellow")
        expect(page.locator("[data-id=s1] .outcome.refused")).to_contain_text("Not sent: there is no link.")
        expect(page.locator("#nolink")).to_be_hidden(timeout=6000)
        page.wait_for_timeout(500)
        mine = page.locator(".hold", has_text="by Post 1")
        expect(mine, "nothing was kept for later").to_have_count(0)


def test_a_controller_that_is_gone_is_told_too(court: Court, browser: Browser) -> None:
    with opened(browser, court.url, 360) as page:
        sign_in(page, "p1")
        court.kill("controller")
        try:
            expect(page.locator("#nolink strong")).to_have_text(
                "NO LINK: FLAG AND RADIO", timeout=LOST_WITHIN_MS + 300
            )
            assert violations(page) == []
        finally:
            court.start("controller")
        expect(page.locator("#nolink")).to_be_hidden(timeout=6000)


def test_a_hidden_page_lets_go_of_its_connection_and_shows_nothing_old_when_seen_again(
    court: Court, browser: Browser
) -> None:
    with opened(browser, court.url) as page:
        sign_in(page, "p2")
        page.evaluate(HIDE, True)
        expect(page.locator("#nolink")).to_be_visible(timeout=1000)
        marshal = court.at("p1")
        marshal.call("caution", where="s2", kind="incident")
        marshal.close()
        expect(page.locator(".hold")).to_have_count(0)
        page.evaluate(HIDE, False)
        expect(page.locator(".hold")).to_have_count(1)
        expect(page.locator("#nolink")).to_be_hidden()


# --- looked at


@pytest.mark.parametrize("scheme", SCHEMES)
def test_axe_finds_nothing_and_nothing_overflows_at_any_size(
    busy: Court, browser: Browser, scheme: str
) -> None:
    wrong: dict[str, list[str]] = {}

    def look(page: Page, name: str) -> None:
        """Look at what is shown now in every size."""
        for width, height in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)))")
            wrong[f"{name} at {width}"] = violations(page)
            assert overflow_px(page) <= 0, (name, width)

    with opened(browser, busy.url, color_scheme=scheme) as page:
        for address in ("/sign-in", "/board"):
            page.goto(address)
            look(page, address)
        sign_in(page, "desk", "Mika Sandbrook")
        for address in PAGES:
            page.goto(address)
            page.wait_for_selector("html.live")
            look(page, address)
        page.goto("/")
        page.wait_for_selector("html.live")
        page.locator(".hold .call").first.click()
        page.wait_for_selector(".question")
        wrong["question"] = violations(page)
        page.locator("[data-pane=karts]").evaluate("(tab) => tab.click()")
        page.locator(".karts summary").first.click()
        page.wait_for_timeout(100)
        wrong["a kart's calls"] = violations(page)
    assert {place: found for place, found in wrong.items() if found} == {}


def test_targets_are_large_enough_for_a_finger(busy: Court, browser: Browser) -> None:
    with opened(browser, busy.url, 360) as page:
        sign_in(page, "desk")
        for address in PAGES:
            page.goto(address)
            page.wait_for_timeout(200)
            small = page.evaluate(SMALL, SMALLEST_PX)
            assert small == [], address


def test_lamps_flash_in_one_phase_and_never_too_fast_and_not_at_all_with_reduced_motion(
    busy: Court, browser: Browser
) -> None:
    counts = """() => new Promise((done) => {
        let turns = 0;
        const root = document.documentElement;
        const seen = new MutationObserver(() => { turns += 1 });
        seen.observe(root, { attributeFilter: ['class'] });
        setTimeout(() => done(turns), 2000);
    })"""
    with opened(browser, busy.url) as page:
        sign_in(page, "p1")
        page.wait_for_selector(".head.flashing")
        turns = page.evaluate(counts)
        assert 2 <= turns <= 2 * 2 * FLASHES_MAX
    with opened(browser, busy.url, reduced_motion="reduce") as page:
        sign_in(page, "p1")
        page.wait_for_selector(".head.flashing")
        assert page.evaluate(counts) == 0


def test_the_board_is_read_from_five_metres(busy: Court, browser: Browser) -> None:
    """A letter's height of a 200th of the distance, 25 mm at 5 m: common practice, no source."""
    with opened(browser, busy.url, 1920) as page:
        page.goto("/board")
        page.wait_for_selector(".cards li")
        expect(page.locator(".cards")).to_contain_text("Ada")
        expect(page.locator(".cards .out")).to_contain_text("black: come in")
        px = page.evaluate("() => parseFloat(getComputedStyle(document.querySelector('.cards li')).fontSize)")
        screen_mm, capital = 941.0, 0.66
        """Width of a 43-inch 16:9 screen; height of a capital of Source Sans in its size."""
        assert px * capital * screen_mm / 1920 >= 25
        box = page.locator("main").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 1080 + 1, "all of it is on one screen"


def test_ages_count_on_and_remind(court: Court, browser: Browser) -> None:
    with opened(browser, court.url) as page:
        sign_in(page, "p1")
        touch(page, "[data-id=s1] .yellow")
        expect(page.locator(".hold .age")).to_have_text("0:02")
        for after_s, says in ((60, "1 minute: is it still needed?"), (60, "2 minutes: tell the desk")):
            page.locator(".hold .age").evaluate("(age, by) => { age.dataset.since -= by * 1000 }", after_s)
            expect(page.locator("#said")).to_contain_text(f"Yellow 1 Quay stands for {says}")
            shown = page.locator(".hold").evaluate("(hold) => getComputedStyle(hold, '::before').content")
            assert says in shown, "it is read beside the hold, too"
