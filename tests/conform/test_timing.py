"""The timing diagrams are played, not drawn: what stands in them follows the lease of the node."""

from __future__ import annotations

import re

import pytest

from signals.cli.options import DEFAULT_VENUE
from signals.conform.timing import diagrams
from signals.venue import load

PLAYED = {text.split("\n")[0]: text for text in diagrams(load(DEFAULT_VENUE))}


def said(title: str) -> list[tuple[int, str]]:
    return [(int(ms), what) for ms, what in re.findall(r"N-->>C: (\d+) ms: (.*)", PLAYED[f"### {title}"])]


def test_a_lapse_is_told_at_the_leases_end_and_green_returns_by_a_new_order_only() -> None:
    assert said("A lapse, and back")[2:] == [
        (50, "shown green"),
        (850, "status, inc2"),
        (850, "shown yellow-flash"),
        (1000, "shown green"),
    ]


def test_a_stop_is_red_at_once_and_its_end_is_not_green() -> None:
    assert said("A stop, and its end")[3:] == [
        (150, "shown red"),
        (250, "shown yellow-flash"),
        (350, "shown green"),
    ]


def test_two_controllers_are_none_for_a_whole_lease() -> None:
    assert said("Two controllers")[3:] == [
        (100, "status, inc2"),
        (100, "shown yellow-flash"),
        (650, "shown green"),
    ]


def test_a_kart_falls_to_caution_then_creeps_and_a_beat_raises_nothing() -> None:
    taken = [what for what in said("A kart that nobody leads") if what[1].startswith("taken")]
    assert taken == [
        (0, "taken 0"),
        (50, "taken 45"),
        (1050, "taken 15"),
        (4050, "taken 5"),
        (5000, "taken 45"),
    ]


@pytest.mark.parametrize("title", PLAYED)
def test_each_is_a_diagram(title: str) -> None:
    assert "sequenceDiagram\n    participant C as controller" in PLAYED[title]
