"""Whatever happens to a venue file: it loads, or BadInput says what is wrong. Nothing else."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from signals.errors import BadInput
from signals.venue import explain, lint, load

LINES = (Path(__file__).parent / "small.toml").read_text(encoding="utf-8").splitlines()
JUNK_VALUES = r"""
0
-1
1
7
116
1e308
nan
inf
-inf
99999999999999999999
true
""
"a"
"pit"
"desk"
"everything"
"red"
"../small.toml"
"\u0000"
[]
[[]]
[1]
["a", 3]
[[0, 0]]
[[0, 0], [0, 0], [0, 0]]
[[0, 0, 1, 1], [9, 0, 1, 1], [5, 5, 0, 0]]
{}
{ a = 1 }
{ red = ["x"] }
{ adult = 3 }
1979-05-27
1979-05-27 07:32:00
07:32:00
"00:00"
[["a"]]
{ track = {} }
"""
JUNK = st.sampled_from(JUNK_VALUES.split("\n")[1:-1])
EDIT = st.one_of(
    st.tuples(st.just("value"), st.integers(0, len(LINES) - 1), JUNK),
    st.tuples(st.just("drop"), st.integers(0, len(LINES) - 1), st.just("")),
    st.tuples(st.just("twice"), st.integers(0, len(LINES) - 1), st.just("")),
    st.tuples(st.just("swap"), st.integers(0, len(LINES) - 2), st.just("")),
    st.tuples(st.just("insert"), st.integers(0, len(LINES) - 1), st.text(max_size=8)),
)


def edited(edits: list[tuple[str, int, str]]) -> str:
    lines = list(LINES)
    for kind, place, text in edits:
        at = min(place, len(lines) - 1)
        if kind == "value" and " = " in lines[at]:
            lines[at] = f"{lines[at].partition(' = ')[0]} = {text}"
        elif kind == "drop" and len(lines) > 1:
            del lines[at]
        elif kind == "twice":
            lines.insert(at, lines[at])
        elif kind == "swap":
            lines[at : at + 2] = reversed(lines[at : at + 2])
        elif kind == "insert":
            lines.insert(at, text)
    return "\n".join(lines) + "\n"


@settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(edits=st.lists(EDIT, min_size=1, max_size=4))
def test_a_mutated_file_loads_or_is_bad_input(tmp_path: Path, edits: list[tuple[str, int, str]]) -> None:
    path = tmp_path / "mutated.toml"
    path.write_text(edited(edits), encoding="utf-8")
    try:
        venue = load(path)
    except BadInput as wrong:
        mistakes = wrong.findings
    else:
        assert all(each.level == "warning" for each in lint(venue))
        assert explain(venue)
        return
    assert mistakes
    assert all(each.right and each.level == "mistake" for each in mistakes)
