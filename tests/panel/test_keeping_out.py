"""Who is kept out, over a real server: forged, expired, replayed sessions, floods, other sites' pages."""

from __future__ import annotations

import logging
import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from signals.panel import guard
from signals.panel import passwords as passwords_module
from signals.panel.sessions import IDLE_S, WHOLE_S, Session
from signals.panel.tries import FAILURES_MAX
from tests.panel.court import Court, Visitor

GOOD, WRONG = "seven red karts", "seven red carts"


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Court]:
    """A page whose posts need passwords; p1 and desk have one. Trying one costs less than it does outside."""
    with (
        pytest.MonkeyPatch.context() as cheaply,
        Court(tmp_path_factory.mktemp("guarded"), open_posts=False) as court,
    ):
        cheaply.setattr(passwords_module, "COST", 2**10)
        passwords = court.site._signing._passwords
        passwords.put("desk", GOOD)
        passwords.put("p1", GOOD + " p1")
        yield court


@pytest.fixture(autouse=True)
def _afresh(guarded: Court) -> None:
    """Forget failed tries and what was logged before."""
    guarded.site._signing._tries._failed.clear()
    guarded.site._visits.refusals._seen.clear()


@pytest.fixture
def visitor(guarded: Court) -> Iterator[Visitor]:
    visitor = guarded.visitor()
    yield visitor
    visitor.close()


@pytest.fixture
def desk(guarded: Court) -> Iterator[Visitor]:
    visitor = guarded.at("desk", password=GOOD)
    yield visitor
    visitor.close()


def cookie(visitor: Visitor) -> tuple[str, str]:
    ((name, token),) = visitor.http.cookies.items()
    return name, token


def session_of(court: Court, visitor: Visitor) -> Session:
    async def found() -> Session | None:
        kept: Session | None = court.site._visits.sessions.find(cookie(visitor)[1])
        return kept

    session = court.do(found)
    assert session is not None
    return session


def still_up(court: Court) -> None:
    visitor = court.visitor()
    assert visitor.http.get("/sign-in").status_code == 200
    visitor.close()


def test_nothing_but_sign_in_board_and_looks_is_served_to_strangers(visitor: Visitor) -> None:
    for page in ("/", "/group", "/journal", "/shift"):
        answer = visitor.http.get(page)
        assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in"), page
    assert visitor.http.get("/stream").status_code == 401
    for act in ("/call", "/reset", "/sign-out", "/hand-on"):
        assert visitor.http.post(act, json={}).status_code == 401, act
    for open_ in ("/sign-in", "/board", "/look.css", "/static/panel.css", "/fonts/sans.ttf"):
        assert visitor.http.get(open_).status_code == 200, open_
    assert visitor.http.get("/fonts/../site.py").status_code == 404
    assert visitor.http.get("/static/../site.py").status_code == 404


def test_the_cookie_is_kept_from_scripts_and_other_sites(visitor: Visitor) -> None:
    answer = visitor.sign_in("desk", password=GOOD)
    said = answer.headers["set-cookie"]
    assert "HttpOnly" in said
    assert "SameSite=strict" in said
    assert f"Max-Age={round(WHOLE_S)}" in said
    assert "Secure" not in said, "there is no TLS here; tests/panel/test_serving.py looks at one with it"


def test_a_wrong_password_is_refused_and_logged(visitor: Visitor, caplog: pytest.LogCaptureFixture) -> None:
    answer = visitor.sign_in("desk", password=WRONG)
    assert answer.status_code == 403
    assert "That is not the password of Race desk." in answer.text
    assert not visitor.http.cookies
    assert "wrong password for desk" in caplog.text
    assert WRONG not in caplog.text
    assert WRONG not in answer.text


def test_one_posts_password_does_not_open_another(visitor: Visitor) -> None:
    assert visitor.sign_in("p1", password=GOOD).status_code == 403


def test_a_post_without_a_password_lets_nobody_in_and_says_how_to_set_one(visitor: Visitor) -> None:
    answer = visitor.sign_in("p2", password="")
    assert answer.status_code == 403
    assert "kerblight panel passwords --post p2" in answer.text


