"""What reaches an open page: changes, the link's life, its loss."""

from __future__ import annotations

import threading
import time
from typing import Any

from tests.panel.court import WITHIN_S, Court, Visitor

LOST_WITHIN_S = 1.0


def beats(visitor: Visitor, sees: list[tuple[float, dict[str, Any]]], over: threading.Event) -> None:
    for name, data in visitor.news():
        if name == "beat":
            sees.append((time.monotonic(), data))
        if over.is_set():
            return


def test_an_open_page_hears_that_the_link_stands_several_times_a_second(desk: Visitor) -> None:
    sees: list[float] = []
    for name, data in desk.news():
        if name == "beat" and data["up"]:
            sees.append(time.monotonic())
        if len(sees) == 8:
            break
    assert sees[-1] - sees[0] < 7 * 0.45


def test_the_controllers_silence_is_told_within_a_second(court: Court, desk: Visitor) -> None:
    sees: list[tuple[float, dict[str, Any]]] = []
    over = threading.Event()
    listening = threading.Thread(target=beats, args=(desk, sees, over))
    desk.look()
    listening.start()
    try:
        court.kill("controller")
        gone_s = time.monotonic()
        deadline = gone_s + WITHIN_S
        while not any(at_s > gone_s and not beat["up"] for at_s, beat in sees):
            assert time.monotonic() < deadline
            time.sleep(0.02)
        told_s = next(at_s for at_s, beat in sees if at_s > gone_s and not beat["up"])
        assert told_s - gone_s < LOST_WITHIN_S
        answer = desk.send("stage")
        assert (answer.status_code, answer.json()["lines"]) == (503, ["There is no link: flag and radio."])
    finally:
        over.set()
        court.start("controller")
        listening.join(WITHIN_S)


def test_red_is_tried_even_then_and_nothing_is_kept_for_later(court: Court, desk: Visitor) -> None:
    desk.look()
    court.kill("controller")
    answer = desk.send("stop", kind="incident")
    assert (answer.status_code, answer.json()["accepted"]) == (504, None)
    assert "use flag and radio" in answer.json()["lines"][0]
    court.start("controller")
    shown = desk.look(lambda shown: "Closed" in shown["status"])
    assert "by Race desk" not in shown["holds"]


def test_only_what_changed_is_sent_again(desk: Visitor, p1: Visitor) -> None:
    changed: list[set[str]] = []
    placed = False
    for name, data in desk.news():
        if name == "regions":
            changed.append(set(data))
            if "holds" in data and placed:
                break
        elif not placed:
            placed = True
            p1.call("caution", where="s2", kind="incident")
    assert {"status", "holds", "sectors", "map", "seen"} <= changed[-1]
    assert "heads" not in changed[-1] or "karts" not in changed[-1]
    assert len(changed[0]) == 12


def test_pages_of_one_post_share_one_connection_and_the_last_sign_out_ends_it(court: Court) -> None:
    court.site._visits.sessions._kept.clear()
    visitors = [court.at("p2") for _ in range(5)]
    for visitor in visitors:
        visitor.look()
    mine = [client for client in court.stage.broker.connected if client.startswith("post-p2")]
    assert mine == ["post-p2.panel"]
    for visitor in visitors:
        visitor.http.post("/sign-out", headers={"x-kerblight": visitor.csrf})
        visitor.close()
    court.do(court.site._visits.sweep)
    assert "post-p2.panel" not in court.stage.broker.connected


def test_karts_are_told_where_they_stand(desk: Visitor) -> None:
    for name, data in desk.news():
        if name == "beat" and data["karts"]:
            break
    assert set(data["karts"]) == {"1", "2", "7", "9"}
    assert {how for _, _, how in data["karts"].values()} == {"parked"}
