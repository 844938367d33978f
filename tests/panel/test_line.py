"""Calls over the open line, over a real server: the same answers as a request's, and the same doors shut."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import suppress

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus

from signals.panel import calling
from tests.panel.court import WITHIN_S, Court, Visitor, signed_in

STALE = ["It came late, on an old picture: look again, then call again."]


@pytest.fixture(autouse=True)
def _every_refusal_is_logged(court: Court) -> None:
    court.site._visits.refusals._seen.clear()


@pytest.fixture
def stranger(court: Court) -> Iterator[Visitor]:
    visitor = court.visitor()
    yield visitor
    visitor.close()


def refused(visitor: Visitor, **headers: str) -> int:
    """Try to open a line that must not open; gives the status."""
    with pytest.raises(InvalidStatus) as came, visitor.line(word="", **headers):
        pass
    return came.value.response.status_code


def until(holds: Callable[[], bool]) -> None:
    ends_s = time.monotonic() + WITHIN_S
    while not holds():
        assert time.monotonic() < ends_s
        time.sleep(0.01)


def test_calls_and_refusals_say_what_a_request_says(desk: Visitor, p1: Visitor) -> None:
    p1.look()
    with p1.line() as line:
        line.ready()
        number = line.send("caution", where="s3", kind="incident")
        assert line.said() == (
            number, 200, {"title": "Yellow 3 Hairpin: done.", "lines": [], "accepted": True},
        )  # fmt: skip
        line.send("caution", where=7)
        _, status, said = line.said()
        assert (status, said["title"]) == (400, "Not sent.")
        p1.heard -= 5_000
        line.send("start")
        assert line.said()[1:] == (409, {"title": "Start was not sent.", "lines": STALE, "accepted": False})
        line.send("stop", kind="incident")
        assert line.said()[2]["accepted"], "red is sent on however late"
    assert "by Post 1 at" in desk.look(lambda shown: "Red" in shown["holds"])["holds"]


def test_a_call_beyond_the_posts_authority_is_refused_logged_and_recorded(
    desk: Visitor, p1: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    p1.look()
    with p1.line() as line:
        line.ready().send("start")
        _, status, said = line.said()
    assert (status, said["title"]) == (200, "Start refused.")
    assert "Post 1 may not call Start." in said["lines"]
    assert "may not call Start" in caplog.text
    assert "may not call Start" in desk.http.get("/journal?show=calls").text


def test_who_called_is_the_person_signed_in_whatever_a_page_claims(desk: Visitor) -> None:
    desk.look()
    with desk.line() as line:
        line.ready().send("caution", where="s2", kind="incident", by="Somebody Else")
        assert line.said()[2]["accepted"]
    assert "Mika Sandbrook" in desk.http.get("/journal?show=calls").text


def test_red_and_the_phone_back_in_the_pocket(court: Court, desk: Visitor) -> None:
    with signed_in(court, "p2") as marshal:
        marshal.look()
        with marshal.line() as line:
            line.ready().send("stop", kind="incident")
    assert "by Post 2" in desk.look(lambda shown: "by Post 2" in shown["holds"])["holds"]


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": ""},
        {"origin": "null"},
        {"origin": "http://elsewhere.example"},
        {"sec-fetch-site": "cross-site"},
    ],
    ids=str,
)
def test_no_other_sites_page_opens_a_line(
    desk: Visitor, headers: dict[str, str], caplog: pytest.LogCaptureFixture
) -> None:
    assert refused(desk, **headers) == 403
    assert "refused a line to /line from 127.0.0.1" in caplog.text


def test_no_line_by_a_name_that_is_not_ours(desk: Visitor) -> None:
    opens = {
        "host": "rebound.example",
        "origin": "http://rebound.example",
        "connection": "Upgrade",
        "upgrade": "websocket",
        "sec-websocket-key": "AAAAAAAAAAAAAAAAAAAAAA==",
        "sec-websocket-version": "13",
    }
    assert desk.http.get("/line", headers=opens).status_code == 421


def test_strangers_and_forged_sessions_open_none(
    court: Court, stranger: Visitor, desk: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    assert refused(stranger) == 401
    ((name, _),) = desk.http.cookies.items()
    assert refused(stranger, cookie=f"{name}=forged") == 401
    assert "refused session at /line from 127.0.0.1: unknown or over" in caplog.text


def test_a_line_is_shut_without_its_sessions_word(
    court: Court, desk: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    with signed_in(court, "desk") as other:
        for word in ("", "0" * 64, "é", other.csrf):
            with desk.line(word=word) as line:
                assert line.closed() == (1008, "without its session's word")
    assert "refused a line for calls from 127.0.0.1: without its session's word" in caplog.text


def test_a_line_that_says_nothing_is_shut(desk: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calling, "WORD_WITHIN_S", 0.1)
    monkeypatch.setattr("tests.panel.court.ClientConnection.send", lambda *_: None)
    with desk.line() as line:
        assert line.closed() == (1008, "without its session's word")


def test_a_session_that_has_ended_calls_nothing(court: Court, desk: Visitor) -> None:
    with signed_in(court, "p2") as marshal:
        marshal.look()
        with marshal.line() as line:
            line.ready()
            marshal.http.post("/sign-out", headers={"x-kerblight": marshal.csrf})
            number = line.send("stop", kind="incident")
            assert line.said() == (
                number, 401, {"title": "Signed out.", "lines": ["Sign in again."], "accepted": False},
            )  # fmt: skip
            assert line.closed()[0] == 1008
    assert "by Post 2" not in desk.look()["holds"]


@pytest.mark.parametrize("text", ["", "red", "1", "one {}", "1234567890 {}", b"1 {}"], ids=str)
def test_what_is_no_numbered_call_shuts_the_line(desk: Visitor, text: str | bytes) -> None:
    with desk.line() as line:
        line.ready().socket.send(text)
        assert line.closed() == (1008, "what is no numbered call")


@pytest.mark.parametrize(
    "call", ["{}", "[]", "nonsense", '{"call": 7}', "[" * 5000, '{"call": {}, "more": 1}']
)
def test_what_is_no_call_is_told_so_and_the_line_stays(desk: Visitor, call: str) -> None:
    desk.look()
    with desk.line() as line:
        line.ready().socket.send(f"7 {call}")
        assert line.said()[:2] == (7, 400)
        line.send("caution", where="s1", kind="incident")
        assert line.said()[2]["accepted"]


def test_a_megabyte_is_refused_and_logged_and_the_page_stays_up(
    desk: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    with desk.line() as line:
        line.ready().raw(0x81, 2**20)
        assert line.closed()[0] == 1009
    with desk.line() as line:
        line.ready().raw(0x01, 2**12, b"1 ".ljust(2**12, b"x"))
        for size in (2**12, 2**12, 2**12):
            line.raw(0x00, size, b"x" * size)
        line.raw(0x00, 2**12)
        assert line.closed()[0] == 1009
    with desk.line() as line:
        with suppress(ConnectionClosed):  # its end, and why, may be overrun by what is still on its way
            line.ready().socket.send("1 " + "x" * 2**20)
        line.closed()
    until(lambda: caplog.text.count("a line for calls from 127.0.0.1: more than a call can be") == 3)
    assert desk.http.get("/").status_code == 200


def test_a_flood_of_calls_shuts_its_line(court: Court, desk: Visitor) -> None:
    desk.look()
    court.kill("controller")
    try:
        with desk.line() as line:
            line.ready()
            for _ in range(calling.UNDER_WAY_MAX + 1):
                line.send("stop", kind="incident")
            assert line.closed() == (1008, "too many calls at once")
    finally:
        court.start("controller")


def test_more_lines_than_there_may_be_are_turned_away(
    court: Court, desk: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    until(lambda: not court.site._calling.lines)  # other tests' end in their own time
    monkeypatch.setattr(calling, "LINES_MAX", 1)
    with desk.line() as line:
        line.ready()
        assert refused(desk) == 503
        assert desk.call("caution", where="s1", kind="incident").json()["accepted"], "a request still goes"


def test_an_answer_is_json_in_one_line(desk: Visitor) -> None:
    desk.look()
    with desk.line() as line:
        line.ready().send("caution", where="s1", kind="incident")
        number, status, said = str(line.socket.recv(5)).split(" ", 2)
    assert (number, status) == ("1", "200")
    assert json.loads(said)["accepted"]
