"""A real browser on a real page: Debian's Chromium, driven by Playwright."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from axe_core_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Playwright, expect, sync_playwright

CHROMIUM = Path("/usr/bin/chromium")
WITHIN_MS = 8_000
SIZES = {360: 740, 768: 1024, 1280: 800, 1920: 1080}
SCHEMES = ("dark", "light")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]

in_browser = [
    pytest.mark.gate,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="chromium is not installed"),
]


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start the browser."""
    with sync_playwright() as playwright:
        yield _launched(playwright)


def _launched(playwright: Playwright) -> Browser:
    return playwright.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])


@contextmanager
def opened(browser: Browser, url: str, width: int = 1280, **how: Any) -> Iterator[Page]:
    """Open a window at a size; a script's error or a refused resource fails the test."""
    size = {"width": width, "height": SIZES.get(width, 800)}
    context = browser.new_context(base_url=url, viewport=size, has_touch=width < 1000, **how)
    page, wrong = context.new_page(), []
    page.set_default_timeout(WITHIN_MS)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if "Content Security" in said.text else None)
    try:
        yield page
    finally:
        context.close()
    assert not wrong, wrong


def sign_in(page: Page, post: str, person: str = "") -> None:
    """Take a post."""
    page.goto("/sign-in")
    page.check(f"input[value={post}]")
    page.fill("#person", person)
    page.click("text=Sign in >> nth=-1")
    page.wait_for_selector(".sector-row")
    page.wait_for_selector("html.live")


def confirm_all(page: Page) -> None:
    """Confirm every item of the checklist, one after the other, each when the one before is done."""
    items = page.locator(".items .call")
    expect(items.first).to_be_visible()
    for left in range(items.count() - 1, -1, -1):
        items.first.click()
        expect(items).to_have_count(left)


def violations(page: Page) -> list[str]:
    """Give what axe finds, with the places."""
    found = Axe().run(
        page, options={"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]}
    )["violations"]
    return [
        f"{each['id']}: {node['target']} {node['failureSummary']}" for each in found for node in each["nodes"]
    ]


def overflow_px(page: Page) -> int:
    """Give by how much the page is wider than its window."""
    return int(page.evaluate("() => document.documentElement.scrollWidth - innerWidth"))
