"""Draws the ribbon: one row per sector, time running left, calls and answers as marks."""

from __future__ import annotations

import pygame

from signals import say
from signals.look import SMALL_PX
from signals.words import PIT
from sim.view.desk import Desk
from sim.view.hands import Hands
from sim.view.layout import RIBBON_ROW_PX
from sim.view.paint import Brush
from sim.view.ribbon import TRACK, WINDOW_S, Entry

LABEL_PX = 104
MARK_PX = 16
EVERY_S = 0.1
"""The ribbon moves a few pixels a second: it is drawn anew ten times a second, and when something happens."""
TICKS_S = (0, 30, 60, 90, 120)


class Strip:
    """Draws the ribbon of one size."""

    def __init__(self, area: pygame.Rect, brush: Brush) -> None:
        self.area = area
        self.brush = brush
        self._drawn: tuple[object, ...] = ()

    def due(self, desk: Desk, hands: Hands, now_s: float) -> bool:
        """Whether it is to be drawn again."""
        key = (int(now_s / EVERY_S), desk.ribbon.version, hands.sector, hands.opened)
        if key == self._drawn:
            return False
        self._drawn = key
        return True

    def draw(
        self, on: pygame.Surface, desk: Desk, hands: Hands, now_s: float
    ) -> list[tuple[pygame.Rect, str]]:
        """Draw all; gives the rows and marks that can be touched."""
        brush, area = self.brush, self.area
        brush.box(on, area)
        rows: dict[str, pygame.Rect] = {}
        touched: list[tuple[pygame.Rect, str]] = []
        height = brush.px(RIBBON_ROW_PX)
        for index, row in enumerate(desk.ribbon.rows):
            line = pygame.Rect(area.left, area.top + brush.px(4) + index * height, area.width, height)
            rows[row] = self._field(line)
            self._label(on, desk, row, line, chosen=row == hands.sector)
            self._stretches(on, desk, row, rows[row], now_s)
            if row != TRACK:
                touched.append((pygame.Rect(line.topleft, (brush.px(LABEL_PX), height)), f"sector:{row}"))
        self._axis(on)
        return touched + self._marks(on, desk, hands, rows, now_s)

    def _field(self, line: pygame.Rect) -> pygame.Rect:
        left = line.left + self.brush.px(LABEL_PX)
        return pygame.Rect(left, line.top + 1, line.right - left - self.brush.px(8), line.height - 2)

    def _label(self, on: pygame.Surface, desk: Desk, row: str, line: pygame.Rect, *, chosen: bool) -> None:
        name = "Track" if row == TRACK else say.sector_name(desk.venue, row)
        if chosen:
            mark = pygame.Rect(line.left + self.brush.px(2), line.top + 2, self.brush.px(3), line.height - 4)
            pygame.draw.rect(on, self.brush.colour("text"), mark)
        muted = row in (TRACK, PIT) and not chosen
        self.brush.write(
            on,
            name,
            (line.left + self.brush.px(10), line.centery),
            colour="muted" if muted else "text",
            bold=chosen,
            width=self.brush.px(LABEL_PX - 14),
        )

    def _stretches(self, on: pygame.Surface, desk: Desk, row: str, field: pygame.Rect, now_s: float) -> None:
        pygame.draw.rect(on, self.brush.colour("ground"), field)
        for from_s, to_s, dress in desk.ribbon.stretches(row, now_s):
            left, right = self._x(field, from_s, now_s), self._x(field, to_s, now_s)
            pattern = self.brush.hatch(dress.colour, dress.hatch, field.size)
            # The hatching is fixed to the ribbon, not to the stretch: it does not crawl as time runs.
            on.blit(
                pattern,
                (left, field.top),
                pygame.Rect(left - field.left, 0, max(1, right - left), field.height),
            )

    def _x(self, field: pygame.Rect, at_s: float, now_s: float) -> int:
        return round(field.right - (now_s - at_s) / WINDOW_S * field.width)

    def _axis(self, on: pygame.Surface) -> None:
        field = self._field(self.area)
        y = self.area.bottom - self.brush.px(11)
        for ago_s in TICKS_S:
            x = self._x(field, -ago_s, 0.0)
            text = "now" if ago_s == 0 else f"-{ago_s} s"
            align = "right" if ago_s == 0 else "left" if ago_s == TICKS_S[-1] else "centre"
            self.brush.write(on, text, (x, y), SMALL_PX, "muted", align=align)  # type: ignore[arg-type]

    def _marks(
        self, on: pygame.Surface, desk: Desk, hands: Hands, rows: dict[str, pygame.Rect], now_s: float
    ) -> list[tuple[pygame.Rect, str]]:
        """Draw calls as small tags; neighbours move apart to the left so that each can be opened.

        The like of its neighbour that leaves it no room, as when a call is tried again and again, is
        not drawn: it would only push others away from their time.
        """
        touched: list[tuple[pygame.Rect, str]] = []
        free = {row: field.right for row, field in rows.items()}
        last: dict[str, tuple[str, bool | None]] = {}
        for entry in reversed(desk.ribbon.entries):
            field = rows[entry.row]
            side = self.brush.px(MARK_PX)
            due = self._x(field, entry.at_s, now_s) + side // 2
            right, looks = min(due, free[entry.row]), (entry.letter, entry.accepted)
            if right < due and last.get(entry.row) == looks:
                continue
            last[entry.row] = looks
            box = pygame.Rect(right - side, field.centery - side // 2, side, side)
            if box.left < field.left:
                continue
            free[entry.row] = box.left - 1
            self._mark(on, entry, box, opened=entry.id == hands.opened)
            touched.append((box, f"entry:{entry.id}"))
        return touched

    def _mark(self, on: pygame.Surface, entry: Entry, box: pygame.Rect, *, opened: bool) -> None:
        """Draw a tag: accepted filled, refused outlined and crossed, not answered outlined.

        What the referee saw is no call: a quiet mark on a point, without a box.
        """
        brush = self.brush
        filled = entry.accepted is True
        if entry.seen:
            pygame.draw.circle(on, brush.colour("ground"), box.center, box.width // 2)
            pygame.draw.circle(on, brush.colour("muted"), box.center, box.width // 2, brush.px(1))
        else:
            brush.box(on, box, "text" if filled else "ground", "text")
        brush.write(
            on, entry.letter, box.center, colour="ground" if filled else "text", bold=True, align="centre"
        )
        if entry.accepted is False:
            pygame.draw.line(on, brush.colour("text"), box.bottomleft, box.topright, brush.px(2))
        if opened:
            pygame.draw.rect(on, brush.colour("text"), box.inflate(brush.px(4), brush.px(4)), brush.px(2))
