"""The drivers' board: first names only, this venue's own signals, open to everybody."""

from __future__ import annotations

import json
from collections.abc import Callable

from msgspec.structs import replace

from signals.look import Mark
from signals.panel.board import first_name
from signals.panel.explained import explained, leaving
from signals.words import Aspect
from tests.controller.made import harbour
from tests.panel.court import GROUP, Court, Visitor


def board(court: Court, holds: Callable[[dict[str, str]], bool]) -> str:
    """Read the board's stream until what it shows holds."""
    stranger, shown, name = court.visitor(), {}, ""
    try:
        with stranger.http.stream("GET", "/board/stream") as answer:
            for line in answer.iter_lines():
                if line.startswith("event: "):
                    name = line.removeprefix("event: ")
                elif line.startswith("data: ") and name == "regions":
                    shown |= json.loads(line.removeprefix("data: "))
                    if holds(shown):
                        return str(shown)
    finally:
        stranger.close()
    raise AssertionError(shown)


def test_karts_with_first_names_and_nothing_else_of_persons(court: Court, desk: Visitor) -> None:
    desk.done("prepare", entries=GROUP)
    desk.done("stage")
    desk.done("confirm", item="belts")
    shown = board(court, lambda shown: "This group" in shown["group"])
    assert "Ada" in shown
    assert "Bo" in shown
    page = court.visitor()
    text = page.http.get("/board").text
    page.close()
    for private in ("Fenwick", "Mika", "Sandbrook"):
        assert private not in shown
        assert private not in text


def test_who_was_shown_black_stands_there_until_he_is_in(court: Court, desk: Visitor) -> None:
    barred = {"number": 7, "driver": "Cato Barred-Today", "class": "adult"}
    desk.done("prepare", entries=[GROUP[0], barred])
    desk.done("stage")
    desk.done("disqualify-one", kart=7)
    shown = board(court, lambda shown: "black: come in" in shown["group"])
    assert "<s>Cato</s>" in shown
    assert "<s>Ada</s>" not in shown


def test_a_name_is_cut_to_its_first() -> None:
    assert [first_name(name) for name in ("Ada Fenwick", "Bo", "Turbo 9000", "")] == [
        "Ada",
        "Bo",
        "Turbo",
        "",
    ]


def test_signals_are_explained_by_the_venues_own_choices() -> None:
    venue = harbour()
    said = {each.mark: each.does for each in explained(venue)}
    assert said[Mark.STOP].startswith("Your kart stops.")
    assert "15 km/h" in said[Mark.CAUTION]
    assert "at once" in said[Mark.FINISH]
    assert said[Mark.DARK] == "A dark light counts as red."
    other = replace(
        venue,
        limits=replace(venue.limits, stop=5, caution=20),
        choices=replace(venue.choices, finish_slow="at-line", finish_aspect=Aspect.RED, start="grid"),
        heads=tuple(replace(head, number=False) for head in venue.heads),
    )
    said = {each.name: each.does for each in explained(other)}
    assert said["Red"].startswith("The session is over.") or said["Red"].startswith("Your kart slows to 5")
    assert "20 km/h" in said["Yellow, flashing"]
    assert not any(name.startswith(("Blue", "Black")) for name in said), "no head shows numbers there"
    assert "together" in leaving(other)
    assert "5 s apart" in leaving(venue)


def test_every_aspect_a_head_can_show_is_explained() -> None:
    venue = harbour()
    marks = {each.mark for each in explained(venue)}
    assert {Mark.STOP, Mark.CAUTION, Mark.FINISH, Mark.MOVE_OVER, Mark.PLATE, Mark.GO, Mark.DARK} <= marks
