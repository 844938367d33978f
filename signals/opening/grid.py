"""The cause-and-effect matrix on paper: a row a cause, a column a head, a glyph and its ms in every cell."""

from __future__ import annotations

from fpdf.enums import RenderStyle

from signals import say
from signals.opening.paper import BLACK, EDGE_MM, MUTED, SMALL_PT, TINY_PT, WHITE, Paper, fitted
from signals.opening.sheet import CauseFound, CellFound, Sheet
from signals.opening.task import listed
from signals.words import Aspect

HEADS_ABREAST = 16
"""Columns on one landscape page."""
NAME_MM, ROW_MM, GLYPH_MM = 70.0, 4.4, 1.45
LEGEND = (
    Aspect.RED,
    Aspect.YELLOW_FLASH,
    Aspect.YELLOW,
    Aspect.RED_YELLOW,
    Aspect.GREEN,
    Aspect.DARK,
)
ABSENT = {"failed": "failed", "not applicable": "not here"}


def draw_grid(paper: Paper, sheet: Sheet) -> None:
    """Draw the matrix of a sheet, on landscape pages of its own; nothing where no cause was tried."""
    causes = list(sheet.causes.values())
    heads = list(dict.fromkeys(cell.head for cause in causes for cell in cause.cells))
    for first in range(0, len(heads), HEADS_ABREAST):
        paper.add_page(orientation="landscape")
        paper.heading("Cause and effect", _says(causes) + _left_out(sheet))
        _legend(paper)
        _Grid(paper, heads[first : first + HEADS_ABREAST]).draw(causes)


def spelled(cell: CellFound) -> str:
    """Say what came in a cell: the light, and how late."""
    return f"{cell.came}{f' {cell.ms} ms' if cell.ms is not None else ''}"


def _says(causes: list[CauseFound]) -> str:
    longest = max((cell.ms or 0 for cause in causes for cell in cause.cells), default=0)
    cells = sum(len(cause.cells) for cause in causes)
    short = sum(not cell.met for cause in causes for cell in cause.cells)
    return (
        f"{len(causes)} causes, {cells} cells, {short} of them not as due. In each, what the head showed and "
        f"after how many ms, 0 where it showed it already; at most {longest} ms. White on black: late, or "
        "another light."
    )


def _left_out(sheet: Sheet) -> str:
    out = [measure.place for measure in sheet.measures if measure.kind == "out-of-service"]
    return f" Out of service: {listed(out)}." if out else ""


def _legend(paper: Paper) -> None:
    x_mm, y_mm = EDGE_MM + 2, paper.get_y() + 2
    for aspect in LEGEND:
        paper.glyph(aspect, x_mm, y_mm, GLYPH_MM)
        paper.type(SMALL_PT)
        with paper.at(x_mm + 2.6, y_mm - 1.6):
            paper.cell(26, 3.2, say.ASPECTS[aspect])
        x_mm += 12 + paper.get_string_width(say.ASPECTS[aspect])
    paper.set_y(y_mm + 3.5)


class _Grid:
    """Some heads' columns."""

    def __init__(self, paper: Paper, heads: list[str]) -> None:
        self._paper = paper
        self._heads = heads
        self._step_mm = (paper.epw - NAME_MM) / len(heads)

    def draw(self, causes: list[CauseFound]) -> None:
        """Draw every cause's row, the heads' names on every page."""
        self._names()
        for cause in causes:
            if self._paper.will_page_break(ROW_MM):
                self._paper.add_page(orientation="landscape")
                self._names()
            self._row(cause)

    def _names(self) -> None:
        paper = self._paper
        paper.type(SMALL_PT, bold=True)
        paper.cell(NAME_MM, ROW_MM, "cause")
        for head in self._heads:
            paper.cell(self._step_mm, ROW_MM, head, align="C")
        paper.under(paper.get_y() + ROW_MM, BLACK)

    def _row(self, cause: CauseFound) -> None:
        paper, y_mm = self._paper, self._paper.get_y()
        failed = cause.outcome == "failed"
        paper.type(SMALL_PT, bold=failed)
        name = f"{'FAILED ' if failed else ''}{cause.cause}"
        paper.cell(NAME_MM, ROW_MM, fitted(paper, name, NAME_MM - 2))
        if not cause.cells:
            paper.type(SMALL_PT, colour=MUTED)
            words = f"{ABSENT.get(cause.outcome, cause.outcome)}: {cause.came}"
            paper.cell(0, ROW_MM, fitted(paper, words, paper.epw - NAME_MM))
        cells = {cell.head: cell for cell in cause.cells}
        for number, head in enumerate(self._heads):
            if head in cells:
                self._cell(cells[head], EDGE_MM + NAME_MM + number * self._step_mm, y_mm)
        paper.under(y_mm + ROW_MM)

    def _cell(self, cell: CellFound, x_mm: float, y_mm: float) -> None:
        """Draw a cell that is as due: glyph and ms; or white on black what came instead."""
        paper, step_mm = self._paper, self._step_mm
        if not cell.met:
            paper.set_fill_color(*BLACK)
            paper.rect(x_mm, y_mm, step_mm, ROW_MM, style=RenderStyle.F)
            paper.type(TINY_PT, bold=True, colour=WHITE)
            with paper.at(x_mm + 0.4, y_mm):
                late = cell.came == cell.expected and cell.ms is not None
                words = f"{cell.ms} ms" if late else spelled(cell)
                paper.cell(step_mm, ROW_MM, fitted(paper, words, step_mm - 0.8))
            return
        middle_mm = x_mm + step_mm / 2
        paper.glyph(Aspect(cell.came), middle_mm - 2.4, y_mm + ROW_MM / 2, GLYPH_MM)
        paper.type(TINY_PT)
        with paper.at(middle_mm, y_mm):
            paper.cell(step_mm / 2, ROW_MM, "" if cell.ms is None else str(cell.ms))
