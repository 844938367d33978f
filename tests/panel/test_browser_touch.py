"""Fingers on a real page: what calls, what does not, once only, and by which way it goes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from playwright.sync_api import Browser, CDPSession, Locator, Page, Request, WebSocket, expect

from tests.panel.browsing import WITHIN_MS, chromium, in_browser, opened, sign_in
from tests.panel.court import Court

pytestmark = in_browser
RED = ".dock .red"
YELLOW = "[data-id=s1] .yellow"
LONG_MS = 900
"""Longer than what Chromium takes for a long press, of which it makes no click."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as started:
        yield started


@dataclass
class Sent:
    """Every call that leaves a page, by either way; and how often a line was ready."""

    page: Page
    ready: int = 0
    line: list[dict[str, Any]] = field(default_factory=list)
    requests: list[dict[str, Any]] = field(default_factory=list)

    @classmethod
    def by(cls, page: Page) -> Sent:
        """Listen to a page from now on."""
        sent = cls(page)

        def frame(payload: str | bytes) -> None:
            number, _, call = str(payload).partition(" ")
            if number.isdecimal():
                sent.line.append(json.loads(call)["call"])

        def came(payload: str | bytes) -> None:
            sent.ready += payload == "ready"

        def listens(socket: WebSocket) -> None:
            socket.on("framesent", frame)
            socket.on("framereceived", came)

        def request(asked: Request) -> None:
            if asked.url.endswith("/call"):
                sent.requests.append(json.loads(asked.post_data or "")["call"])

        page.on("websocket", listens)
        page.on("request", request)
        return sent

    def wait_ready(self, times: int = 1) -> None:
        """Wait until a line was ready so often."""
        for _ in range(WITHIN_MS // 20):
            if self.ready >= times:
                return
            self.page.wait_for_timeout(20)
        raise AssertionError("no line is ready")

    @property
    def words(self) -> list[str]:
        """All of them, those over the line first."""
        return [call["call"] for call in (*self.line, *self.requests)]


class Finger:
    """One or several fingers, as the browser's own input."""

    def __init__(self, page: Page) -> None:
        self._cdp: CDPSession = page.context.new_cdp_session(page)

    def down(self, *places: tuple[float, float]) -> None:
        self._send("touchStart", places)

    def move(self, *places: tuple[float, float]) -> None:
        self._send("touchMove", places)

    def up(self) -> None:
        """Lift whatever is down."""
        self._send("touchEnd", ())

    def up_second(self, place: tuple[float, float]) -> None:
        """Lift the second finger, and leave the first."""
        points = [{"x": place[0], "y": place[1], "id": 1}]
        self._cdp.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": points})

    def _send(self, what: str, places: tuple[tuple[float, float], ...]) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
        self._cdp.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})


def middle(place: Locator) -> tuple[float, float]:
    box = place.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.fixture
def page(court: Court, browser: Browser) -> Iterator[Page]:
    with opened(browser, court.url, 360) as page:
        yield page


@pytest.fixture
def sent(page: Page) -> Sent:
    sent = Sent.by(page)
    sign_in(page, "p1")
    sent.wait_ready()
    return sent


@pytest.fixture
def finger(page: Page, sent: Sent) -> Finger:
    assert not sent.words
    return Finger(page)


def test_a_touch_calls_once_over_the_open_line(page: Page, sent: Sent) -> None:
    page.locator(YELLOW).tap()
    expect(page.locator(".hold")).to_have_count(1)
    expect(page.locator("[data-id=s1] .outcome")).to_have_text("Yellow 1 Quay: done.")
    page.locator(RED).tap()
    expect(page.locator(".top .condition")).to_have_text("RED")
    page.wait_for_timeout(200)
    assert [(call["call"], call.get("where")) for call in sent.line] == [("caution", "s1"), ("stop", None)]
    assert sent.requests == []


def test_without_the_line_a_touch_calls_by_a_request(court: Court, browser: Browser) -> None:
    with opened(browser, court.url, 360) as page:
        sent = Sent.by(page)
        page.route_web_socket("**/line", lambda line: line.close())
        sign_in(page, "p1")
        page.locator(YELLOW).tap()
        expect(page.locator(".hold")).to_have_count(1)
        assert [call["where"] for call in sent.requests] == ["s1"]
        assert sent.line == []


