"""The opening check over HTTP: asked before it is told, kept, gone on with, one at a time."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from tests.opening.town import Town, small, without_karts
from tests.panel.court import WALKED_LEASE_MS, WITHIN_S, Court, Visitor, patient


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Court]:
    venue = patient(without_karts(small()), lease_ms=WALKED_LEASE_MS)
    with Court(tmp_path_factory.mktemp("walk"), venue=venue, stage=Town) as court:
        yield court


@pytest.fixture
def desk(walked: Court) -> Iterator[Visitor]:
    visitor = walked.at("desk", "Ada Westerby")
    visitor.look(lambda shown: "Closed" in shown["status"])
    yield visitor
    step(visitor, "end")
    visitor.close()


def step(visitor: Visitor, act: str, **fields: Any) -> str:
    """Do a step, and wait until the walk asks for the next."""
    answer = visitor.http.post(f"/walk/{act}", json=fields, headers={"x-kerblight": visitor.csrf})
    deadline = time.monotonic() + WITHIN_S
    while answer.json().get("busy"):
        assert time.monotonic() < deadline, answer.text
        time.sleep(0.1)
        answer = visitor.http.get("/walk/now")
    assert answer.status_code == 200, answer.text
    return str(answer.json()["html"])


def burning(court: Court, html: str) -> list[str]:
    """Go and look for as long as a flash takes: what really burns on the head that is asked about."""
    stand = re.search(r'class="stand">(\w+),', html)
    assert stand, html
    seen: set[str] = set()
    for _ in range(6):
        lights = court.stage.lights(stand.group(1))  # type: ignore[attr-defined]
        seen |= {lamp for lamp, level in lights.items() if level}
        time.sleep(0.2)
    return sorted(seen)


def asked(html: str) -> str:
    found = re.search(r'data-asks="([a-z-]+)"', html)
    return found.group(1) if found else ""


def test_what_is_seen_is_asked_before_what_is_due_is_told(walked: Court, desk: Visitor) -> None:
    question = step(desk, "begin")
    assert asked(question) == "lamps"
    assert "expected" not in question
    html = step(desk, "say", lamps=burning(walked, question))
    assert 'class="finding passed"' in html
    assert asked(html) == "lamps"
    lamps = burning(walked, html)
    html = step(desk, "say", lamps=[])
    assert 'class="finding failed"' in html
    assert f"<strong>expected {lamps[0]} alone" in html


def test_a_walk_that_was_ended_goes_on_where_it_was(desk: Visitor) -> None:
    html = step(desk, "begin")
    row = re.search(r"(\d+) of (\d+)", html)
    assert row
    step(desk, "say", unseen=True)
    ended = step(desk, "end")
    assert "Begin, or go on" in ended
    desk.look(lambda shown: "Closed" in shown["status"])
    again = step(desk, "begin")
    later = re.search(r"(\d+) of (\d+)", again)
    assert later
    assert int(later.group(1)) == int(row.group(1)) + 1


def test_lamps_are_lent_while_somebody_walks_and_given_back_after(desk: Visitor) -> None:
    step(desk, "begin")
    desk.look(lambda shown: "Test" in shown["status"])
    step(desk, "end")
    desk.look(lambda shown: "Closed" in shown["status"])


def test_nobody_else_walks_meanwhile(walked: Court, desk: Visitor) -> None:
    step(desk, "begin")
    bank = walked.at("bank", "Ada Westerby")
    bank.look()
    html = step(bank, "begin")
    assert "under way" in html
    assert step(bank, "end") == html
    assert asked(step(desk, "go")), "it is still the desk's"
    bank.close()


def test_an_open_yellow_is_told_as_what_keeps_the_walk_from_beginning(desk: Visitor) -> None:
    desk.call("caution", where="a", kind="incident")
    html = step(desk, "begin")
    assert "Yellow stands in 1 South" in html
    desk.done("lift", hold="caution:a:desk", checked=True)
    assert asked(step(desk, "begin"))


def test_a_stop_takes_the_lamps_back_and_the_walk_says_so(desk: Visitor) -> None:
    step(desk, "begin")
    desk.call("stop", kind="incident")
    html = step(desk, "say", lamps=["red"])
    assert "counts for nothing" in html
    desk.done("lift", hold="stop:desk", checked=True)
    desk.done("clear", checked=True)


def test_rows_that_nobody_saw_keep_the_verdict_back(desk: Visitor) -> None:
    step(desk, "begin")
    html = step(desk, "sign", verdict="open", by="Ada Westerby")
    assert "not seen yet" in html
    html = step(desk, "sign", verdict="do-not-open", by="Ada Westerby", witness="Bo Marsh")
    assert "Signed: Do not open" in html
    page = desk.http.get("/walk").text
    run = re.search(r"/walk/record/([0-9a-z-]+)\.json", page)
    assert run
    record = desk.http.get(f"/walk/record/{run.group(1)}.json").json()
    assert record["signed"]["verdict"] == "do-not-open"
    assert record["signed"]["witness"] == "Bo Marsh"
    assert "Do not open" in page


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/walk/dance", b"{}", 404),
        ("/walk/say", b'{"lamps": 7}', 400),
        ("/walk/say", b"{", 400),
        ("/walk/sign", b'{"verdict": "perhaps", "by": "Ada"}', 400),
    ],
)
def test_what_is_no_step_is_refused(desk: Visitor, path: str, body: bytes, status: int) -> None:
    answer = desk.http.post(path, content=body, headers={"x-kerblight": desk.csrf})
    assert answer.status_code == status


@pytest.mark.parametrize("run", ["../../panel-sessions", "..%2f..%2fpanel-sessions", "nothing-here", "a/b"])
def test_only_records_are_given_out(desk: Visitor, run: str) -> None:
    answer: httpx.Response = desk.http.get(f"/walk/record/{run}.json")
    assert answer.status_code == 404
