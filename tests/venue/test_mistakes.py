"""Every check has files in which its mistake is the only one, found at the right line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from _pytest.mark.structures import ParameterSet

from signals.errors import BadInput, Finding
from signals.venue import load
from signals.venue.centreline import lay_out
from signals.venue.checks import CHECKS
from signals.venue.checks.track import is_as_long_as_a_track
from signals.venue.draft import Draft, open_draft

Plant = Callable[..., Path]
Mistakes = Callable[[Path], list[Finding]]
Swap = tuple[str, str]


def case(swap: Swap | tuple[Swap, ...], key: str, right: str, name: str = "") -> ParameterSet:
    swaps = (swap,) if isinstance(swap[0], str) else swap
    return pytest.param(swaps, key, right, id=name or key)


ROWS = "centreline_m = [[0, 0], [60, 0], [75, 10], [75, 30], [60, 40], [0, 40], [-15, 30], [-15, 10]]"
PIT_ROWS = "centreline_m = [[-15, 10], [0, 8], [30, 8], [40, 0]]"

ONCE_MORE_AROUND = """to_m = 116

[[sector]]
id = "c"
name = "x"
from_m = 116
to_m = 50

[[sector]]
id = "d"
name = "y"
from_m = 50
to_m = 116

[[sector]]"""

READING = [
    case(('id = "small"', 'id = "Small!"'), "venue.id", "1 to 16 of the characters a-z"),
    case(('name = "Small"', "name = 7"), "venue.name", "text of 1 to 80"),
    case(('name = "Small"', ""), "venue.name", "is missing"),
    case(('name = "Small"', 'name = "Small"\nnmae = "Small"'), "venue.nmae", 'did you mean "name"?'),
    case(("[operating]", "[opperating]"), "opperating", 'did you mean "operating"?'),
    case(('"anticlockwise"', '"anticlock"'), "venue.direction", 'did you mean "anticlockwise"?'),
    case(('effect = "blocks"', 'effect = "block"'), "check_item[walls].effect", "blocks, restricts or notes"),
    case(("beat = 100", "beat = 100.5"), "timing_ms.beat", "a whole number from 20 to 1000"),
    case(("number = true", 'number = "yes"'), "head[a1].number", "true or false"),
    case(("pit = 8", "pit = nan"), "limits_kmh.pit", "a number from 0 to 150"),
    case(("pit = 8", "pit = -1"), "limits_kmh.pit", "a number from 0 to 150"),
    case(("pit = 8", "pit = inf"), "limits_kmh.pit", "a number from 0 to 150"),
    case(
        ('protects = ["b", "pit"]\n\n[[head]]\nid = "b2"', 'protects = "b"\n\n[[head]]\nid = "b2"'),
        "head[b1].protects",
        "must be a list",
    ),
    case(("classes = { junior = 28, adult = 45 }", "classes = 45"), "limits_kmh.classes", "must be a table"),
    case(
        ("classes = { junior = 28, adult = 45 }", 'classes = { junior = 28, adult = "fast" }'),
        "limits_kmh.classes.adult",
        "a number from 0 to 150",
    ),
    case(("points_m = [[20, 18], [40, 18]]", "points_m = [[20, 18]]"), "barrier[0].points_m", "at least 2"),
    case(
        ("points_m = [[20, 18], [40, 18]]", "points_m = [[20, 18], [40, 18, 2]]"),
        "barrier[0].points_m[1]",
        "at most 2",
    ),
    case(('opens = "10:00"', 'opens = "25:00"'), "operating.opens", "a time of day"),
    case(('key = "K"', 'key = "k"'), "checklist.item[belts].key", "one capital letter or digit"),
    case(('track = "red"', 'trak = "red"'), "choices.fail_aspect.trak", 'did you mean "track"?'),
]

NAMES = [
    case(
        (('id = "bank"', 'id = "desk"'), ('"desk", "bank"', '"desk"')),
        "post[desk].id",
        "stands in line 30 already",
        "a post twice",
    ),
    case(
        (("number = 2", "number = 1"), ("karts = [1, 2]", "karts = [1]")),
        "kart[1].number",
        "must be given once",
        "a kart twice (K4)",
    ),
    case(
        ('key = "T"', 'key = "K"'), "checklist.item[track].key", "must be given once", "a checklist key twice"
    ),
    case(('covers = ["a"]', 'covers = ["a", "c"]'), "post[bank].covers[1]", "must be a sector"),
    case(('covers = ["a"]', 'covers = ["a", "a"]'), "post[bank].covers[1]", "stands twice"),
    case(('posts = ["desk", "bank"]', 'posts = ["desk", "bnk"]'), "person[ada].posts[1]", 'mean "bank"?'),
    case(('sector = "b"', 'sector = "x"'), "input[box].sector", "must be a sector"),
    case(('sector = "a"', 'sector = "x"'), "loop[line].sector", "must be a sector"),
    case(('class = "junior"', 'class = "jnior"'), "kart[2].class", 'did you mean "junior"?'),
    case(
        ('may = ["lift", "slow-one"]', 'may = ["lift", "slow-two"]'), "post[bank].may[1]", 'mean "slow-one"?'
    ),
    case(('may = ["lift", "slow-one"]', 'may = ["stop"]'), "post[bank].may[0]", "beyond stop and caution"),
    case(
        ("to_m = 0\n", 'to_m = 200\n\n[[sector]]\nid = "aside"\nname = "x"\nfrom_m = 200\nto_m = 0\n'),
        "sector[aside].id",
        "choose another id",
    ),
    case(("adult = 45 }", "adult = 45, none = 50 }"), "limits_kmh.classes.none", "choose another"),
    case(('id = "n2"', 'id = "world"'), "node[world].id", "choose another id"),
    case(('"box"]', '"box", "bell"]'), "node[n2].inputs[2]", "must be an input"),
    case(("karts = [1, 2]", "karts = [1, 2, 3]"), "node[k1].karts[2]", "must be a kart"),
    case(("karts = [1, 2]", "karts = [1]"), "kart[2].number", "it is on none"),
    case(('heads = ["a2", ', 'heads = ["a2", "a1", '), "head[a1].id", "it is on n1 and n2"),
    case(('inputs = ["gate", "box"]', 'inputs = ["gate"]'), "input[box].id", "exactly one node"),
]

TRACK = [
    case(('"anticlockwise"', '"clockwise"'), "venue.direction", "the centreline runs anticlockwise"),
    case(
        ("start_line_m = 10", "start_line_m = 300"),
        "track.start_line_m",
        "below the track's length, 232.11 m",
    ),
    case(("at_m = 190", "at_m = 232.2"), "head[b2].at_m", "below the track's length"),
    case(("to_m = 116", "to_m = 110"), "sector[a].to_m", "must be 116, where b begins", "a gap"),
    case(("to_m = 116", "to_m = 120"), "sector[a].to_m", "must be 116, where b begins", "an overlap"),
    case(
        (
            "to_m = 116\n\n[[sector]]",
            ONCE_MORE_AROUND,
        ),
        "sector",
        "write them in driving order, once around",
        "twice around",
    ),
    case(("[[-15, 10], [0, 8]", "[[-15, 40], [0, 8]"), "pit.entry_m", "from the pit lane's first point"),
    case(("[30, 8], [40, 0]]", "[30, 8], [40, 18]]"), "pit.exit_m", "from the pit lane's last point"),
    case(
        (("entry_m = 214", "entry_m = 40"), ("[[-15, 10], [0, 8]", "[[40, 0], [0, 8]")),
        "pit.exit_m",
        "must differ from entry_m",
        "pit lane without length",
    ),
    case(
        ('at_m = 10\nsector = "a"', 'at_m = 10\nsector = "b"'), "loop[line].sector", "at_m 10.0 is not in it"
    ),
    case((ROWS, ""), "track", "exactly one of centreline_m", "no centreline"),
    case((ROWS, ROWS + '\ncentreline = "x.csv"'), "track", "exactly one of centreline_m", "two centrelines"),
    case((ROWS, 'centreline = "none.csv"'), "track.centreline", "must be a file that can be read"),
    case(
        (ROWS, "centreline_m = [[0, 0], [60, 0]]"), "track.centreline_m", "needs 3 to 2000 rows", "two rows"
    ),
    case((PIT_ROWS, "centreline_m = [[0, 0]]"), "pit.centreline_m", "needs 2 to 2000 rows", "one pit row"),
    case(
        ("[60, 0], [75, 10]", "[60, 0], [60, 0], [75, 10]"),
        "track.centreline_m[1]",
        "repeats the point before",
    ),
    case(("[60, 0], [75, 10]", "[60, 0, 3], [75, 10]"), "track.centreline_m[1]", "must be [x, y] or"),
    case(
        ("[60, 0], [75, 10]", "[60, 0, 3, -1], [75, 10]"),
        "track.centreline_m[1]",
        "not below 0",
        "negative width",
    ),
    case(("[60, 0], [75, 10]", '[60, "0"], [75, 10]'), "track.centreline_m[1][1]", "must be a number"),
]

LIMITS = [
    case(("stop = 0", "stop = 6"), "limits_kmh.creep", "must be at least stop (6)"),
    case(("creep = 5", "creep = 11.5"), "limits_kmh.return", "must be at least creep (11.5)"),
    case(("return = 11", "return = 13"), "limits_kmh.disqualified", "must be at least return (13)"),
    case(("disqualified = 12", "disqualified = 15.5"), "limits_kmh.caution", "must be at least disqualified"),
    case(("caution = 15", "caution = 17"), "limits_kmh.finish", "must be at least caution (17)"),
    case(
        (("junior = 28", "junior = 15"), ("junior = 20", "adult = 30")),
        "limits_kmh.classes.junior",
        "must be at least finish (16)",
    ),
    case(("pit = 8", "pit = 15.5"), "limits_kmh.caution", "must be at least pit (15.5)"),
    case(("pit = 6", "pit = 9"), "conditions.wet.limits_kmh.pit", "must be at most 8, the dry limit"),
    case(
        ("pit = 6", "caution = 11"), "conditions.wet.limits_kmh.caution", "must be at least disqualified (12)"
    ),
    case(("junior = 20", "child = 20"), "conditions.wet.limits_kmh.classes.child", "is no class"),
    case(
        ("flash_period_ms = 1000", "flash_period_ms = 990"), "choices.flash_period_ms", "must be 1000 to 1200"
    ),
    case(
        ("flash_period_ms = 1000\nflash_lit_ms = 500", "flash_period_ms = 1300\nflash_lit_ms = 700"),
        "choices.flash_period_ms",
        "50 to 60 flashes a minute",
        "too slow a flash",
    ),
    case(("flash_lit_ms = 500", "flash_lit_ms = 480"), "choices.flash_lit_ms", "must be 500 to 667"),
    case(
        ("flash_lit_ms = 500", "flash_lit_ms = 700"),
        "choices.flash_lit_ms",
        "must be 500 to 667",
        "lit too long",
    ),
    case(
        ("flash_lit_ms = 500", "flash_lit_ms = 1000"),
        "choices.flash_lit_ms",
        "below flash_period_ms",
        "always lit",
    ),
    case(("lease_kart = 900", "lease_kart = 299"), "timing_ms.lease_kart", "at least 300: 3 beats"),
    case(("lease_ms = 400", "lease_ms = 200"), "node[n1].lease_ms", "at least 300: 3 beats"),
    case(
        ("monitor_trip = 300", "monitor_trip = 199"),
        "timing_ms.monitor_trip",
        "must be 200 to 450",
        "trips too soon",
    ),
    case(
        ("monitor_trip = 300", "monitor_trip = 300\nfollow = 301"),
        "timing_ms.follow",
        "must be at most monitor_trip (300)",
    ),
    case(
        ("monitor_trip = 300", "monitor_trip = 451"),
        "timing_ms.monitor_trip",
        "must be 200 to 450",
        "trips too late",
    ),
    case(
        ("[timing_ms]", "[kart_model]\ngrip_wet = 1.1\n\n[timing_ms]"),
        "kart_model.grip_wet",
        "must be at most grip (1)",
    ),
    case(
        ("[timing_ms]", "[kart_model]\ngrip_sliding = 0.4\n\n[timing_ms]"),
        "kart_model.grip_sliding_wet",
        "must be at most grip_sliding (0.4)",
    ),
]

EQUIPMENT = [
    case(('red = ["top"], yellow', "yellow"), "head[a2].aspects.red", "a track head must be able to show it"),
    case(('red = ["top"]', "red = []"), "head[a2].aspects.red", "at least one lamp", "a red without lamps"),
    case(('red-yellow = ["top", "mid"], ', ""), "head[a2].aspects.red-yellow", "a track head must be able"),
    case(
        ('protects = ["a"]\naspects', 'protects = ["a"]\nnumber = true\naspects'),
        "head[a2].aspects.blue-flash head[a2].aspects.number",
        "a number display must be able to show it",
    ),
    case(
        ('green = ["low"]', 'green = ["top"]'), "head[a2].aspects.green", "must differ from the lamps of red"
    ),
    case(
        ('fail_aspect = { track = "red" }', 'fail_aspect = { pit-exit = "yellow-flash" }'),
        "choices.fail_aspect.pit-exit",
        "must be red",
    ),
    case(('start = "one-by-one"', 'start = "grid"'), "choices.start", "needs a head with the role start"),
    case(("supervisor = true", "supervisor = false"), "post", "needs one with supervisor = true"),
    case(('kind = "caution-box"', 'kind = "stop-box"'), "input[box].sector", "stops the whole track"),
    case(('timezone = "UTC"', 'timezone = "Nowhere/Land"'), "operating.timezone", "time zone database"),
]


CASES = READING + NAMES + TRACK + LIMITS + EQUIPMENT
SWAPS: list[tuple[Swap, ...]] = [each.values[0] for each in CASES]  # type: ignore[misc]


@pytest.mark.parametrize(("swaps", "key", "right"), CASES)
def test_the_mistake_is_found_alone(
    plant: Plant, mistakes: Mistakes, swaps: tuple[Swap, ...], key: str, right: str
) -> None:
    found = mistakes(plant(*swaps))
    assert sorted({each.key for each in found}) == key.split(" "), [str(each) for each in found]
    assert all(right in each.right for each in found), [str(each) for each in found]


def test_every_check_fails_somewhere(plant: Plant) -> None:
    idle = set(CHECKS) - {is_as_long_as_a_track}  # it has a test of its own
    for swaps in SWAPS:
        draft = open_draft(plant(*swaps))
        lay_out(draft)
        idle -= {check for check in idle if _finds_something(check, draft)}
    assert not idle


def test_a_track_in_other_units_than_metres_is_told(plant: Plant, mistakes: Mistakes) -> None:
    found = mistakes(plant((ROWS, "centreline_m = [[0, 0], [9000, 0], [9000, 9000]]")))
    assert "must be 50 to 10000 m around; are its points in metres?" in [each.right for each in found]


def _finds_something(check: Callable[[Draft], None], draft: Draft) -> bool:
    before = len(draft.findings)
    check(draft)
    return len(draft.findings) > before


def test_the_small_venue_is_without_mistakes(plant: Plant) -> None:
    assert load(plant()).id == "small"


def test_eight_mistakes_are_told_at_once_each_with_its_line(plant: Plant, mistakes: Mistakes) -> None:
    path = plant(
        ('name = "Small"', "name = 7"),
        ("start_line_m = 10", "start_line = 10"),
        ("to_m = 116", "to_m = 110"),
        ('covers = ["a"]', 'covers = ["a", "c"]'),
        ('role = "pit-exit"\n\n[[head]]', 'role = "pit-end"\n\n[[head]]'),
        ('class = "junior"', 'class = "senior"'),
        ("return = 11", "return = 13"),
        ("flash_lit_ms = 500", "flash_lit_ms = 400"),
    )
    found = mistakes(path)
    lines = path.read_text(encoding="utf-8").splitlines()
    assert [each.key for each in found] == [
        "venue.name",
        "track.start_line",
        "sector[a].to_m",
        "post[bank].covers[1]",
        "head[px1].role",
        "kart[2].class",
        "limits_kmh.disqualified",
        "choices.flash_lit_ms",
    ]
    for each in found:
        last = each.key.rpartition(".")[2].partition("[")[0]
        assert lines[each.line - 1].startswith(last)
        assert str(each).startswith(f"planted.toml:{each.line}: {each.key}")


def test_an_unusual_flash_passes_with_its_reason(plant: Plant) -> None:
    swap = ("flash_lit_ms = 500", 'flash_lit_ms = 400\nflash_because = "lamps that glow on"')
    assert load(plant(swap)).choices.flash_because == "lamps that glow on"


def test_a_missing_key_is_told_at_the_line_of_its_table(plant: Plant, mistakes: Mistakes) -> None:
    path = plant(
        ('role = "pit-exit"\n\n[[barrier]]', 'role = "pit-exit"\n\n[[head]]\nid = "x"\n\n[[barrier]]')
    )
    line = path.read_text(encoding="utf-8").splitlines().index('id = "x"')
    assert {(each.key, each.line) for each in mistakes(path)} >= {
        ("head[x].at_m", line),
        ("head[x].protects", line),
    }


def test_a_wet_mistake_that_is_dry_already_is_told_once(plant: Plant, mistakes: Mistakes) -> None:
    assert [each.key for each in mistakes(plant(("stop = 0", "stop = 6")))] == ["limits_kmh.creep"]


@pytest.mark.parametrize(
    ("content", "right"),
    [
        (b"[venue\n", "line 1"),
        (b"a = 1\na = 2\n", "Cannot overwrite a value"),
        (b"\xff\xfe", "UTF-8"),
        (b"a = " + b"[" * 3000 + b"]" * 3000, "nested too deeply"),
        (b"#" * 1_000_001, "at most 1000000 bytes"),
        (b"", "is missing"),
    ],
    ids=["syntax", "twice", "encoding", "depth", "size", "empty"],
)
def test_a_file_that_is_no_venue_at_all(
    tmp_path: Path, mistakes: Mistakes, content: bytes, right: str
) -> None:
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    assert any(right in each.right for each in mistakes(path))


@pytest.mark.parametrize("name", ["absent.toml", "."])
def test_no_file(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="must be a file that can be read"):
        load(tmp_path / name)


def test_a_wiring_table_that_is_not_there(plant: Plant, mistakes: Mistakes) -> None:
    found = mistakes(plant(more='\n[wiring]\ntable = "wires.csv"\n'))
    assert [(each.key, each.value) for each in found] == [("wiring.table", "wires.csv")]


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("x,y\n0,0\n", "must begin with the line x_m,y_m,right_m,left_m"),
        (
            "x_m,y_m,right_m,left_m\n0,0,4,4\n60,0,four,4\n75,10,4,4\n",
            "line 3 (60,0,four,4) must be four numbers",
        ),
        (
            "x_m,y_m,right_m,left_m\n0,0,4,4\n60,0,nan,4\n75,10,4,4\n",
            "line 3 (60,0,nan,4) must be four numbers",
        ),
        ("x_m,y_m,right_m,left_m\n0,0,4,4\n60,0,4\n75,10,4,4\n", "line 3 (60,0,4) must be four numbers"),
        ("", "must begin with the line"),
    ],
)
def test_a_centreline_file_with_a_mistake(plant: Plant, mistakes: Mistakes, text: str, right: str) -> None:
    path = plant((ROWS, 'centreline = "line.csv"'))
    (path.parent / "line.csv").write_text(text, encoding="utf-8")
    found = mistakes(path)
    assert [each.key for each in found] == ["track.centreline"]
    assert right in found[0].right
