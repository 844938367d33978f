"""`kerblight venue`, as people call it: what it says and what it exits with."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from typer.testing import CliRunner

from signals.venue import explain, load, schema
from signals.venue.cli import app
from signals.venue.generate import generated
from signals.venue.model import Venue

Plant = Callable[..., Path]
ROOT = Path(__file__).parents[2]
HARBOUR = ROOT / "configs" / "harbour-loop.toml"
QUARRY = ROOT / "configs" / "quarry-ring.toml"
EIGHT = (
    ('name = "Small"', "name = 7"),
    ("start_line_m = 10", "start_line = 10"),
    ("to_m = 116", "to_m = 110"),
    ('covers = ["a"]', 'covers = ["a", "c"]'),
    ('role = "pit-exit"\n\n[[head]]', 'role = "pit-end"\n\n[[head]]'),
    ('class = "junior"', 'class = "senior"'),
    ("return = 11", "return = 13"),
    ("flash_lit_ms = 500", "flash_lit_ms = 400"),
)
DOUBT = ("number = true\n", "")


def call(*arguments: str | Path) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, [str(each) for each in arguments])
    return result.exit_code, result.stdout, result.stderr


def test_eight_mistakes_make_eight_messages_and_exit_2(plant: Plant) -> None:
    code, out, err = call("lint", plant(*EIGHT))
    assert code == 2
    assert out == ""
    assert err.count("mistake: planted.toml:") == 8
    assert "planted.toml does not load: 8 mistakes" in err


def test_mistakes_as_json(plant: Plant) -> None:
    code, out, _ = call("lint", plant(*EIGHT), "--json")
    found = json.loads(out)
    assert code == 2
    assert found["loads"] is False
    assert len(found["findings"]) == 8
    assert set(found["findings"][0]) == {"file", "line", "key", "value", "right", "level"}


def test_a_clean_file_exits_0() -> None:
    assert call("lint", HARBOUR, "--strict") == (0, "harbour-loop.toml loads, no warnings\n", "")


def test_a_warning_fails_only_when_strict(plant: Plant) -> None:
    path = plant(DOUBT)
    code, out, _ = call("lint", path)
    assert code == 0
    assert "planted.toml loads, 1 warning\n" in out
    assert call("lint", path, "--strict")[0] == 1
    assert json.loads(call("lint", path, "--json")[1])["findings"][0]["level"] == "warning"


@pytest.mark.parametrize("path", [HARBOUR, QUARRY])
def test_explain_names_every_sector_head_post_and_limit(path: Path) -> None:
    code, out, _ = call("explain", path)
    venue = load(path)
    assert code == 0
    names = [sector.id for sector in venue.sectors] + [head.id for head in venue.heads]
    names += [post.id for post in venue.posts] + [each.id for each in venue.inputs]
    assert all(name in out for name in (*names, *venue.limits.classes))
    assert json.loads(call("explain", path, "--json")[1]) == explain(venue)


def test_explain_shows_the_arithmetic_of_the_approach(small: Venue) -> None:
    dry, wet, so, *_ = explain(small)["Approach"]
    assert dry == (
        "In the dry, from 45 to 15 km/h: 1 s of reaction at 12.50 m/s is 12.5 m, "
        "the ramp (12.50² - 4.17²) / (2 x 2) is 34.7 m, together 47.2 m."
    )
    assert "from 36 to 15 km/h" in wet
    assert "47.2 m" in so


def test_explain_tells_the_choices_apart() -> None:
    harbour, quarry = (" ".join(explain(load(path))["Choices"]) for path in (HARBOUR, QUARRY))
    assert "One-by-one start" in harbour
    assert "Grid start" in quarry
    assert "all karts slow at once; the chequered signal is red-yellow" in harbour
    assert "each kart slows as it crosses the line; the chequered signal is yellow" in quarry
    assert "Under red karts stand" in harbour
    assert "Under red karts may go 4 km/h" in quarry


def test_explain_of_bad_input_is_bad_input(plant: Plant) -> None:
    result = CliRunner().invoke(app, ["explain", str(plant(*EIGHT))])
    assert type(result.exception).__name__ == "BadInput"  # the command line shows it and exits 2


@pytest.mark.parametrize("path", [HARBOUR, QUARRY])
def test_the_schema_accepts_the_venues_that_come_along(path: Path) -> None:
    jsonschema.Draft202012Validator(schema()).validate(tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('name = "Small"', "name = 7"),
        ("start_line_m = 10", "start_line = 10"),
        ('id = "small"', 'id = "Small!"'),
        ("beat = 100", "beat = 5"),
        ('may = ["lift", "slow-one"]', 'may = ["stop"]'),
        ('track = "red"', 'trak = "red"'),
        ("pit = 8", "pit = -1"),
    ],
)
def test_the_schema_refuses_what_the_loader_refuses(plant: Plant, old: str, new: str) -> None:
    data = tomllib.loads(plant((old, new)).read_text(encoding="utf-8"))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema()).validate(data)


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    assert json.loads(call("schema")[1]) == schema()


@pytest.mark.parametrize("path", generated())
def test_generated_files_are_not_stale(path: str) -> None:
    assert (ROOT / path).read_text(encoding="utf-8") == generated()[path]


def test_the_example_in_the_documentation_loads(tmp_path: Path) -> None:
    text = (ROOT / "docs" / "venue.md").read_text(encoding="utf-8")
    path = tmp_path / "example.toml"
    path.write_text(text.partition("```toml\n")[2].partition("```")[0], encoding="utf-8")
    assert load(path).id == "small-loop"


def test_the_message_in_the_documentation_is_the_real_one(plant: Plant) -> None:
    _, _, err = call("lint", plant(("flash_lit_ms = 500", "flash_lit_ms = 400")))
    message = err.partition("choices.")[2].partition("\n")[0]
    assert message in (ROOT / "docs" / "venue.md").read_text(encoding="utf-8")
