"""The matrix says what really happens: its cells are compared with the running parts, and by hand."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import msgspec
import pytest

from signals.venue import load
from signals.wiring.drawing import terminal_drawing
from signals.wiring.matrix import Matrix, matrix
from signals.wiring.sheet import io_list, matrix_csv, matrix_page, write_sheets
from signals.words import Aspect

VENUE = load(Path(__file__).parents[2] / "configs" / "harbour-wired.toml")
TRACK = ("h1", "h2", "h3", "h4", "h5", "h6", "r1", "r2", "r3", "r4", "r5", "r6", "fin1", "fin2")


@pytest.fixture(scope="module")
def made() -> Matrix:
    return matrix(VENUE)


def shows(made: Matrix, cause: str) -> dict[str, str]:
    row = next(row for row in made.rows if row.cause == cause)
    return {head: cell.shows for head, cell in row.cells.items()}


def within(made: Matrix, cause: str, head: str) -> int | None:
    return next(row for row in made.rows if row.cause == cause).cells[head].within_ms


def test_every_kind_of_cause_has_a_row_and_every_wired_head_a_column(made: Matrix) -> None:
    assert {row.kind for row in made.rows} == {"call", "input", "communication", "lamp", "restart", "power"}
    assert set(made.outputs) == {head.id for head in VENUE.heads}
    refs = [ref for column in made.outputs.values() for ref in column]
    assert sorted(refs) == sorted(wire.ref for wire in VENUE.wires if wire.direction == "out")


def test_calls(made: Matrix) -> None:
    assert set(shows(made, "stop").values()) == {"red"}
    assert set(shows(made, "start").values()) == {"green"}
    hairpin = shows(made, "caution in 3 Hairpin")
    assert {head for head, aspect in hairpin.items() if aspect == "yellow-flash"} == {"h3", "r3"}
    lifted = shows(made, "the last stop is lifted")
    assert {lifted[head] for head in TRACK} == {"yellow-flash"}
    assert lifted["px1"] == "red"
    assert {shows(made, "finish")[head] for head in TRACK} == {"red-yellow"}


def test_inputs_loss_restart_and_power(made: Matrix) -> None:
    assert set(shows(made, "box-p1 pressed or open").values()) == {"red"}
    assert {shows(made, "box-p1 cut or shorted")[head] for head in TRACK} == {"yellow-flash"}
    alone = shows(made, "no beat reaches the head's node")
    assert ({alone[head] for head in TRACK}, alone["px1"]) == ({"yellow-flash"}, "red")
    assert within(made, "no beat reaches the head's node", "h1") == VENUE.timing.lease_head
    cut = shows(made, "the head's device is cut off")
    assert ({cut[head] for head in TRACK}, cut["px2"]) == ({"yellow"}, "red")
    assert within(made, "the head's device is cut off", "h3") == 1000
    assert within(made, "the head's device is cut off", "h2") == 2500
    assert set(shows(made, "the controller restarts").values()) == {"red"}
    assert set(shows(made, "its lamps have no power").values()) == {"dark"}


def test_a_lamp_without_a_sensor_fails_unseen_and_the_matrix_says_so(made: Matrix) -> None:
    failed = shows(made, "green stays dark while due")
    assert (failed["h3"], failed["h2"]) == ("yellow-flash", "not seen (no sensor)")
    assert shows(made, "red stays dark while due")["h3"] == "red (its red is dark)"


def test_no_watchdog_is_said_and_not_made_up() -> None:
    wires = tuple(
        msgspec.structs.replace(wire, watchdog_ms=0) if wire.place == "h1" else wire for wire in VENUE.wires
    )
    made = matrix(msgspec.structs.replace(VENUE, wires=wires))
    assert shows(made, "the head's device is cut off")["h1"] == "stays as it is (no watchdog)"
    assert within(made, "the head's device is cut off", "h1") is None


def test_it_is_worked_out_from_the_venue_and_not_typed_in() -> None:
    protects = [
        msgspec.structs.replace(head, protects=("s3", "s4")) if head.id == "h3" else head
        for head in VENUE.heads
    ]
    made = matrix(msgspec.structs.replace(VENUE, heads=tuple(protects)))
    assert shows(made, "caution in 4 Slipway")["h3"] == "yellow-flash"
    red = {**VENUE.choices.fail_aspect, next(iter(VENUE.choices.fail_aspect)): Aspect.RED}
    changed = msgspec.structs.replace(
        VENUE, choices=msgspec.structs.replace(VENUE.choices, fail_aspect=dict.fromkeys(red, Aspect.RED))
    )
    assert set(shows(matrix(changed), "no beat reaches the head's node").values()) == {"red"}


def test_csv_and_json_hold_the_same(made: Matrix) -> None:
    lines = matrix_csv(made).splitlines()
    assert len(lines) == len(made.rows) + 2
    assert lines[0].startswith("kind,cause,h1")
    assert json.loads(msgspec.json.encode(made))["rows"][0]["cause"] == made.rows[0].cause


@pytest.mark.parametrize("name", ["h3", "h4", "px1", "gate", "box-3"])
def test_every_wire_of_a_head_or_input_is_in_its_drawing(name: str) -> None:
    place = next(place for place in (*VENUE.heads, *VENUE.inputs) if place.id == name)
    drawn = ET.fromstring(terminal_drawing(VENUE, place))  # noqa: S314 - our own
    texts = {each.text for each in drawn.iter("{http://www.w3.org/2000/svg}text")}
    own = [wire for wire in VENUE.wires if wire.place == name]
    bands = [band.strip() for wire in own for band in (wire.bands or "").split(",") if band]
    assert set(bands) <= texts
    assert {wire.ref for wire in own} | {wire.terminal for wire in own} <= texts
    colours = {
        value for each in drawn.iter() for key, value in each.attrib.items() if key in ("fill", "stroke")
    }
    assert colours == {"white", "black", "none"}


def test_the_sheets_are_a_list_a_matrix_and_a_drawing_of_each_head_and_input(tmp_path: Path) -> None:
    names = {path.name for path in write_sheets(VENUE, tmp_path / "sheets")}
    assert names == {
        "io-list.csv",
        "io-list.html",
        "matrix.html",
        "drawings.html",
        *(f"{place.id}.svg" for place in (*VENUE.heads, *VENUE.inputs)),
    }
    page = (tmp_path / "sheets" / "io-list.html").read_text(encoding="utf-8")
    assert all(f">{wire.ref}</td>" in page for wire in VENUE.wires)
    drawings = (tmp_path / "sheets" / "drawings.html").read_text(encoding="utf-8")
    assert drawings.count("<svg") == len(VENUE.heads) + len(VENUE.inputs)


def test_the_printed_matrix_has_a_cell_for_every_head_and_cause(made: Matrix) -> None:
    body = matrix_page(made).partition("<body>")[2].partition("</body>")[0]
    page = ET.fromstring(f"<b>{body}</b>")  # noqa: S314 - our own
    rows = [row for body in page.iter("tbody") for row in body.iter("tr") if row.find("td") is not None]
    blocks = len(list(page.iter("table")))
    assert len(rows) == blocks * len(made.rows)
    assert sum(len(row) - 1 for row in rows) == len(made.rows) * len(made.outputs)
    black = {cell.text or cell[0].tail for row in rows for cell in row if cell.get("class") == "red"}
    assert {text.split()[0] for text in black if text} == {"red"}


def test_a_device_is_drawn_once_though_not_every_row_has_its_serial_number() -> None:
    first, *others = (wire for wire in VENUE.wires if wire.place == "h3")
    bare = (first, *(msgspec.structs.replace(wire, serial="") for wire in others))
    venue = msgspec.structs.replace(VENUE, wires=bare)
    drawing = terminal_drawing(venue, next(head for head in VENUE.heads if head.id == "h3"))
    assert drawing.count("modbus-tcp") == drawing.count(f"serial {first.serial}") == 1
    assert io_list(venue).count("<h2>") == io_list(venue).count(f"serial {first.serial}") == 1
