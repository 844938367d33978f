"""The ribbon of a whole drill: a row per sector, hatched as it stood, with what happened and was called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pygame

from signals import say
from signals.look import IDLE, OF_CONDITION, SMALL_PX, Dress
from signals.venue.model import Venue
from signals.words import Condition
from sim.drill.score import TRACK_ROW, Mark
from sim.drill.stretches import Stretch
from sim.view.paint import Brush

ROW_PX, LABEL_PX, MARK_PX, AXIS_PX = 22, 104, 16, 22
STEPS_S = (5, 10, 20, 30, 60, 120)
LABELS = 8
KINDS = ("happened", "called", "seen", "did", "due")
"""Marks that are drawn; the rest is told in words."""


def height_px(rows: int) -> int:
    """Give the height of so many rows and the axis, at scale 1."""
    return rows * ROW_PX + AXIS_PX


class Bands:
    """Draws them. `x` and `at_s` go between moments and pixels."""

    def __init__(self, brush: Brush, venue: Venue, area: pygame.Rect, ends_ms: int) -> None:
        self.brush = brush
        self.venue = venue
        self.area = area
        self.ends_ms = max(1, ends_ms)
        left = area.left + brush.px(LABEL_PX)
        self.field = pygame.Rect(left, area.top, area.right - left - brush.px(12), area.height)

    def x(self, at_ms: float) -> int:
        """Give the pixel of a moment."""
        return round(self.field.left + at_ms / self.ends_ms * self.field.width)

    def at_s(self, x: int) -> float:
        """Give the moment of a pixel, seconds."""
        return (x - self.field.left) / self.field.width * self.ends_ms / 1000

    def draw(
        self, on: pygame.Surface, rows: Mapping[str, Sequence[Stretch]], marks: Sequence[Mark]
    ) -> list[tuple[pygame.Rect, str]]:
        """Draw rows and marks; gives where a mark's moment can be clicked."""
        self.brush.box(on, self.area)
        boxes = {}
        for number, (row, found) in enumerate(rows.items()):
            line = pygame.Rect(
                self.field.left,
                self.area.top + self.brush.px(ROW_PX * number + 3),
                self.field.width,
                self.brush.px(ROW_PX - 3),
            )
            boxes[row] = line
            self._row(on, row, found, line)
        self._axis(on)
        return self._marks(on, boxes, marks)

    def _row(self, on: pygame.Surface, row: str, found: Sequence[Stretch], line: pygame.Rect) -> None:
        name = "Track" if row == TRACK_ROW else say.sector_name(self.venue, row)
        at = self.area.left + self.brush.px(10), line.centery
        self.brush.write(on, name, at, width=self.brush.px(LABEL_PX - 14))
        pygame.draw.rect(on, self.brush.colour("ground"), line)
        for stretch in found:
            dress = _dress(stretch.condition)
            left, right = self.x(stretch.from_ms), self.x(stretch.to_ms)
            pattern = self.brush.hatch(dress.colour, dress.hatch, line.size)
            part = pygame.Rect(left - line.left, 0, max(1, right - left), line.height)
            on.blit(pattern, (left, line.top), part)

    def _axis(self, on: pygame.Surface) -> None:
        ends_s = self.ends_ms / 1000
        step_s = next((step for step in STEPS_S if ends_s / step <= LABELS), STEPS_S[-1])
        y = self.area.bottom - self.brush.px(11)
        for at_s in range(0, int(ends_s) + 1, step_s):
            at = self.x(at_s * 1000), y
            self.brush.write(on, f"{at_s} s", at, SMALL_PX, "muted", align="centre")

    def _marks(
        self, on: pygame.Surface, boxes: Mapping[str, pygame.Rect], marks: Sequence[Mark]
    ) -> list[tuple[pygame.Rect, str]]:
        touched = []
        side = self.brush.px(MARK_PX)
        taken: dict[str, int] = {}
        for mark in (each for each in marks if each.kind in KINDS):
            line = boxes.get(mark.row, boxes[TRACK_ROW])
            left = max(self.x(mark.at_ms) - side // 2, taken.get(mark.row, 0))
            box = pygame.Rect(left, line.centery - side // 2, side, side)
            if box.right > self.field.right + side:
                continue
            taken[mark.row] = box.right + 1
            self._mark(on, mark, box)
            touched.append((box, f"at:{mark.at_ms / 1000:.2f}"))
        return touched

    def _mark(self, on: pygame.Surface, mark: Mark, box: pygame.Rect) -> None:
        """Draw what happened as a ring with a point, a call as a tag, a touch as a small ring, a deadline."""
        brush = self.brush
        if mark.kind == "due":
            top, bottom = (box.left, box.top - brush.px(1)), (box.left, box.bottom + brush.px(1))
            plate = pygame.Rect(box.left, box.top, brush.px(15), box.height)
            pygame.draw.rect(on, brush.colour("ground"), plate)
            pygame.draw.line(on, brush.colour("text"), top, bottom, brush.px(2))
            brush.write(on, mark.letter, (box.left + brush.px(5), box.centery))
            return
        if mark.kind in ("happened", "seen", "did"):
            size = box.width // 2 if mark.kind == "happened" else box.width // 3
            pygame.draw.circle(on, brush.colour("ground"), box.center, size)
            colour = "text" if mark.kind == "happened" else "muted"
            pygame.draw.circle(on, brush.colour(colour), box.center, size, brush.px(2))
            if mark.kind == "happened":
                brush.write(on, "!", box.center, bold=True, align="centre")
            return
        accepted = mark.good is not False
        brush.box(on, box, "text" if accepted else "ground", "text")
        brush.write(
            on, mark.letter, box.center, colour="ground" if accepted else "text", bold=True, align="centre"
        )
        if not accepted:
            pygame.draw.line(on, brush.colour("text"), box.bottomleft, box.topright, brush.px(2))


def _dress(condition: Condition) -> Dress:
    return IDLE if condition is Condition.CLEAR else OF_CONDITION[condition]
