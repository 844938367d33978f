"""Calls over HTTP to the real controller: accepted, refused with reasons, never kept for later."""

from __future__ import annotations

import pytest

from tests.panel.court import GROUP, Court, Visitor


def test_yellow_is_one_request_and_shows_with_who_and_why(desk: Visitor, p1: Visitor) -> None:
    said = p1.call("caution", where="s3", kind="incident").json()
    assert said == {"title": "Yellow 3 Hairpin: done.", "lines": [], "accepted": True}
    shown = desk.look(lambda shown: "Yellow 3 Hairpin" in shown["holds"])
    assert "by Post 1 at" in shown["holds"]
    assert "YELLOW" in shown["status"]
    assert "3 Hairpin" in shown["status"]
    assert shown["map"]["sectors"]["s3"] == "caution"


def test_a_refusal_comes_back_with_every_reason(desk: Visitor, p1: Visitor) -> None:
    p1.call("caution", where="s3", kind="incident")
    desk.done("prepare", entries=GROUP)
    desk.done("stage")
    said = desk.call("arm").json()
    assert (said["title"], said["accepted"]) == ("Ready refused.", False)
    assert any(line.startswith("Yellow stands in 3 Hairpin, placed by Post 1") for line in said["lines"])
    assert any(line.startswith("The checklist is open") for line in said["lines"])


def test_a_call_beyond_the_posts_authority_is_refused_and_recorded(
    desk: Visitor, p1: Visitor, caplog: pytest.LogCaptureFixture
) -> None:
    said = p1.call("start").json()
    assert (said["title"], said["accepted"]) == ("Start refused.", False)
    assert "Post 1 may not call Start." in said["lines"]
    assert "may not call Start" in caplog.text
    assert "may not call Start" in desk.http.get("/journal?show=calls").text


def test_who_confirmed_is_the_person_signed_in_whatever_a_page_claims(desk: Visitor) -> None:
    desk.done("prepare", entries=GROUP)
    desk.done("stage")
    desk.done("confirm", item="helmets", by="Somebody Else")
    shown = desk.look(lambda shown: "Mika Sandbrook" in shown["group"])
    assert "Somebody Else" not in shown["group"]


def test_a_permissive_call_on_an_old_picture_is_not_sent_on(court: Court, desk: Visitor) -> None:
    desk.look()
    desk.heard -= 5_000
    answer = desk.send("stage")
    assert (answer.status_code, answer.json()["accepted"]) == (409, False)
    assert answer.json()["lines"] == ["It came late, on an old picture: look again, then call again."]


def test_red_and_yellow_are_sent_on_however_late_they_come(desk: Visitor) -> None:
    desk.look()
    desk.heard -= 5_000
    assert desk.send("stop", kind="incident").json()["accepted"]
    assert desk.send("caution", where="s1", kind="incident").json()["accepted"]


def test_what_was_seen_before_something_restrictive_is_stale(desk: Visitor, p1: Visitor) -> None:
    desk.done("prepare", entries=GROUP)
    desk.look()
    p1.call("caution", where="s2", kind="incident")
    said = desk.send("stage").json()
    assert said["lines"] == [
        "Something restrictive happened since the state you saw; look again and call again."
    ]


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"where": 7}, "where"),
        ({"where": "s1", "colour": "pink"}, "colour"),
        ({"where": "s1", "kind": "boredom"}, "boredom"),
    ],
)
def test_what_is_no_call_is_refused_in_words(desk: Visitor, fields: dict[str, object], says: str) -> None:
    answer = desk.call("caution", **fields)
    assert (answer.status_code, answer.json()["title"]) == (400, "Not sent.")
    assert says in answer.text


def test_the_journal_failing_is_said_with_the_answer(court: Court, desk: Visitor) -> None:
    court.kill("journal")
    try:
        said = desk.call("stop", kind="incident").json()
        assert (said["accepted"], said["lines"]) == (True, ["Not recorded: the journal fails."])
        shown = desk.look(lambda shown: "journal" in shown["warnings"])
        assert "only red, yellow and the like are accepted" in shown["warnings"]
    finally:
        court.start("journal")
