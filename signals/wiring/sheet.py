"""What an integrator takes along on paper: the I/O list, a drawing of every head, the matrix."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from html import escape
from itertools import groupby
from pathlib import Path

from signals.venue.model import Venue
from signals.venue.wires import COLUMNS, Wire, write_wires
from signals.wiring.drawing import terminal_drawing
from signals.wiring.matrix import Cell, Matrix, Row, matrix

HEADS_ABREAST = 8
"""Columns of the matrix on one landscape page."""
STYLE = """
@page { size: A4 landscape; margin: 10mm; }
body { font-family: 'Liberation Sans', Arial, sans-serif; font-size: 8.5pt; color: black; background: white; }
h1 { font-size: 14pt; margin: 0 0 1mm; } p { margin: 0 0 3mm; }
table { border-collapse: collapse; width: 100%; page-break-after: always; }
thead { display: table-header-group; } tr { page-break-inside: avoid; }
th, td { border: 0.3mm solid black; padding: 0.8mm 1.2mm; text-align: left; vertical-align: top; }
th { font-weight: bold; } tr.kind th { border-top-width: 0.8mm; }
td:first-child { white-space: nowrap; }
small { font-size: 6.5pt; font-weight: normal; }
"""
IN_TITLE = frozenset({"description", "protocol", "host", "port", "unit", "serial", "firmware"})
LISTED = tuple(name for name in COLUMNS if name not in IN_TITLE)


def write_sheets(venue: Venue, folder: Path) -> list[Path]:
    """Write all sheets into a folder, and give their names: I/O list, matrix, a drawing a head."""
    folder.mkdir(parents=True, exist_ok=True)
    wired = {wire.place for wire in venue.wires}
    sheets = {
        "io-list.csv": write_wires(venue.wires),
        "io-list.html": io_list(venue),
        "matrix.html": matrix_page(matrix(venue)),
        **{f"{head.id}.svg": terminal_drawing(venue, head) for head in venue.heads if head.id in wired},
    }
    for name, text in sheets.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in sheets]


def io_list(venue: Venue) -> str:
    """Write the I/O list as a page to print: a table a device, with room for the day it was tested."""
    wires = sorted(venue.wires, key=_device)
    tables = (_device_table(list(rows)) for _, rows in groupby(wires, key=_device))
    file = venue.wiring.name if venue.wiring else ""
    return _page(f"I/O list, {venue.name}", f"{len(wires)} wires of {file}, {venue.digest[:12]}", tables)


def matrix_page(made: Matrix) -> str:
    """Write the matrix as a page to print; many heads make several tables, each with every cause."""
    heads = list(made.outputs)
    blocks = [heads[at : at + HEADS_ABREAST] for at in range(0, len(heads), HEADS_ABREAST)]
    said = f"worked out from the venue and its table, {made.digest[:12]}; times are the longest, in ms"
    return _page(f"Cause and effect, {made.venue}", said, (_matrix_table(made, block) for block in blocks))


def matrix_csv(made: Matrix) -> str:
    """Write the matrix as a table for a spreadsheet: kind, cause, a column a head; its outputs below it."""
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(["kind", "cause", *made.outputs])
    writer.writerow(["", "outputs", *(" ".join(refs) for refs in made.outputs.values())])
    for row in made.rows:
        writer.writerow([row.kind, row.cause, *(str(row.cells.get(head, "")) for head in made.outputs)])
    return written.getvalue()


def _device(wire: Wire) -> tuple[str, str, int, int]:
    return wire.protocol, wire.host, wire.port or 0, -1 if wire.unit is None else wire.unit


def _device_table(rows: list[Wire]) -> str:
    first = rows[0]
    made = ", ".join(part for part in (first.serial, first.firmware and f"firmware {first.firmware}") if part)
    unit = "" if first.unit is None else f" unit {first.unit}"
    title = f"{first.protocol} {first.host}:{first.port or ''}{unit} {made and f'({made})'}"
    head = f"<tr><th colspan='{len(LISTED)}'>{escape(title)}</th></tr>"
    names = [name.replace("_", " ") for name in LISTED]
    body = ([_shown(getattr(wire, name)) for name in LISTED] for wire in rows)
    return _table(f"{head}{_cells('th', names)}", (_cells("td", row) for row in body))


def _shown(value: object) -> str:
    if value is None or value is False:
        return ""
    return "yes" if value is True else str(value)


def _matrix_table(made: Matrix, heads: Sequence[str]) -> str:
    names = ["cause", *heads]
    refs = ["outputs", *(", ".join(made.outputs[head]) for head in heads)]
    top = _cells("th", names) + _cells("th", refs, small=True)
    return _table(top, _matrix_rows(made.rows, heads))


def _matrix_rows(rows: Iterable[Row], heads: Sequence[str]) -> Iterator[str]:
    for kind, group in groupby(rows, key=lambda row: row.kind):
        yield f"<tr class='kind'><th colspan='{len(heads) + 1}'>{kind}</th></tr>"
        for row in group:
            shown = (_together(row.cells[head]) if head in row.cells else "–" for head in heads)
            yield _cells("td", [row.cause, *shown])


def _together(cell: Cell) -> str:
    """Keep a time on one line."""
    return str(cell).replace("≤ ", "≤\N{NO-BREAK SPACE}").replace(" ms", "\N{NO-BREAK SPACE}ms")


def _cells(tag: str, texts: Iterable[str], *, small: bool = False) -> str:
    opened, closed = ("<small>", "</small>") if small else ("", "")
    return "<tr>" + "".join(f"<{tag}>{opened}{escape(text)}{closed}</{tag}>" for text in texts) + "</tr>"


def _table(head: str, rows: Iterable[str]) -> str:
    body = "\n".join(rows)
    return f"<table><thead>{head}</thead><tbody>\n{body}\n</tbody></table>"


def _page(title: str, said: str, tables: Iterable[str]) -> str:
    body = "\n".join(tables)
    return (
        f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><title>{escape(title)}</title>"
        f"<style>{STYLE}</style></head><body><h1>{escape(title)}</h1><p>{escape(said)}</p>\n{body}\n</body></html>\n"
    )
