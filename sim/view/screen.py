"""One window's picture: puts map, ribbon and panels together, draws only what changed."""

from __future__ import annotations

from collections.abc import Callable

import pygame

from signals.look import BODY_PX, GLYPHS, HEAD_PX, SMALL_PX, TITLE_PX, Mark
from sim.view.actions import ACTIONS, COLUMNS, NOT_A_STOP, OTHER_KEYS
from sim.view.callpanel import CallPanel, Touch
from sim.view.desk import Desk
from sim.view.explain import explain
from sim.view.ground import extent
from sim.view.hands import Hands
from sim.view.layout import BUTTON_ROWS, arrange
from sim.view.paint import Brush
from sim.view.panels import Panels
from sim.view.strip import Strip
from sim.view.trackmap import TrackMap

LEGEND: tuple[tuple[Mark, str], ...] = (
    (Mark.STOP, "Red: stop"),
    (Mark.CAUTION, "Yellow: slow, no passing"),
    (Mark.GO, "Green"),
    (Mark.FINISH, "Chequered: come in"),
    (Mark.MOVE_OVER, "Blue: let pass"),
    (Mark.PLATE, "Black: driver is out"),
    (Mark.DARK, "Head is dark"),
    (Mark.FAULT, "Head is lost"),
    (Mark.UNKNOWN, "Head is not heard"),
)
HELP_TOP_PX, HELP_BELOW_PX = 96, 188
HELP_LINES = 2
PANEL_EVERY_S = 0.1


