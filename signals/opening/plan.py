"""The track on paper: its line, and every head with its name; what is not in order is marked."""

from __future__ import annotations

from dataclasses import dataclass

from fpdf.enums import RenderStyle

from signals.look import Mark
from signals.opening.paper import BLACK, LINE_MM, SMALL_PT, Paper
from signals.opening.sheet import Sheet

SIZE_MM = (118.0, 62.0)
ROAD_MM, ROAD = 1.6, (200, 200, 200)
DOT_MM, MARK_MM = 0.7, 1.9
LABEL_MM = (6.5, 3.2)
AROUND = ((1, 0), (-1, 0), (0, -1), (0, 1), (0.8, -0.8), (-0.8, -0.8), (0.8, 0.8), (-0.8, 0.8))
"""Where a head's name may stand, in labels' sizes: right, left, above, below, and between."""

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Head:
    """Where a head stands on the page, and the middle of its name."""

    at: Spot
    name: Spot


def draw_plan(paper: Paper, sheet: Sheet, marked: frozenset[str], x_mm: float, y_mm: float) -> None:
    """Draw the plan of a sheet's venue; `marked` are the heads that are not in order."""
    plan = _Plan(sheet, x_mm, y_mm)
    paper.set_line_width(ROAD_MM)
    paper.set_draw_color(*ROAD)
    paper.polygon([plan.at(point) for point in sheet.line_m], style=RenderStyle.D)
    paper.set_draw_color(*BLACK)
    for name, head in plan.heads(sheet.spots_m, marked).items():
        _draw_head(paper, name, head, marked=name in marked)
    paper.set_line_width(LINE_MM)


def _draw_head(paper: Paper, name: str, head: _Head, *, marked: bool) -> None:
    x_mm, y_mm = head.at
    if marked:
        paper.mark(Mark.FAULT, x_mm, y_mm, MARK_MM)
    else:
        paper.set_fill_color(*BLACK)
        paper.ellipse(x_mm - DOT_MM, y_mm - DOT_MM, 2 * DOT_MM, 2 * DOT_MM, style=RenderStyle.F)
    paper.type(SMALL_PT, bold=marked)
    with paper.at(head.name[0] - LABEL_MM[0] / 2, head.name[1] - LABEL_MM[1] / 2):
        paper.cell(LABEL_MM[0], LABEL_MM[1], name, align="C")


class _Plan:
    """Puts metres of the track onto millimetres of the page."""

    def __init__(self, sheet: Sheet, x_mm: float, y_mm: float) -> None:
        xs, ys = zip(*sheet.line_m, *sheet.spots_m.values(), strict=True)
        self._line = sheet.line_m
        self._left, self._top = min(xs), max(ys)
        across, up = max(max(xs) - min(xs), 1.0), max(max(ys) - min(ys), 1.0)
        self._scale = min((SIZE_MM[0] - 8) / across, (SIZE_MM[1] - 6) / up)
        self._x_mm, self._y_mm = x_mm + 2, y_mm + 3

    def at(self, spot_m: Spot) -> Spot:
        """Give where a point of the venue lies on the page."""
        x, y = spot_m
        return self._x_mm + (x - self._left) * self._scale, self._y_mm + (self._top - y) * self._scale

    def heads(self, spots_m: dict[str, Spot], marked: frozenset[str]) -> dict[str, _Head]:
        """Place every head, and its name on the side where it is least in the way; marks take more room."""
        points = {head: self.at(spot) for head, spot in spots_m.items()}
        taken = [*points.values(), *(self.at(point) for point in self._line[::2])]
        placed = {}
        for head, (x, y) in points.items():
            reach = 1.35 if head in marked else 0.85
            middles = [(x + dx * LABEL_MM[0] * 0.62, y + dy * LABEL_MM[1] * reach) for dx, dy in AROUND]
            best = min(middles, key=lambda middle: sum(_near(middle, other) for other in taken))
            taken.append(best)
            placed[head] = _Head((x, y), best)
        return placed


def _near(one: Spot, other: Spot) -> float:
    """Tell how much two labels' middles are in each other's way."""
    apart = max(abs(one[0] - other[0]) / LABEL_MM[0], abs(one[1] - other[1]) / LABEL_MM[1])
    return max(0.0, 1.1 - apart)
