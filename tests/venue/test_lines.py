from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from signals.venue.lines import KeyPath, locate

ROOT = Path(__file__).parents[2]


def paths(value: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, Any]]:
    if path:
        yield path, value
    if isinstance(value, dict):
        for key, each in value.items():
            yield from paths(each, (*path, key))
    elif isinstance(value, list):
        for index, each in enumerate(value):
            yield from paths(each, (*path, index))


@pytest.mark.parametrize("name", ["harbour-loop", "quarry-ring"])
def test_every_value_of_a_venue_is_found_on_a_line_that_shows_it(name: str) -> None:
    text = (ROOT / "configs" / f"{name}.toml").read_text(encoding="utf-8")
    found, lines = locate(text), text.splitlines()
    for path, value in paths(tomllib.loads(text)):
        line = lines[found[path] - 1]
        if isinstance(path[-1], str):
            assert path[-1] in line
        elif isinstance(value, str):
            assert value in line


ODD = '''
# a = 0
plain = 1 # comment with [brackets] = "and" 'quotes'
"quoted key" . 'and literal'."esc\\u0061ped" = "a # no comment"
text = """
[not.a.header]
quotes "" inside \\""" end"""
literal = \'\'\'
it''s # here
\'\'\'
when = 1979-05-27 07:32:00
list = [ # one
  [1, 2,
   3], "x]", { a = [
     4 ], b.c = 5 }, # trailing
]
[ table . "with space" ]
key = true
[[many]]
x = 1
[[many.inner]]
y = 1
[[many.inner]]
y = 2
[many.inner.deep]
z = 3
[[many]]
[[many.inner]]
y = 3
'''

EXPECTED: list[tuple[KeyPath, int]] = [
    (("plain",), 3),
    (("quoted key", "and literal", "escaped"), 4),
    (("text",), 5),
    (("literal",), 8),
    (("when",), 11),
    (("list", 0, 1), 13),
    (("list", 0, 2), 14),
    (("list", 1), 14),
    (("list", 2, "a", 0), 15),
    (("list", 2, "b", "c"), 15),
    (("table", "with space"), 17),
    (("table", "with space", "key"), 18),
    (("many", 0, "inner", 1, "y"), 24),
    (("many", 0, "inner", 1, "deep", "z"), 26),
    (("many", 1), 27),
    (("many", 1, "inner", 0, "y"), 29),
]


@pytest.mark.parametrize(("path", "line"), EXPECTED, ids=str)
def test_odd_but_valid_toml(path: KeyPath, line: int) -> None:
    assert locate(ODD)[path] == line


def test_odd_toml_is_found_whole() -> None:
    assert {path for path, _ in paths(tomllib.loads(ODD))} == set(locate(ODD))


VALUE = st.sampled_from(
    [
        "1",
        "-2.5e3",
        '"a"',
        "'b#'",
        '"""c\n]"""',
        "'''d\n'''",
        "true",
        "1979-05-27",
        "[1,\n2]",
        "{k = [0]}",
        "[]",
        "{}",
    ]
)
ENTRY = st.tuples(st.sampled_from(["a", '"b c"', "d.e", "'f'.g"]), VALUE, st.sampled_from(["", " # x = ["]))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(ENTRY, max_size=6, unique_by=lambda entry: entry[0]),
    st.sampled_from(["", "[t]\n", "[[t]]\n", "[[t]]\n[[t]]\n"]),
)
def test_every_path_of_any_toml_is_found(entries: list[tuple[str, str, str]], header: str) -> None:
    text = header + "".join(f"{key} = {value}{comment}\n" for key, value, comment in entries)
    assert {path for path, _ in paths(tomllib.loads(text))} == set(locate(text))
