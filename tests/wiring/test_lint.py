"""Every mistake an integrator makes, planted in a sound table, is found with its row and column."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from signals.errors import BadInput
from signals.venue import load
from signals.venue.model import Venue
from signals.venue.wires import COLUMNS, Wire, column, read_wires, write_wires
from signals.wiring.lint import check, lint

ROOT = Path(__file__).parents[2]
CONFIGS = ROOT / "configs"
SOUND = load(CONFIGS / "harbour-wired.toml")
ROWS = {wire.ref: wire for wire in SOUND.wires}


def planted(*changed: Wire, without: str = "") -> Venue:
    """The demo venue with some rows changed, and one left out."""
    by_ref = {wire.row: wire for wire in changed}
    wires = tuple(by_ref.get(w.row, w) for w in SOUND.wires if w.ref != without)
    return msgspec.structs.replace(SOUND, wires=wires)


def row(of: str, /, **more: object) -> Wire:
    return msgspec.structs.replace(ROWS[of], **more)


def found(venue: Venue) -> list[tuple[int, str, str]]:
    return [(each.line, each.key, each.right) for each in lint(venue)]


def test_the_demo_table_is_sound() -> None:
    assert lint(SOUND) == []
    check(SOUND)


MISTAKES: dict[str, tuple[Callable[[], Venue], str, str, str]] = {
    "duplicate tag": (lambda: planted(row("H3-YEL", ref="H3-RED")), "H3-YEL", "ref", "is the tag of row"),
    "duplicate address": (
        lambda: planted(row("H3-YEL", address=4)),
        "H3-YEL",
        "address",
        f"is taken by row {ROWS['H3-RED'].row}",
    ),
    "a slot inside a display's pair": (
        lambda: planted(row("H6-RED", address=9)),
        "H6-RED",
        "address",
        f"is taken by row {ROWS['H4-NUM'].row}",
    ),
    "a loop without bands": (
        lambda: planted(row("BOX-3", bands=None)),
        "BOX-3",
        "bands",
        "must name each state once (short, active, normal, open); give bands such as",
    ),
    "a loop that tells no cut wire": (
        lambda: planted(row("BOX-3", bands="short 0-150, active 450-800, normal 1800-4095")),
        "BOX-3",
        "bands",
        "must name each state once (open)",
    ),
    "bands with no room between": (
        lambda: planted(row("BOX-3", bands="short 0-150, active 450-800, normal 810-2300, open 3900-4095")),
        "BOX-3",
        "bands",
        "active and normal are 9 apart; leave at least 81",
    ),
    "bands that overlap": (
        lambda: planted(row("BOX-3", bands="short 0-150, active 450-1900, normal 1800-2300, open 3900-4095")),
        "BOX-3",
        "bands",
        "active and normal overlap",
    ),
    "a press that reads like a cut wire": (
        lambda: planted(row("BOX-3", bands="short 0-150, open 450-800, normal 1800-2300, active 3900-4095")),
        "BOX-3",
        "bands",
        "must have short and open at its ends",
    ),
    "a band backwards": (
        lambda: planted(row("BOX-3", bands="short 0-150, active 800-450, normal 1800-2300, open 3900-4095")),
        "BOX-3",
        "bands",
        "active ends before it begins",
    ),
    "a loop on a point that reads on or off": (
        lambda: planted(row("BOX-3", point_type="discrete")),
        "BOX-3",
        "point_type",
        "a loop reads a number: give input-register",
    ),
    "a contact on a point that reads numbers": (
        lambda: planted(row("GATE-MA", point_type="input-register")),
        "GATE-MA",
        "point_type",
        "a contact reads on or off: give discrete",
    ),
    "bands of a contact": (
        lambda: planted(row("GATE-MA", bands="short 0-1")),
        "GATE-MA",
        "bands",
        "must be empty: only the loop of an input has bands",
    ),
    "a loop beside contacts": (
        lambda: planted(row("BOX-3", place="gate")),
        "GATE-MA",
        "place",
        "has a loop and contacts",
    ),
    "shared feedback": (
        lambda: planted(row("H3-YEL", aspect="red", feedback_ref="H3-RED-S")),
        "H3-YEL",
        "feedback_ref",
        "is shared with row",
    ),
    "another lamp's feedback": (
        lambda: planted(row("H3-YEL", feedback_ref="H3-RED-S")),
        "H3-YEL",
        "feedback_ref",
        "must be an input with place h3 and aspect yellow",
    ),
    "unknown feedback": (
        lambda: planted(row("H3-YEL", feedback_ref="H3-YEL-X")),
        "H3-YEL",
        "feedback_ref",
        'did you mean "H3-YEL-S"?',
    ),
    "half a head proven": (
        lambda: planted(row("H3-YEL", feedback_ref=None)),
        "H3-YEL",
        "feedback_ref",
        "other lamps of h3 have sensors",
    ),
    "missing fail state": (
        lambda: planted(row("H3-YEL", fail_state=None)),
        "H3-YEL",
        "fail_state",
        "is missing: what is this lamp",
    ),
    "missing watchdog": (
        lambda: planted(row("H3-YEL", watchdog_ms=None)),
        "H3-YEL",
        "watchdog_ms",
        "write watchdog in ms, or none",
    ),
    "watchdog too short": (
        lambda: planted(row("H3-YEL", watchdog_ms=400)),
        "H3-YEL",
        "watchdog_ms",
        "two refreshes",
    ),
    "two watchdogs on one board": (
        lambda: planted(row("H3-YEL", watchdog_ms=800)),
        "H3-YEL",
        "watchdog_ms",
        "a device has one watchdog",
    ),
    "off by one": (
        lambda: planted(row("H3-YEL", address_base=1, address=6)),
        "H3-YEL",
        "address_base",
        "one of them is off by one",
    ),
    "address 0 counted from 1": (
        lambda: planted(row("H2-RED", address=0)),
        "H2-RED",
        "address",
        "does not exist where papers count from 1",
    ),
    "old papers' prefix": (
        lambda: planted(row("H3-RED-S", address=10_001)),
        "H3-RED-S",
        "address",
        "old papers' way to say discrete 1",
    ),
    "a head without red": (
        lambda: planted(without="H3-RED"),
        "H3-YEL",
        "place",
        "has no red; every lamp needs an out",
    ),
    "a lamp driven twice": (
        lambda: planted(row("H3-YEL", aspect="red", feedback_ref="H3-YEL-S")),
        "H3-RED",
        "aspect",
        "is driven by 2 rows",
    ),
    "universe overlap": (
        lambda: planted(row("R1-RED", unit=1)),
        "R1-RED",
        "address",
        f"is taken by row {ROWS['H2-RED'].row}",
    ),
    "one universe to two places": (
        lambda: planted(row("R1-RED", unit=1, host="multicast", address=40)),
        "R1-RED",
        "unit",
        "overlaps: row",
    ),
    "green when left alone": (
        lambda: planted(row("H3-YEL", fail_state="off"), row("H3-GRE", fail_state="on")),
        "H3-RED",
        "fail_state",
        "leaves h3 green when the device is left alone",
    ),
    "dark when left alone": (
        lambda: planted(row("PX1-RED", fail_state="off")),
        "PX1-RED",
        "fail_state",
        "leaves px1 dark when the device is left alone",
    ),
    "one contact": (
        lambda: planted(without="BOX-P1-BR"),
        "BOX-P1-MA",
        "place",
        "with one contact a cut wire looks like rest",
    ),
    "unknown place": (
        lambda: planted(row("H3-YEL", place="h33")),
        "H3-YEL",
        "place",
        "is neither a head nor an input",
    ),
    "unknown lamp": (lambda: planted(row("H3-YEL", aspect="amber")), "H3-YEL", "aspect", "is no lamp of h3"),
    "unknown protocol": (
        lambda: planted(row("H3-YEL", protocol="modbus-tpc")),
        "H3-YEL",
        "protocol",
        'did you mean "modbus-tcp"?',
    ),
    "a coil that is read": (
        lambda: planted(row("H3-YEL", direction="in")),
        "H3-YEL",
        "direction",
        "must be out: a coil of modbus-tcp goes out",
    ),
    "no host": (
        lambda: planted(row("H3-YEL", host="")),
        "H3-YEL",
        "host",
        "is missing; modbus-tcp needs it",
    ),
    "a pin that needs current to fail": (
        lambda: planted(row("H3-YEL", protocol="gpio", host="lgpio", point_type="pin", address=4)),
        "H3-YEL",
        "fail_state",
        "fail on with invert yes",
    ),
    "a watchdog that pins do not have": (
        lambda: planted(row("H3-YEL", protocol="gpio", host="lgpio", point_type="pin", address=4)),
        "H3-YEL",
        "watchdog_ms",
        "must be none",
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_planted_mistake_is_found_with_row_and_column(name: str) -> None:
    plant, ref, in_column, right = MISTAKES[name]
    wanted = (ROWS[ref].row, column(in_column))
    assert [said for line, key, said in found(plant()) if (line, key) == wanted and right in said]


def test_a_sector_wants_two_heads_on_two_nodes() -> None:
    one = msgspec.structs.replace(SOUND, heads=tuple(head for head in SOUND.heads if head.id != "r3"))
    assert any("sector s3 has 1 head" in said for *_, said in found(one))
    nodes = [msgspec.structs.replace(h, node="n1") if h.id == "r3" else h for h in SOUND.heads]
    same = msgspec.structs.replace(SOUND, heads=tuple(nodes))
    assert any("all heads of sector s3 hang on node n1" in said for *_, said in found(same))


def test_wires_of_a_simulated_node_are_nobodys() -> None:
    nodes = [msgspec.structs.replace(n, simulated=True) if n.id == "n1" else n for n in SOUND.nodes]
    said = found(msgspec.structs.replace(SOUND, nodes=tuple(nodes)))
    assert (ROWS["H3-RED"].row, column("place"), "hangs on node n1, which is simulated") in said


def test_all_findings_at_once_and_a_driver_refuses_them() -> None:
    venue = planted(row("H3-YEL", fail_state=None), row("H5-RED", ref="H5-YEL"))
    assert len({each.line for each in lint(venue)}) >= 2
    with pytest.raises(BadInput, match="fail_state") as refused:
        check(venue)
    assert len(refused.value.findings) == len(lint(venue))


def test_a_table_comes_back_as_it_was_written() -> None:
    text = (CONFIGS / "harbour-wired.csv").read_text(encoding="utf-8")
    wires, wrong = read_wires(text, "t.csv")
    assert wrong == []
    assert write_wires(wires) == text


CELLS = {
    "address": ("x", "must be a whole number from 0 to 999999"),
    "address_base": ("2", "must be one of 0 or 1"),
    "direction": ("both", "must be one of out or in"),
    "invert": ("maybe", "must be yes or no"),
    "fail_state": ("onn", 'did you mean "on"?'),
    "watchdog_ms": ("0", "write none where the device has no watchdog"),
    "ref": ("H1 RED", "1 to 24 letters, digits, dots, _ or -"),
    "port": ("http", "must be a whole number"),
    "tested_on": ("31.5.2026", "a day as 2026-05-31"),
    "place": ("", "is missing"),
}


def test_every_unreadable_cell_is_named_at_once() -> None:
    lines = [",".join(COLUMNS)]
    for name, (cell, _) in CELLS.items():
        cells = {each: str(getattr(ROWS["H3-RED"], each) or "") for each in COLUMNS}
        cells |= {"address_base": "0", "invert": "no", "description": "", name: cell}
        lines.append(",".join(cells[each] for each in COLUMNS))
    _, wrong = read_wires("\n".join(lines), "t.csv")
    assert [(each.line, each.key) for each in wrong] == [
        (number, column(name)) for number, name in enumerate(CELLS, 2)
    ]
    assert all(right in each.right for each, (_, right) in zip(wrong, CELLS.values(), strict=True))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the first line must name every column"),
        ("ref;place\n", "must be separated by commas"),
        (",".join(COLUMNS).replace("fuse", "fuze"), 'is no column (did you mean "fuse"?)'),
        (",".join([*COLUMNS, "ref"]), "is there twice"),
        (",".join(COLUMNS) + "\nx" + "," * 30, "must have 25"),
    ],
)
def test_a_table_without_a_right_first_line_or_with_too_many_cells(text: str, said: str) -> None:
    wires, wrong = read_wires(text, "t.csv")
    assert wires == ()
    assert any(said in each.right for each in wrong)


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [
            sys.executable,
            "-m",
            "signals.cli",
            "wiring",
            *words,
            "--venue",
            str(folder / "harbour-wired.toml"),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_exit_codes_and_json_of_the_verb(tmp_path: Path) -> None:
    for name in ("harbour-wired.toml", "harbour-wired.csv"):
        (tmp_path / name).write_bytes((CONFIGS / name).read_bytes())
    assert run(tmp_path, "lint").returncode == 0
    table = tmp_path / "harbour-wired.csv"
    text = table.read_text(encoding="utf-8")
    table.write_text(text.replace("H3-YEL,", "H3-RED,", 1), encoding="utf-8")
    came = run(tmp_path, "lint", "--json")
    assert came.returncode == 1
    assert json.loads(came.stdout)["findings"][0]["key"] == "ref (column A)"
    assert run(tmp_path, "matrix").returncode == 2
    table.write_text(text.replace(",coil,", ",coil coil,", 1), encoding="utf-8")
    came = run(tmp_path, "lint")
    assert came.returncode == 2
    assert "harbour-wired.csv:2: point_type (column J)" in " ".join(came.stderr.replace("│", " ").split())