def test_500_tries_are_refused_and_the_page_stays_up(
    guarded: Court, desk: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    desk.look()

    def tried(_: int) -> list[int]:
        guesser = guarded.visitor()
        codes = [guesser.sign_in("desk", password=f"guess {number}").status_code for number in range(50)]
        guesser.close()
        return codes

    with ThreadPoolExecutor(10) as crowd:
        codes = [code for some in crowd.map(tried, range(10)) for code in some]
    assert len(codes) == 500
    assert set(codes) == {403, 429}
    assert codes.count(403) <= FAILURES_MAX + 4, "each costs a hash; those already waiting are answered too"
    assert len([line for line in caplog.messages if "sign-in" in line]) <= 2 * guard.LOGGED_MAX
    assert "too many tries" in caplog.text
    waiting = guarded.visitor()
    answer = waiting.sign_in("desk", password=GOOD)
    assert (answer.status_code, int(answer.headers["retry-after"]) > 0) == (429, True)
    waiting.close()
    assert desk.call("stop", kind="incident").json()["accepted"], "who is signed in calls on"
    still_up(guarded)


def test_a_forged_session_is_refused_and_logged(
    guarded: Court, desk: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    name, token = cookie(desk)
    for forged in (token[:-1] + ("A" if token[-1] != "A" else "B"), "x" * 43, "", "%00", token * 40):
        stranger = guarded.visitor(cookies={name: forged})
        assert stranger.http.get("/").status_code == 303, forged
        assert stranger.http.post("/call", json={}).status_code == 401, forged
        stranger.close()
    assert "session at /call" in caplog.text
    assert desk.http.get("/").status_code == 200


def test_what_is_kept_on_the_disk_signs_nobody_in(guarded: Court, desk: Visitor) -> None:
    name, token = cookie(desk)
    file = guarded.folder / "panel-sessions.json"
    assert token not in file.read_text(encoding="utf-8")
    assert file.stat().st_mode & 0o077 == 0
    assert (guarded.folder / "panel-passwords.json").stat().st_mode & 0o077 == 0
    (key,) = [key for key in guarded.site._visits.sessions._kept if key in file.read_text(encoding="utf-8")][
        -1:
    ]
    stranger = guarded.visitor(cookies={name: key})
    assert stranger.http.get("/").status_code == 303
    stranger.close()


@pytest.mark.parametrize(("which", "by_s"), [("begun_s", WHOLE_S), ("seen_s", IDLE_S)])
def test_an_expired_session_is_refused(guarded: Court, desk: Visitor, which: str, by_s: float) -> None:
    session = session_of(guarded, desk)
    setattr(session, which, getattr(session, which) - by_s)
    assert desk.http.get("/").status_code == 303
    assert desk.http.post("/call", json={}).status_code == 401


def test_an_open_page_is_told_when_its_session_ends(guarded: Court, desk: Visitor) -> None:
    session = session_of(guarded, desk)
    names = []
    for name, _ in desk.news():
        if not names:
            session.begun_s -= WHOLE_S
        names.append(name)
    assert names[-1] == "over"


def test_a_session_replayed_after_signing_out_is_refused(guarded: Court, desk: Visitor) -> None:
    name, token = cookie(desk)
    word = desk.csrf
    assert desk.http.post("/sign-out", headers={"x-kerblight": word}).status_code == 303
    replayed = guarded.visitor(cookies={name: token})
    assert replayed.http.get("/").status_code == 303
    assert replayed.http.post("/call", json={}, headers={"x-kerblight": word}).status_code == 401
    replayed.close()


def test_a_session_from_before_signing_in_again_is_over(guarded: Court, desk: Visitor) -> None:
    name, before = cookie(desk)
    desk.sign_in("p1", password=GOOD + " p1")
    assert cookie(desk)[1] != before
    replayed = guarded.visitor(cookies={name: before})
    assert replayed.http.get("/").status_code == 303
    replayed.close()


def test_a_changed_password_signs_everybody_out(guarded: Court) -> None:
    marshal = guarded.at("p1", password=GOOD + " p1")
    passwords = guarded.site._signing._passwords
    passwords.put("p1", "another password")
    guarded.do(guarded.site._visits.sweep)
    assert marshal.http.get("/").status_code == 303
    passwords.put("p1", GOOD + " p1")
    marshal.close()


@pytest.mark.parametrize("word", ["", "0" * 64, "é"])
def test_a_call_without_its_sessions_word_is_refused(desk: Visitor, word: str) -> None:
    desk.look()
    answer = desk.http.post(
        "/call", json={"call": {"call": "stop"}}, headers={"x-kerblight": word.encode("utf-8")}
    )
    assert answer.status_code == 403


def test_one_sessions_word_does_not_serve_another(guarded: Court, desk: Visitor) -> None:
    other = guarded.at("desk", password=GOOD)
    assert other.call("stop", csrf=desk.csrf).status_code == 403
    other.close()


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
    ids=str,
)
def test_another_sites_page_cannot_act(desk: Visitor, headers: dict[str, str]) -> None:
    word = desk.csrf
    answer = desk.http.post(
        "/call", json={"call": {"call": "stop"}}, headers={"x-kerblight": word, **headers}
    )
    assert (answer.status_code, answer.text) == (403, "Refused: sent by another site's page.\n")


@pytest.mark.parametrize(
    "host", ["rebound.example", "rebound.example:8460", "", "127.0.0.1.example", "[::1", "a b"]
)
def test_a_name_that_is_not_ours_is_refused(visitor: Visitor, host: str) -> None:
    assert visitor.http.get("/sign-in", headers={"host": host}).status_code in (400, 421)


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:1234", "127.0.0.1:80", "[::1]:8460", "192.168.7.2"])
def test_an_address_cannot_be_pointed_elsewhere(visitor: Visitor, host: str) -> None:
    assert visitor.http.get("/sign-in", headers={"host": host}).status_code == 200


def test_a_body_of_a_megabyte_is_refused_and_logged(
    guarded: Court, desk: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    word = desk.csrf
    for sent in (b"x" * 2**20, iter([b"x" * 2**16] * 16)):
        answer = desk.http.post("/call", content=sent, headers={"x-kerblight": word})
        assert answer.status_code == 413
        assert "a body of more than 16384 bytes" in answer.text
    assert "POST /call from 127.0.0.1: a body of more than 16384 bytes" in caplog.text
    stranger = guarded.visitor()
    assert stranger.http.post("/sign-in", content=b"x" * 2**20).status_code == 413
    stranger.close()
    still_up(guarded)


def test_a_body_without_end_is_cut_off(guarded: Court) -> None:
    where = urlsplit(guarded.url)
    with socket.create_connection((where.hostname or "", where.port or 0), timeout=10) as line:
        line.sendall(b"POST /sign-in HTTP/1.1\r\nhost: localhost\r\ncontent-length: 1000000000\r\n\r\n")
        chunk, answer = b"x" * 2**16, b""
        try:
            for _ in range(200):
                line.sendall(chunk)
            answer = line.recv(64)
        except OSError:
            pass
        assert answer.startswith(b"HTTP/1.1 413") or not answer
    still_up(guarded)


def test_headers_without_end_are_cut_off(guarded: Court) -> None:
    where = urlsplit(guarded.url)
    with socket.create_connection((where.hostname or "", where.port or 0), timeout=10) as line:
        line.sendall(b"GET /sign-in HTTP/1.1\r\nx: " + b"y" * 2**17)
        assert line.recv(64).startswith(b"HTTP/1.1 400")
    still_up(guarded)


def test_a_browser_is_told_what_not_to_do(visitor: Visitor) -> None:
    for page in ("/sign-in", "/board", "/static/panel.css", "/nowhere"):
        headers = visitor.http.get(page).headers
        assert "default-src 'none'" in headers["content-security-policy"], page
        assert "unsafe" not in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
    assert visitor.http.get("/sign-in").headers["cache-control"] == "no-store"
    assert "server" not in visitor.http.get("/sign-in").headers


def test_what_people_type_is_text_wherever_it_is_shown(guarded: Court) -> None:
    marshal = guarded.at("desk", "<script>alert(1)</script>", GOOD)
    text = marshal.http.get("/").text
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)" in text
    marshal.close()


def test_a_flood_from_one_place_is_logged_as_a_number() -> None:
    now_s = [0.0]
    refusals = guard.Refusals(lambda: now_s[0])
    seen: list[str] = []
    handler = logging.Handler()
    handler.emit = lambda record: seen.append(record.getMessage())  # type: ignore[method-assign]
    guard.log.addHandler(handler)
    try:
        for _ in range(1000):
            refusals.note("10.0.0.9", "sign-in", "wrong password for desk")
        refusals.note("10.0.0.8", "sign-in", "wrong password for desk")
        now_s[0] = guard.LOGGED_WITHIN_S + 1
        refusals.note("10.0.0.9", "sign-in", "wrong password for desk")
    finally:
        guard.log.removeHandler(handler)
    assert len(seen) == guard.LOGGED_MAX + 3
    assert f"{1000 - guard.LOGGED_MAX} more within a minute" in seen[-2]


def test_the_data_folder_of_the_guarded_page_holds_no_password(guarded: Court) -> None:
    kept: list[Path] = [file for file in guarded.folder.iterdir() if file.suffix == ".json"]
    assert kept
    assert all(GOOD not in file.read_text(encoding="utf-8") for file in kept)
