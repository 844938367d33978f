"""Somebody's weeks as curves, in the window: the same panels as on the page that is printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pygame

from signals.look import SMALL_PX
from sim.drill.curves import Curve, Panel, Point, days, labelled, panels
from sim.drill.progress import Week
from sim.view.paint import Brush

GAP_PX, LEFT_PX, HEAD_PX, FOOT_PX, SIDE_PX = 24, 56, 56, 40, 28
POINT_PX, RING_PX, LINE_PX = 9, 5, 2
DASH_PX = 8

Spot = Callable[[float, float], tuple[int, int]]


class Weeks:
    """Draws them, two panels beside each other."""

    def __init__(self, brush: Brush, found: Sequence[Week]) -> None:
        self.brush = brush
        self.found = found

    def draw(self, on: pygame.Surface, area: pygame.Rect) -> None:
        """Draw every panel into an area."""
        gap = self.brush.px(GAP_PX)
        wide, high = (area.width - gap) // 2, (area.height - gap) // 2
        for number, panel in enumerate(panels(self.found)):
            row, column = divmod(number, 2)
            at = area.left + column * (wide + gap), area.top + row * (high + gap)
            self._panel(on, panel, pygame.Rect(*at, wide, high))

    def _panel(self, on: pygame.Surface, panel: Panel, area: pygame.Rect) -> None:
        brush = self.brush
        brush.box(on, area)
        left = area.left + brush.px(16)
        brush.write(on, panel.title, (left, area.top + brush.px(18)), SMALL_PX, bold=True)
        brush.write(on, panel.caption, (left, area.top + brush.px(38)), SMALL_PX, "muted")
        if panel.empty:
            return
        field = pygame.Rect(
            area.left + brush.px(LEFT_PX),
            area.top + brush.px(HEAD_PX),
            area.width - brush.px(LEFT_PX + 16),
            area.height - brush.px(HEAD_PX + FOOT_PX),
        )
        spot = self._spot(panel, field)
        self._scale(on, panel, field, spot)
        for curve in panel.curves:
            self._curve(on, curve, spot)

    def _spot(self, panel: Panel, field: pygame.Rect) -> Spot:
        lasts, side = max(1, days(self.found)[-1]), self.brush.px(SIDE_PX)

        def spot(at: float, value: float) -> tuple[int, int]:
            up = (value - panel.low) / (panel.high - panel.low)
            across = at / lasts * (field.width - 2 * side)
            return round(field.left + side + across), round(field.bottom - up * field.height)

        return spot

    def _scale(self, on: pygame.Surface, panel: Panel, field: pygame.Rect, spot: Spot) -> None:
        brush = self.brush
        for value in panel.ticks:
            y = spot(0, value)[1]
            pygame.draw.line(on, brush.colour("hairline"), (field.left, y), (field.right, y))
            brush.write(
                on, f"{round(value, 1):g}", (field.left - brush.px(8), y), SMALL_PX, "muted", align="right"
            )
        if panel.line is not None:
            y, dash = spot(0, panel.line)[1], brush.px(DASH_PX)
            for x in range(field.left, field.right, 2 * dash):
                pygame.draw.line(on, brush.colour("text"), (x, y), (min(x + dash, field.right), y))
            at = field.right, y - brush.px(10)
            brush.write(on, panel.line_says, at, SMALL_PX, align="right")
        for at_day, text in labelled(self.found):
            at = spot(at_day, panel.low)[0], field.bottom + brush.px(18)
            brush.write(on, text, at, SMALL_PX, "muted", align="centre")

    def _curve(self, on: pygame.Surface, curve: Curve, spot: Spot) -> None:
        brush = self.brush
        spots = [spot(point.days, point.value) for point in curve.points]
        if len(spots) > 1:
            colour = brush.colour("text" if curve.filled else "muted")
            pygame.draw.lines(on, colour, False, spots, brush.px(LINE_PX))
        for point in curve.points:
            self._point(on, curve, point, spot)

    def _point(self, on: pygame.Surface, curve: Curve, point: Point, spot: Spot) -> None:
        brush, at = self.brush, spot(point.days, point.value)
        if point.low is not None and point.high is not None:
            ends = spot(point.days, point.low), spot(point.days, point.high)
            pygame.draw.line(on, brush.colour("text"), *ends, brush.px(1))
        if curve.filled:
            side = brush.px(POINT_PX)
            box = pygame.Rect(0, 0, side, side)
            box.center = at
            pygame.draw.rect(on, brush.colour("text"), box)
            return
        pygame.draw.circle(on, brush.colour("surface"), at, brush.px(RING_PX))
        pygame.draw.circle(on, brush.colour("text"), at, brush.px(RING_PX), brush.px(2))