class Screen:
    """The picture of one window size. `draw` gives the areas that changed, for the display's update."""

    def __init__(self, surface: pygame.Surface, desk: Desk, hands: Hands) -> None:
        self.surface = surface
        self.desk = desk
        self.hands = hands
        west, east, south, north = extent(desk.venue)
        self.layout = arrange(
            surface.get_size(),
            sectors=len(desk.venue.sectors),
            items=len(desk.venue.checklist),
            karts=len(desk.venue.karts),
            aspect=(east - west) / (north - south),
        )
        self.brush = Brush(self.layout.scale)
        self.map = TrackMap(desk.venue, self.layout.map, self.brush)
        self.strip = Strip(self.layout.ribbon, self.brush)
        self.panels = Panels(self.layout, self.brush)
        self.calls = CallPanel(self.layout, self.brush)
        self.hover = ""
        self._touched: dict[str, list[Touch]] = {}
        self._panels_at: tuple[object, ...] = ()
        self._covered = False
        surface.fill(self.brush.colour("ground"))

    def draw(self, now_s: float) -> list[pygame.Rect]:
        """Draw what changed by `now_s`."""
        if self.hands.helping:
            return self._help()
        fresh = self._covered
        if fresh:
            self._covered = False
            self.surface.fill(self.brush.colour("ground"))
            self._panels_at = ()
        changed = [self.layout.map]
        self._touched["map"] = self.map.draw(self.surface, self.desk, self.hands, now_s)
        lost = self.desk.lost(now_s)
        if lost:
            self._no_link()
        if self.strip.due(self.desk, self.hands, now_s) or fresh:
            self._touched["ribbon"] = self.strip.draw(self.surface, self.desk, self.hands, now_s)
            changed.append(self.layout.ribbon)
        if self._panels_due(now_s, lost=lost):
            changed += self._draw_panels(now_s)
        return [self.surface.get_rect()] if fresh else changed

    def _panels_due(self, now_s: float, *, lost: bool) -> bool:
        """Panels are drawn ten times a second, and at once when something was touched or answered."""
        key = (
            int(now_s / PANEL_EVERY_S),
            lost,
            self.hover,
            self.hands.question,
            self.desk.outcome,
            self.hands.sector,
            self.hands.kart,
            self.hands.scrolled,
        )
        if key == self._panels_at:
            return False
        self._panels_at = key
        return True

    def _draw_panels(self, now_s: float) -> list[pygame.Rect]:
        panels, on, desk, hands = self.panels, self.surface, self.desk, self.hands
        wide = self.calls.answer_area(desk, hands)
        whole = wide.colliderect(self.layout.checklist)
        jobs: dict[str, tuple[pygame.Rect, Callable[[], list[Touch]]]] = {
            "top": (self.layout.top, lambda: panels.top(on, desk, now_s)),
            "notice": (self.layout.notice, lambda: panels.notice(on, desk, now_s)),
            "karts": (self.layout.karts, lambda: panels.karts(on, desk, hands)),
            "next": (self.layout.next, lambda: panels.next(on, desk, now_s)),
            "calls": (self.layout.calls, lambda: self.calls.calls(on, desk, hands, self.hover)),
            "detail": (self.layout.detail, lambda: panels.detail(on, self._said(now_s))),
            "checklist": (self.layout.checklist, lambda: [] if whole else panels.checklist(on, desk)),
            "answer": (wide, lambda: self.calls.answer(on, desk, hands)),
        }
        column = self.layout.answer.union(self.layout.checklist)
        on.fill(self.brush.colour("ground"), column)
        for name, (area, draw) in jobs.items():
            on.fill(self.brush.colour("ground"), area)
            on.set_clip(area)
            self._touched[name] = draw()
            on.set_clip(None)
        return [column, *(area for area, _ in jobs.values())]

    def _said(self, now_s: float) -> str:
        target = self.hover or (f"entry:{self.hands.opened}" if self.hands.opened else "")
        return explain(target, self.desk, self.hands, now_s)

    def _no_link(self) -> None:
        """Say over the map that nothing here can be trusted."""
        area, brush = self.layout.map, self.brush
        veil = pygame.Surface(area.size, pygame.SRCALPHA)
        veil.fill((*brush.colour("ground"), 190))
        self.surface.blit(veil, area)
        text = brush.text("NO LINK: FLAG AND RADIO", HEAD_PX, "ground", bold=True)
        size = HEAD_PX
        if text.get_width() > area.width - brush.px(32):
            text, size = brush.text("NO LINK: FLAG AND RADIO", TITLE_PX, "ground", bold=True), TITLE_PX
        box = text.get_rect(center=area.center).inflate(brush.px(32), brush.px(size))
        pygame.draw.rect(self.surface, brush.colour("text"), box, border_radius=brush.px(4))
        self.surface.blit(text, text.get_rect(center=box.center))

    def target(self, spot: tuple[int, int]) -> str:
        """Give what lies under the pointer."""
        if self.hands.helping:
            return "help"
        for touched in self._touched.values():
            for box, target in reversed(touched):
                if box.collidepoint(spot):
                    return target
        if self.layout.map.collidepoint(spot):
            local = (spot[0] - self.layout.map.left, spot[1] - self.layout.map.top)
            sector = self.map.ground.sector_at(local)
            return f"sector:{sector}" if sector else ""
        return ""

    def _help(self) -> list[pygame.Rect]:
        """Cover all with the page of keys; drawn once."""
        if self._covered:
            return []
        self._covered = True
        on, brush = self.surface, self.brush
        on.fill(brush.colour("ground"))
        left = brush.px(32)
        brush.write(on, "Keys and signs", (left, brush.px(32)), TITLE_PX, bold=True)
        brush.write(
            on, "Close: Esc or a click", (on.get_width() - left, brush.px(32)), colour="muted", align="right"
        )
        brush.write(on, NOT_A_STOP, (left, brush.px(64)), BODY_PX)
        width = (on.get_width() - 2 * left) // 3
        for index, column in enumerate(COLUMNS):
            self._help_column(
                column, pygame.Rect(left + index * width, brush.px(HELP_TOP_PX), width - brush.px(16), 0)
            )
        top = brush.px(HELP_TOP_PX + 36) + BUTTON_ROWS * self._help_row()
        for index, (keys, what) in enumerate(OTHER_KEYS):
            spot = (left + index % 3 * width, top + index // 3 * brush.px(22))
            brush.write(on, keys, spot, bold=True)
            brush.write(on, what, (spot[0] + brush.px(100), spot[1]), width=width - brush.px(104))
        top += brush.px(3 * 22 + 14)
        for index, (mark, what) in enumerate(LEGEND):
            spot = (left + index % 5 * ((on.get_width() - 2 * left) // 5), top + index // 5 * brush.px(28))
            glyph = brush.glyph(mark, brush.px(22), 7 if "#" in GLYPHS[mark].letter else None)
            on.blit(glyph, glyph.get_rect(midleft=spot))
            brush.write(on, what, (spot[0] + brush.px(30), spot[1]))
        return [on.get_rect()]

    def _help_row(self) -> int:
        room = self.surface.get_height() - self.brush.px(HELP_TOP_PX + HELP_BELOW_PX)
        return min(self.brush.px(60), room // BUTTON_ROWS)

    def _help_column(self, column: str, area: pygame.Rect) -> None:
        on, brush = self.surface, self.brush
        brush.write(on, column, area.topleft, BODY_PX, "muted", bold=True)
        y = area.top + brush.px(26)
        for action in (each for each in ACTIONS if each.column == column):
            brush.write(on, action.key, (area.left, y), bold=True)
            brush.write(on, action.label, (area.left + brush.px(52), y), bold=True)
            lines = brush.wrap(action.line, SMALL_PX, area.width - brush.px(52))
            for index, line in enumerate(lines[:HELP_LINES]):
                brush.write(
                    on, line, (area.left + brush.px(52), y + brush.px(16) * (index + 1)), colour="muted"
                )
            y += self._help_row()
