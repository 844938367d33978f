"""Paper: A4, black and white, one type, glyphs told by shape and letter; what a printed record is drawn with.

Nothing on it is told by colour or by grey alone: the most restrictive glyph is the darkest, a failure is
white on black, and both carry a letter or a word.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import font_source_sans_pro as fonts
from fpdf import FPDF, XPos, YPos
from fpdf.enums import MethodReturnValue, RenderStyle

from signals.look import GLYPHS, OF_ASPECT, Mark, Points
from signals.words import Aspect

BODY_PT, SMALL_PT, TINY_PT, TITLE_PT, HEAD_PT = 9.0, 7.5, 6.0, 22.0, 12.0
EDGE_MM, FOOT_MM = 14.0, 14.0
HAIR_MM, LINE_MM, BOLD_MM = 0.12, 0.25, 0.7
ALL_PAGES = "{all}"
ROW_MM, ROOM_MM, GAP_MM = 3.3, 0.7, 2.0
"""A line of a table, the room around its rows, and between its columns."""
BLACK, WHITE, MUTED, PALE = (0, 0, 0), (255, 255, 255), (70, 70, 70), (150, 150, 150)
"""Pale only parts; it says nothing."""
FILLED = frozenset({"red", "blue", "plate"})
"""Colours that print black; the others print white with an outline."""


class Paper(FPDF):
    """A document with our type, a foot on every page, and the glyphs."""

    def __init__(self, foot: str) -> None:
        super().__init__(unit="mm", format="A4")
        self._foot = foot
        self._columns: tuple[tuple[str, float, str], ...] = ()
        self.add_font("sans", "", fonts.font_files_ttf["SourceSansPro"])
        self.add_font("sans", "B", fonts.font_files_ttf["SourceSansProSemibold"])
        self.set_margins(EDGE_MM, EDGE_MM, EDGE_MM)
        self.set_auto_page_break(auto=True, margin=FOOT_MM + 4)
        self.alias_nb_pages(ALL_PAGES)
        self.set_draw_color(*BLACK)
        self.set_line_width(LINE_MM)
        self.c_margin = 0.0

    def header(self) -> None:
        """Write the columns of a table that goes on from the page before."""
        if self._columns:
            self._headings()

    def footer(self) -> None:
        """Write the page's number, what it belongs to, and what it is not."""
        self.set_y(-FOOT_MM)
        self.set_line_width(HAIR_MM)
        self.line(EDGE_MM, self.get_y(), self.w - EDGE_MM, self.get_y())
        self.set_y(-FOOT_MM + 1.5)
        self.type(SMALL_PT, colour=MUTED)
        self.cell(0, 4, self._foot)
        text = f"page {self.page_no()} of "
        self.set_x(self.w - EDGE_MM - self.get_string_width(f"{text}10"))  # the count is filled in at the end
        self.cell(0, 4, f"{text}{ALL_PAGES}")

    # --- tables: a line under every row, headings on every page, a group's title never alone

    @contextmanager
    def table_of(self, *columns: tuple[str, float, str]) -> Iterator[None]:
        """Draw rows (`row`, `group`) under columns: name, width in mm, alignment L or R."""
        self._columns = columns
        self._headings()
        try:
            yield
        finally:
            self._columns = ()

    def row(self, *texts: str, black: int | None = None, bold: bool = False) -> None:
        """Write one row; the text at `black` stands white on black."""
        self.type(SMALL_PT, bold=bold)
        widths = [width - GAP_MM for _, width, _ in self._columns]
        lines = [self._wrapped(text, width) for text, width in zip(texts, widths, strict=True)]
        height_mm = max(map(len, lines)) * ROW_MM + ROOM_MM
        if self.will_page_break(height_mm):
            self.add_page(same=True)
            self.type(SMALL_PT, bold=bold)
        y_mm, x_mm = self.get_y(), EDGE_MM
        for number, (own, (_, width, align)) in enumerate(zip(lines, self._columns, strict=True)):
            self._in_row(own, x_mm, y_mm, width - GAP_MM, align, black=number == black)
            x_mm += width
        self.under(y_mm + height_mm)

    def _wrapped(self, text: str, width_mm: float) -> list[str]:
        lines = self.multi_cell(
            width_mm, ROW_MM, text, dry_run=True, output=MethodReturnValue.LINES, align="L"
        )
        return [str(line) for line in lines] if isinstance(lines, list) else []

    def group(self, text: str, rows: int = 2) -> None:
        """Write a title over the rows that follow, together with the first of them."""
        if self.will_page_break((rows + 1) * (ROW_MM + ROOM_MM)):
            self.add_page(same=True)
        self.set_y(self.get_y() + 1.2)
        self.type(SMALL_PT, bold=True)
        self.cell(0, ROW_MM, fitted(self, text, self.epw), new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.under(self.get_y() + ROOM_MM / 2, BLACK)

    def _in_row(
        self, lines: list[str], x_mm: float, y_mm: float, width_mm: float, align: str, *, black: bool
    ) -> None:
        if black:
            self.set_fill_color(*BLACK)
            self.rect(x_mm - 0.6, y_mm + 0.2, width_mm + 0.8, ROW_MM + ROOM_MM - 0.4, style=RenderStyle.F)
            self.type(SMALL_PT, bold=True, colour=WHITE)
        for number, line in enumerate(lines):
            self.set_xy(x_mm, y_mm + ROOM_MM / 2 + number * ROW_MM)
            self.cell(width_mm, ROW_MM, line, align=align)
        if black:
            self.type(SMALL_PT)

    def _headings(self) -> None:
        self.type(SMALL_PT, bold=True)
        y_mm, x_mm = self.get_y(), EDGE_MM
        for name, width, align in self._columns:
            self.set_xy(x_mm, y_mm)
            self.cell(width - GAP_MM, ROW_MM, name, align=align)
            x_mm += width
        self.under(y_mm + ROW_MM + ROOM_MM, BLACK)

    def under(self, y_mm: float, colour: Sequence[int] = PALE) -> None:
        """Draw a line under what was written, and go on below it."""
        self.set_line_width(HAIR_MM)
        self.set_draw_color(*colour)
        self.line(EDGE_MM, y_mm, self.w - EDGE_MM, y_mm)
        self.set_draw_color(*BLACK)
        self.set_line_width(LINE_MM)
        self.set_xy(EDGE_MM, y_mm)

    # --- type

    def type(self, size_pt: float, *, bold: bool = False, colour: Sequence[int] = BLACK) -> None:
        """Choose the type for what follows."""
        self.set_font("sans", "B" if bold else "", size_pt)
        self.set_text_color(*colour)

    def say(self, text: str, size_pt: float = BODY_PT, *, bold: bool = False, muted: bool = False) -> None:
        """Write a paragraph over the full width."""
        self.type(size_pt, bold=bold, colour=MUTED if muted else BLACK)
        self.multi_cell(0, size_pt * 0.47, text, new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def heading(self, text: str, said: str = "") -> None:
        """Begin a section: a heading over a line, not left alone at a page's foot."""
        if self.will_page_break(24):
            self.add_page()
        self.ln(3)
        self.type(HEAD_PT, bold=True)
        self.cell(0, 6, text, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.set_line_width(LINE_MM)
        self.line(EDGE_MM, self.get_y(), self.w - EDGE_MM, self.get_y())
        self.ln(1.2)
        if said:
            self.say(said, SMALL_PT, muted=True)
            self.ln(0.8)

    @contextmanager
    def at(self, x_mm: float, y_mm: float) -> Iterator[None]:
        """Draw somewhere else, and come back."""
        before = self.get_x(), self.get_y()
        self.set_xy(x_mm, y_mm)
        yield
        self.set_xy(*before)

    def stamp(self, text: str, x_mm: float, y_mm: float, width_mm: float, *, filled: bool) -> None:
        """Draw a verdict's box: white on black where it forbids."""
        self.set_line_width(BOLD_MM)
        self.set_fill_color(*(BLACK if filled else WHITE))
        self.rect(x_mm, y_mm, width_mm, 15, style=RenderStyle.DF)
        self.type(TITLE_PT - 3, bold=True, colour=WHITE if filled else BLACK)
        with self.at(x_mm, y_mm):
            self.cell(width_mm, 15, text, align="C")
        self.set_line_width(LINE_MM)

    # --- glyphs

    def glyph(self, aspect: Aspect, x_mm: float, y_mm: float, half_mm: float) -> None:
        """Draw what an aspect looks like around a middle: its shape, its letter, rays where it flashes."""
        self.mark(OF_ASPECT[aspect], x_mm, y_mm, half_mm)
        if aspect.endswith("-flash"):
            self._rays(x_mm, y_mm, half_mm)

    def mark(self, mark: Mark, x_mm: float, y_mm: float, half_mm: float) -> None:
        """Draw a glyph of the product's one look, in black and white."""
        glyph = GLYPHS[mark]
        self.set_line_width(HAIR_MM * 1.4)
        black = False
        for points, colour in glyph.parts:
            black = colour in FILLED
            self.set_fill_color(*(BLACK if black else WHITE))
            self.polygon(_placed(points, x_mm, y_mm, half_mm), style=RenderStyle.DF)
        for points, _ in glyph.lines:
            self.polyline(_placed(points, x_mm, y_mm, half_mm))
        if glyph.letter not in ("", "#", "F") and half_mm > 1:  # a half-black square needs no letter
            self._letter(glyph.letter, x_mm, y_mm + glyph.letter_y * half_mm, half_mm, white=black)
        self.set_line_width(LINE_MM)

    def _letter(self, letter: str, x_mm: float, y_mm: float, half_mm: float, *, white: bool) -> None:
        self.type(half_mm * 3.4, bold=True, colour=WHITE if white else BLACK)
        with self.at(x_mm - half_mm, y_mm - half_mm):
            self.cell(2 * half_mm, 2 * half_mm, letter, align="C")

    def _rays(self, x_mm: float, y_mm: float, half_mm: float) -> None:
        self.set_line_width(HAIR_MM * 1.4)
        for dx, dy in ((-1, -1), (1, -1)):
            near, far = 0.75 * half_mm, 1.15 * half_mm
            self.line(x_mm + dx * near, y_mm + dy * near, x_mm + dx * far, y_mm + dy * far)
        self.set_line_width(LINE_MM)


def fitted(paper: Paper, text: str, width_mm: float) -> str:
    """Cut a text to a width; the dots say that it goes on."""
    if paper.get_string_width(text) <= width_mm:
        return text
    while text and paper.get_string_width(f"{text}…") > width_mm:
        text = text[:-1]
    return f"{text}…"


def _placed(points: Points, x_mm: float, y_mm: float, half_mm: float) -> list[tuple[float, float]]:
    return [(x_mm + half_mm * x, y_mm + half_mm * y) for x, y in points]