def test_a_line_that_ended_comes_back(court: Court, page: Page, sent: Sent) -> None:
    for connection in court.do(lambda: _lines(court)):
        court.do(lambda connection=connection: connection.close())
    sent.wait_ready(2)
    page.locator(YELLOW).tap()
    expect(page.locator(".hold")).to_have_count(1)
    assert (sent.words, sent.requests) == (["caution"], [])


async def _lines(court: Court) -> list[Any]:
    return list(court.site._calling.lines)


def test_a_scroll_that_begins_on_a_call_calls_nothing(page: Page, sent: Sent, finger: Finger) -> None:
    x, y = middle(page.locator(YELLOW))
    finger.down((x, y))
    for by in range(10, 160, 10):
        finger.move((x, y - by))
    finger.up()
    page.wait_for_function("() => scrollY > 50")
    page.wait_for_timeout(300)
    assert sent.words == []


def test_a_finger_that_slides_off_calls_nothing_and_one_that_slips_on_red_calls(
    page: Page, sent: Sent, finger: Finger
) -> None:
    x, y = middle(page.locator(RED))
    finger.down((x, y))
    finger.move((x, y - 200))
    finger.up()
    page.wait_for_timeout(300)
    assert sent.words == []
    finger.down((x, y))
    for by in range(4, 44, 4):
        finger.move((x - by, y))
    finger.up()
    expect(page.locator(".top .condition")).to_have_text("RED")
    assert sent.words == ["stop"]


def test_a_finger_that_presses_long_calls_and_a_hand_that_rests_does_not(
    page: Page, sent: Sent, finger: Finger
) -> None:
    spot = middle(page.locator(RED))
    finger.down(spot)
    page.wait_for_timeout(2300)
    finger.up()
    page.wait_for_timeout(300)
    assert sent.words == []
    finger.down(spot)
    page.wait_for_timeout(LONG_MS)
    finger.up()
    expect(page.locator(".top .condition")).to_have_text("RED")
    page.wait_for_timeout(200)
    assert sent.words == ["stop"]


def test_red_is_called_while_another_finger_rests_on_the_screen(
    page: Page, sent: Sent, finger: Finger
) -> None:
    thumb, spot = (4.0, 300.0), middle(page.locator(RED))
    finger.down(thumb)
    finger.down(thumb, spot)
    finger.up_second(spot)
    expect(page.locator(".top .condition")).to_have_text("RED")
    finger.up()
    page.wait_for_timeout(200)
    assert sent.words == ["stop"]


def test_keys_a_mouse_and_a_screen_readers_click_call_once_each(page: Page, sent: Sent) -> None:
    page.locator("[data-id=s1] .yellow").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".hold")).to_have_count(1)
    page.locator("[data-id=s2] .yellow").click()
    expect(page.locator(".hold")).to_have_count(2)
    page.locator("[data-id=s3] .yellow").evaluate("(button) => button.click()")
    expect(page.locator(".hold")).to_have_count(3)
    page.wait_for_timeout(200)
    assert [call["where"] for call in sent.line] == ["s1", "s2", "s3"]


def test_a_press_calls_what_it_came_down_on_though_the_page_moved_meanwhile_and_nothing_that_is_gone(
    page: Page, sent: Sent, finger: Finger
) -> None:
    finger.down(middle(page.locator(YELLOW)))
    page.locator("[data-id=s1]").evaluate("(row) => row.before(document.createElement('hr'), 'moved')")
    finger.up()
    expect(page.locator(".hold")).to_have_count(1)
    assert [call["where"] for call in sent.line] == ["s1"]
    other = page.locator("[data-id=s2] .yellow")
    finger.down(middle(other))
    other.evaluate("(button) => button.remove()")
    finger.up()
    page.wait_for_timeout(300)
    assert [call["where"] for call in sent.line] == ["s1"]


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_red_stays_where_it_is_whatever_was_said_to_it(court: Court, browser: Browser, width: int) -> None:
    with opened(browser, court.url, width) as page:
        sign_in(page, "p1")
        before = middle(page.locator(RED))
        page.locator(RED).click()
        expect(page.locator(".dock .outcome")).to_be_visible()
        assert middle(page.locator(RED)) == pytest.approx(before, abs=1)


def test_what_asks_first_asks_however_long_the_press(page: Page, sent: Sent, finger: Finger) -> None:
    page.locator(YELLOW).tap()
    expect(page.locator(".hold")).to_have_count(1)
    page.wait_for_timeout(800)
    page.locator(".hold .call").first.tap()
    expect(page.locator(".question")).to_have_count(1)
    assert sent.words == ["caution"]
