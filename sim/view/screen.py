"""One window's picture: puts map, ribbon and panels together, draws only what changed."""

from __future__ import annotations

from collections.abc import Callable

import pygame

from signals.look import BODY_PX, HEAD_PX, TITLE_PX
from sim.view.callpanel import CallPanel, Touch
from sim.view.desk import Desk, age
from sim.view.explain import explain
from sim.view.ground import extent
from sim.view.hands import Hands
from sim.view.layout import arrange
from sim.view.pages import draw_help, draw_seen
from sim.view.paint import Brush
from sim.view.panels import Panels
from sim.view.strip import Strip
from sim.view.trackmap import TrackMap

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
        self._covered: tuple[object, ...] = ()
        surface.fill(self.brush.colour("ground"))

    def draw(self, now_s: float) -> list[pygame.Rect]:
        """Draw what changed by `now_s`."""
        if self.hands.helping or self.hands.reading:
            return self._cover()
        fresh = bool(self._covered)
        if fresh:
            self._covered = ()
            self.surface.fill(self.brush.colour("ground"))
            self._panels_at = ()
        changed = [self.layout.map]
        self._touched["map"] = self.map.draw(self.surface, self.desk, self.hands, now_s)
        lost = self.desk.lost(now_s)
        if lost:
            self._no_link(now_s)
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
            self.desk.seen[-1].id if self.desk.seen else 0,
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
            "karts": (self.layout.karts, lambda: panels.karts(on, desk, hands, now_s)),
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

    def _no_link(self, now_s: float) -> None:
        """Say over the map that nothing here can be trusted, and how old it is."""
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
        old_s = self.desk.age_s(now_s)
        if old_s >= 1:
            at = box.centerx, box.bottom + brush.px(20)
            said = f"Everything shown is {age(old_s)} old"
            brush.write(self.surface, said, at, BODY_PX, bold=True, align="centre")

    def target(self, spot: tuple[int, int]) -> str:
        """Give what lies under the pointer."""
        if self.hands.helping:
            return "help"
        if self.hands.reading:
            return "seen"
        for touched in self._touched.values():
            for box, target in reversed(touched):
                if box.collidepoint(spot):
                    return target
        if self.layout.map.collidepoint(spot):
            local = (spot[0] - self.layout.map.left, spot[1] - self.layout.map.top)
            sector = self.map.sector_at(local)
            return f"sector:{sector}" if sector else ""
        return ""

    def _cover(self) -> list[pygame.Rect]:
        """Cover all with a page: the keys, or what was seen; drawn anew only when it has changed."""
        newest = self.desk.seen[-1].id if self.desk.seen else 0
        page = ("help", 0) if self.hands.helping else ("seen", newest)
        if self._covered == page:
            return []
        self._covered = page
        if self.hands.helping:
            draw_help(self.surface, self.brush)
        else:
            draw_seen(self.surface, self.brush, self.desk)
        return [self.surface.get_rect()]
