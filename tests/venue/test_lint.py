"""Every warning has a venue that loads and deserves it."""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import EntryPoint
from pathlib import Path

import msgspec
import pytest

from signals.errors import Finding
from signals.venue import lint, linting, load
from signals.venue.lints import LINTS, track_keeps_to_itself
from signals.venue.model import Venue

Plant = Callable[..., Path]
Swap = tuple[str, str]
CONFIGS = Path(__file__).parents[2] / "configs"

TRACK_HEAD = 'protects = ["b", "pit"]\n\n[[head]]\nid = "b2"'
SECOND_EXIT = """[[head]]
id = "px2"
at_m = 35
side = "left"
offset_m = 11
protects = ["a"]
role = "pit-exit"
"""
WALL = "\n[[barrier]]\npoints_m = [[66, 20], [66, 38], [40, 38]]\nheight_m = {height}\n"

CASES: list[tuple[str, list[Swap], str, str, str]] = [
    (
        "yellow_is_seen_in_time",
        [("facing_deg = -50", "facing_deg = 90")],
        "",
        "sector[b]",
        "none of b1, b2 is seen from 69 m",
    ),
    ("yellow_is_seen_in_time", [], WALL.format(height=2.4), "sector[b]", "none of b1, b2 is seen"),
    (
        "sectors_have_two_heads",
        [(TRACK_HEAD, TRACK_HEAD.replace(', "pit"', ""))],
        "",
        "pit",
        "is protected by b2; two heads",
    ),
    (
        "sectors_have_two_heads",
        [('["a1", "b1", "px1"]', '["b1", "px1"]'), ('["a2", "b2"', '["a1", "a2", "b2"')],
        "",
        "sector[a]",
        "all its heads hang on node n2",
    ),
    (
        "starts_are_doubled",
        [
            ('"b2", "px2"]', '"b2"]'),
            (
                SECOND_EXIT,
                "",
            ),
        ],
        "",
        "head[px1].role",
        "has no twin",
    ),
    (
        "starts_are_doubled",
        [('"b1", "px1"]', '"b1"]'), ('"b2", "px2"]', '"b2", "px1", "px2"]')],
        "",
        "head[px1]",
        "hangs on the same node as its twin (n2)",
    ),
    (
        "sectors_have_a_post",
        [('covers = ["a", "b", "pit"]', 'covers = ["a", "pit"]')],
        "",
        "sector[b]",
        "is covered by no post",
    ),
    ("posts_have_somebody", [('["desk", "bank"]', '["desk"]')], "", "post[bank]", "is in no person's posts"),
    ("numbers_can_be_shown", [("number = true\n", "")], "", "head", "a call to one kart cannot be shown"),
    (
        "heads_stand_before_what_they_protect",
        [("at_m = 50", "at_m = 130")],
        "",
        "head[a2].protects[0]",
        "past its end at 116 m",
    ),
    (
        "heads_stand_beside_the_track",
        [("at_m = 50", "at_m = 50\noffset_m = 2")],
        "",
        "head[a2]",
        "stands on the track",
    ),
    (
        "track_keeps_to_itself",
        [("start_line_m = 10", "start_line_m = 10\nwidth_m = 44")],
        "",
        "track",
        "overlaps itself",
    ),
    (
        "line_is_timed",
        [
            ('start = "one-by-one"', 'start = "one-by-one"\nfinish_slow = "at-line"'),
            ("at_m = 10\nsector", "at_m = 16\nsector"),
        ],
        "",
        "choices.finish_slow",
        "needs a loop within 5 m",
    ),
    (
        "equipment_is_all_real_or_all_simulated",
        [('kind = "kart"', 'kind = "kart"\nsimulated = true')],
        "",
        "node[k1].simulated",
        "puts every real node",
    ),
    ("nodes_carry_something", [('kind = "kart"', 'kind = "call-box"')], "", "node[k1]", "has no inputs"),
]


@pytest.mark.parametrize("name", ["harbour-loop", "quarry-ring"])
def test_the_venues_that_come_along_are_beyond_doubt(name: str) -> None:
    assert lint(load(CONFIGS / f"{name}.toml")) == []


def test_the_small_venue_is_beyond_doubt(small: Venue) -> None:
    assert lint(small) == []


@pytest.mark.parametrize(("name", "swaps", "more", "key", "right"), CASES)
def test_a_doubt_is_told(plant: Plant, name: str, swaps: list[Swap], more: str, key: str, right: str) -> None:
    path = plant(*swaps, more=more)
    found = [each for each in lint(load(path)) if each.key == key and right in each.right]
    assert found, [str(each) for each in lint(load(path))]
    lines = path.read_text(encoding="utf-8").splitlines()
    assert key.rpartition(".")[2].partition("[")[0] in lines[found[0].line - 1]
    assert found[0].level == "warning"
    assert next(each for each in LINTS if each.__name__ == name)(load(path))


def test_every_lint_warns_somewhere() -> None:
    assert {name for name, *_ in CASES} == {each.__name__ for each in LINTS}


def test_a_low_wall_hides_nothing(plant: Plant) -> None:
    assert lint(load(plant(more=WALL.format(height=0.7)))) == []


def test_a_centreline_that_crosses_itself_is_told(small: Venue) -> None:
    eight = tuple((x, y, 3.0, 3.0) for x, y in [(0, 0), (60, 40), (60, 0), (0, 40)])
    found = list(track_keeps_to_itself(msgspec.structs.replace(small, centreline_m=eight)))
    assert [right for *_, right in found] == ["its centreline crosses itself; only a bridge makes that right"]


def test_lints_of_others_come_by_entry_point(small: Venue, monkeypatch: pytest.MonkeyPatch) -> None:
    point = EntryPoint("theirs", f"{__name__}:theirs", "kerblight.lints")
    monkeypatch.setattr(EntryPoint, "load", lambda _: theirs)
    monkeypatch.setattr(linting, "entry_points", lambda **_: [point])
    assert lint(small) == [THEIRS]


THEIRS = Finding("planted.toml", 0, "track", "", "looks dull", "warning")


def theirs(venue: Venue) -> list[Finding]:
    return [THEIRS]


def test_a_file_that_has_gone_since_has_no_lines(plant: Plant) -> None:
    path = plant(("number = true\n", ""))
    venue = load(path)
    path.unlink()
    assert [(each.line, each.key) for each in lint(venue)] == [(0, "head")]
