"""A lap as a table of text: x_m, y_m, right_m, left_m, as open track data sets publish it.

The header may stand in a comment ("# x_m,y_m,w_tr_right_m,w_tr_left_m"): a column is known by how its name
ends. Without a header the columns come in that order.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Iterator

from signals.venue.importing.given import Given, Mistakes

COLUMNS = ("x_m", "y_m", "right_m", "left_m")
_ENDS = {
    "x_m": re.compile(r"(^|_)x(_m)?$"),
    "y_m": re.compile(r"(^|_)y(_m)?$"),
    "right_m": re.compile(r"right(_m)?$"),
    "left_m": re.compile(r"left(_m)?$"),
}
XY = 2


def read_table(text: str, mistakes: Mistakes) -> Given:
    """Read a table; what is wrong goes to `mistakes`."""
    given = Given()
    lines = list(enumerate(text.lstrip("\ufeff").splitlines(), 1))
    body = [(at, line) for at, line in lines if line.strip() and not line.lstrip().startswith("#")]
    if not body:
        mistakes.say(0, "rows", "", f"needs rows of {','.join(COLUMNS)}")
        return given
    mark = _separator(body[0][1])
    named = [line.lstrip("#% \t") for _, line in lines if line.lstrip().startswith("#")]
    if not _numbers(_cells(body[0][1], mark)):
        named.append(body.pop(0)[1])
    places = _places(named, mark, given)
    if places is None:
        places = dict(zip(COLUMNS, range(len(_cells(body[0][1], mark))), strict=False)) if body else {}
        given.said.append(f"no header names the columns; they are taken as {', '.join(places)}")
    _rows(body, mark, places, given, mistakes)
    return given


def _separator(line: str) -> str:
    return max(",;\t", key=line.count) if any(mark in line for mark in ",;\t") else " "


def _cells(line: str, mark: str) -> list[str]:
    if mark == " ":
        return line.split()
    return [cell.strip() for cell in next(csv.reader([line], delimiter=mark))]


def _numbers(cells: Iterable[str]) -> bool:
    try:
        return all(math.isfinite(float(cell)) for cell in cells)
    except ValueError:
        return False


def _places(named: list[str], mark: str, given: Given) -> dict[str, int] | None:
    """Find which column holds what, in the last line that names at least x and y."""
    for line in reversed(named):
        names = [name.lower() for name in _cells(line, mark)] if line.strip() else []
        places = {
            column: place
            for place, name in enumerate(names)
            for column in COLUMNS
            if _ENDS[column].search(name)
        }
        if {"x_m", "y_m"} <= places.keys():
            ignored = [name for place, name in enumerate(names) if place not in places.values()]
            if ignored:
                given.said.append(f"columns left out: {', '.join(ignored)}")
            return places
    return None


def _rows(
    body: list[tuple[int, str]], mark: str, places: dict[str, int], given: Given, mistakes: Mistakes
) -> None:
    columns = [column for column in COLUMNS if column in places]
    if not {"x_m", "y_m"} <= places.keys():
        mistakes.say(0, "columns", "", "needs at least x_m and y_m")
        return
    wide = {"right_m", "left_m"} <= places.keys()
    for at, line in body:
        values = dict(_values(_cells(line, mark), places))
        if len(values) < len(columns):
            right = f"must give numbers for {','.join(columns)}"
            mistakes.say(at, "row", line.strip(), right)
            continue
        if wide and min(values["right_m"], values["left_m"]) < 0:
            mistakes.say(at, "row", line.strip(), "the road's reach to the right and left is not below 0")
            continue
        given.points.append((values["x_m"], values["y_m"]))
        if wide:
            given.reaches.append((values["right_m"], values["left_m"]))


def _values(cells: list[str], places: dict[str, int]) -> Iterator[tuple[str, float]]:
    for column, place in places.items():
        if place < len(cells) and _numbers([cells[place]]):
            yield column, float(cells[place])
