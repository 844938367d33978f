"""What an integrator takes along on paper: the I/O list, a drawing of every head and input, the matrix."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from html import escape
from itertools import groupby
from pathlib import Path
from typing import get_args

from signals.venue.model import Head, Input, Venue
from signals.venue.wires import ABSENT_MS, Wire, write_wires
from signals.wiring.drawing import terminal_drawing
from signals.wiring.matrix import Cell, Kind, Matrix, Row, matrix
from signals.words import Aspect

HEADS_ABREAST = 10
"""Columns of the matrix on one landscape page, at most; several pages share them out evenly."""
STYLE = """
@page { size: A4 landscape; margin: 11mm 10mm 13mm;
  @bottom-left { content: var(--foot); font: 7pt 'Liberation Sans', Arial, Helvetica, sans-serif; }
  @bottom-right { content: "page " counter(page) " of " counter(pages);
    font: 7pt 'Liberation Sans', Arial, Helvetica, sans-serif; } }
body { font: 8pt/1.25 'Liberation Sans', Arial, Helvetica, sans-serif; color: black; background: white;
  margin: 0 auto; max-width: 277mm; }
h1 { font-size: 15pt; margin: 0 0 1mm; } h2 { font-size: 9.5pt; margin: 4mm 0 1mm; }
p { margin: 0 0 3mm; } h2 span { font-weight: normal; }
section { break-inside: avoid; } section.page { break-after: page; break-inside: auto; }
section.page:last-of-type { break-after: auto; } table.matrix tbody { break-inside: avoid; }
table { border-collapse: collapse; width: 100%; }
thead { display: table-header-group; } tr { break-inside: avoid; }
th, td { padding: 0.55mm 1.2mm; text-align: left; vertical-align: top; border-bottom: 0.15mm solid #888; }
thead th { border-bottom: 0.4mm solid black; vertical-align: bottom; }
td.n { text-align: right; } td.b { font-weight: bold; white-space: nowrap; }
td.day { border-left: 0.15mm solid #888; min-width: 20mm; }
.sign { margin-top: 5mm; break-inside: avoid; }
table.matrix { table-layout: fixed; } table.matrix td, table.matrix th { border-left: 0.15mm solid #888; }
table.matrix th:first-child, table.matrix td:first-child { border-left: 0; width: 47mm; }
table.matrix tbody th { background: #ddd; padding-top: 0.9mm; }
table.matrix small { font-size: 6.3pt; font-weight: normal; } small span { white-space: nowrap; }
td small.ms { float: right; font-size: 6.5pt; padding-top: 0.3mm; }
td.red { background: black; color: white; font-weight: bold; }
td.yellow { background: #cfcfcf; font-weight: bold; }
td.finish { background: #efefef; font-weight: bold; }
td.unseen { font-style: italic; }
@media print { td.red, td.yellow, td.finish, th { print-color-adjust: exact; } }
"""
KINDS = get_args(Kind)
FILLS = {
    Aspect.RED: "red",
    Aspect.YELLOW_FLASH: "yellow",
    Aspect.YELLOW: "yellow",
    Aspect.RED_YELLOW: "finish",
}
"""How a cell stands out on paper without colours."""
LEGEND = (
    "White on black: red. Grey: yellow. Light grey: finish. At the right: the longest time, in ms. "
    "Italic: nobody is told."
)


def write_sheets(venue: Venue, folder: Path) -> list[Path]:
    """Write all sheets into a folder, and give their names: lists, matrix, drawings on one page and each."""
    folder.mkdir(parents=True, exist_ok=True)
    drawings = {f"{place.id}.svg": terminal_drawing(venue, place) for place in _drawn(venue)}
    sheets = {
        "io-list.csv": write_wires(venue.wires),
        "io-list.html": io_list(venue),
        "matrix.html": matrix_page(matrix(venue)),
        "drawings.html": drawings_page(venue, drawings.values()),
        **drawings,
    }
    for name, text in sheets.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in sheets]


def _drawn(venue: Venue) -> Iterator[Head | Input]:
    wired = {wire.place for wire in venue.wires}
    places: tuple[Head | Input, ...] = (*venue.heads, *venue.inputs)
    return (place for place in places if place.id in wired)


def drawings_page(venue: Venue, drawings: Iterable[str]) -> str:
    """Put all drawings behind each other, one to a page, to print in one go."""
    pages = (f"<section class='page'>{drawing}</section>" for drawing in drawings)
    style = "@page { margin: 8mm 10mm; } body { max-width: none; } svg { width: 277mm; max-height: 190mm; }"
    body = "\n".join(pages)
    return _html(f"Terminal drawings, {venue.name}", f"<style>{style}</style>{body}")


# --- the I/O list

LISTED: tuple[tuple[str, Callable[[Wire], str], str], ...] = (
    ("tag", lambda wire: wire.ref, "b"),
    ("place", lambda wire: wire.place, ""),
    ("lamp or contact", lambda wire: wire.aspect, ""),
    ("description", lambda wire: wire.description, ""),
    ("way", lambda wire: wire.direction, ""),
    ("point", lambda wire: wire.point_type, ""),
    ("address", lambda wire: str(wire.address), "n"),
    ("inverted", lambda wire: "yes" if wire.invert else "", ""),
    ("fails", lambda wire: wire.fail_state or "", ""),
    ("proven by, or bands", lambda wire: wire.feedback_ref or wire.bands or "", ""),
    ("prove ms", lambda wire: str(wire.prove_ms or ""), "n"),
    ("cable", lambda wire: wire.cable, ""),
    ("core", lambda wire: wire.core, "n"),
    ("terminal", lambda wire: wire.terminal, ""),
    ("fuse", lambda wire: wire.fuse, ""),
    ("tested on", lambda wire: wire.tested_on or "", "day"),
)
"""Title of a column, what stands in it, how it is set."""


def io_list(venue: Venue) -> str:
    """Write the I/O list as a page to print: a table a device, with room for the day it was tested."""
    wires = sorted(venue.wires, key=_device)
    tables = "\n".join(_device_table(list(rows)) for _, rows in groupby(wires, key=_device))
    file = venue.wiring.name if venue.wiring else ""
    said = f"{len(wires)} wires of {file}, venue digest {venue.digest[:12]}"
    return _page(f"I/O list, {venue.name}", said, tables, sign="Held against the cabinets")


def _device(wire: Wire) -> tuple[str, str, int, int]:
    return wire.protocol, wire.host, wire.port or 0, -1 if wire.unit is None else wire.unit


def _device_table(rows: list[Wire]) -> str:
    names = _cells("th", [name for name, *_ in LISTED])
    body = (
        "<tr>" + "".join(f"<td class='{how}'>{escape(tell(wire))}</td>" for _, tell, how in LISTED) + "</tr>"
        for wire in rows
    )
    return f"<section><h2>{_device_title(rows)}</h2>{_table(names, body)}</section>"


def _made(wire: Wire) -> tuple[str, str]:
    return wire.serial, wire.firmware


def _device_title(rows: list[Wire]) -> str:
    """Say what a device is, and what holds for all its wires."""
    first = rows[0]
    where = ":".join(str(part) for part in (first.host, first.port) if part)
    unit = "" if first.unit is None else f" unit {first.unit}"
    watchdogs = {wire.watchdog_ms for wire in rows if wire.watchdog_ms is not None}
    watchdog = "none" if watchdogs == {ABSENT_MS} else f"{max(watchdogs, default=0)} ms"
    serial, firmware = (next(filter(None, given), "") for given in zip(*map(_made, rows), strict=True))
    facts = (
        serial and f"serial {serial}",
        firmware and f"firmware {firmware}",
        f"addresses counted from {first.address_base}",
        watchdogs and f"write watchdog {watchdog}",
    )
    said = ", ".join(str(fact) for fact in facts if fact)
    return f"{escape(f'{first.protocol} {where}{unit}')} <span>· {escape(said)}</span>"


# --- the matrix


def matrix_page(made: Matrix) -> str:
    """Write the matrix as a page to print; many heads make several tables, each with every cause."""
    heads = list(made.outputs)
    count = -(-len(heads) // HEADS_ABREAST) or 1
    each = -(-len(heads) // count)
    blocks = [heads[at : at + each] for at in range(0, len(heads), each)]
    said = f"Worked out from the venue and its table, {made.digest[:12]}. {LEGEND}"
    tables = "\n".join(f"<section class='page'>{_matrix_table(made, block)}</section>" for block in blocks)
    return _page(f"Cause and effect, {made.venue}", said, tables, sign="This is what should happen")


def matrix_csv(made: Matrix) -> str:
    """Write the matrix as a table for a spreadsheet: kind, cause, a column a head; its outputs below it."""
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(["kind", "cause", *made.outputs])
    writer.writerow(["", "outputs", *(" ".join(refs) for refs in made.outputs.values())])
    for row in made.rows:
        writer.writerow([row.kind, row.cause, *(str(row.cells.get(head, "")) for head in made.outputs)])
    return written.getvalue()


def _matrix_table(made: Matrix, heads: Sequence[str]) -> str:
    names = _cells("th", ["cause", *heads])
    refs = ("".join(f"<span>{escape(ref)}</span> " for ref in made.outputs[head]) for head in heads)
    outputs = "".join(f"<th><small>{each}</small></th>" for each in ("outputs", *refs))
    bodies = "\n".join(_matrix_body(made.rows, kind, heads) for kind in KINDS)
    return f"<table class='matrix'><thead>{names}<tr>{outputs}</tr></thead>{bodies}</table>"


def _matrix_body(rows: Iterable[Row], kind: Kind, heads: Sequence[str]) -> str:
    title = f"<tr><th colspan='{len(heads) + 1}'>{kind}</th></tr>"
    return f"<tbody>{title}{''.join(_matrix_row(row, heads) for row in rows if row.kind == kind)}</tbody>"


def _matrix_row(row: Row, heads: Sequence[str]) -> str:
    cells = "".join(_matrix_cell(row.cells.get(head)) for head in heads)
    return f"<tr><td>{escape(row.cause)}</td>{cells}</tr>"


def _matrix_cell(cell: Cell | None) -> str:
    if cell is None:
        return "<td>–</td>"
    if cell.within_ms is None:
        return f"<td class='unseen'>{escape(cell.shows)}</td>"
    fill = next((fill for aspect, fill in FILLS.items() if cell.shows.split(" ")[0] == aspect), "")
    return f"<td class='{fill}'><small class='ms'>{cell.within_ms}</small>{escape(cell.shows)}</td>"


# --- HTML


def _cells(tag: str, texts: Iterable[str]) -> str:
    return "<tr>" + "".join(f"<{tag}>{escape(text)}</{tag}>" for text in texts) + "</tr>"


def _table(head: str, rows: Iterable[str]) -> str:
    body = "\n".join(rows)
    return f"<table><thead>{head}</thead><tbody>\n{body}\n</tbody></table>"


def _page(title: str, said: str, body: str, *, sign: str) -> str:
    foot = f"<p class='sign'>{escape(sign)}: ______________________________ on ______________</p>"
    return _html(title, f"<h1>{escape(title)}</h1><p>{escape(said)}</p>\n{body}\n{foot}")


def _html(title: str, body: str) -> str:
    quoted = escape(title).replace('"', "")
    return (
        f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><title>{escape(title)}</title>"
        f'<style>html {{ --foot: "{quoted}"; }}{STYLE}</style></head><body>{body}</body></html>\n'
    )
