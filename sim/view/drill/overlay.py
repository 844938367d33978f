"""What a drill and its replay lay over the desk: what is out of sight, clock, radio, scrubber."""

from __future__ import annotations

import pygame

from signals.look import BODY_PX, HEAD_PX, SMALL_PX, TITLE_PX
from sim.drill.lookout import Lookout
from sim.track import Path
from sim.view.drill.bands import Bands, height_px
from sim.view.drill.flow import Flow
from sim.view.paint import Brush
from sim.view.screen import Screen

Touch = tuple[pygame.Rect, str]

FOG = 215
"""Of 255: how dense what cannot be seen is."""
RADIO_S = 14.0
TOLD_S, TOLD = 12.0, 7
"""Marks of a replay so long ago are told, and so many."""


class Fog:
    """Covers the road that a post does not see; drawn once for each enlargement."""

    def __init__(self, lookout: Lookout, brush: Brush) -> None:
        self._lookout = lookout
        self._brush = brush
        self._drawn: dict[tuple[int, int], pygame.Surface] = {}

    def draw(self, on: pygame.Surface, screen: Screen) -> None:
        """Lay it over the map."""
        if self._lookout.everything:
            return
        ground = screen.map.ground
        size = ground.size
        if size not in self._drawn:
            self._drawn[size] = self._cover(screen)
        on.blit(self._drawn[size], screen.layout.map, pygame.Rect(screen.map.corner, screen.layout.map.size))

    def _cover(self, screen: Screen) -> pygame.Surface:
        ground, track = screen.map.ground, self._lookout.track
        surface = pygame.Surface(ground.size, pygame.SRCALPHA)
        colour = (*self._brush.colour("ground"), FOG)
        for path, seen in ((track.lap, self._lookout.lap), (track.pit, self._lookout.pit)):
            for metre in (number for number, is_seen in enumerate(seen) if not is_seen):
                corners = [ground.frame.spot(*corner) for corner in _piece(path, metre)]
                pygame.draw.polygon(surface, colour, corners)
        return surface


def _piece(path: Path, metre: int) -> list[tuple[float, float]]:
    """Give the corners of a metre of road, with its edges."""
    corners = []
    for along, sides in ((metre - 0.1, (1, -1)), (metre + 1.1, (-1, 1))):
        sample = path.sample(along)
        reach = max(path.lefts[sample], path.rights[sample], 2.0) + 0.9
        for side in sides:
            spot = path.at(along).aside(side * reach)
            corners.append((spot.x_m, spot.y_m))
    return corners


class Overlay:
    """Draws on the map of a screen."""

    def __init__(self, screen: Screen) -> None:
        self.screen = screen
        self.brush = screen.brush

    def running(self, on: pygame.Surface, flow: Flow, now_s: float) -> list[Touch]:
        """Write the drill's clock and its keys, and what was heard on the radio."""
        brush, area, booth = self.brush, self.screen.layout.map, flow.booth
        if booth is None or booth.began_s is None or flow.watching is None:
            return []
        at_s = max(0.0, now_s - booth.began_s)
        text = f"{flow.drill.file.title}   {int(at_s) // 60}:{int(at_s) % 60:02d}"
        at = area.left + brush.px(8), area.top + brush.px(14)
        box = brush.write(on, text, at, SMALL_PX, bold=True)
        touched = []
        x = box.right + brush.px(16)
        for key, what in (("F10", "pause"), ("F12", "end")):
            said = brush.write(on, f"{what} ({key})", (x, at[1]), SMALL_PX, "muted")
            touched.append((said.inflate(brush.px(8), brush.px(8)), f"key:{key}"))
            x = said.right + brush.px(12)
        self._radio(on, flow, now_s)
        return touched

    def _radio(self, on: pygame.Surface, flow: Flow, now_s: float) -> None:
        brush, area = self.brush, self.screen.layout.map
        heard = (
            [text for at_s, text in flow.watching.radio if now_s - at_s < RADIO_S] if flow.watching else []
        )
        y = area.bottom - brush.px(12)
        for text in reversed(heard[-3:]):
            lines = brush.wrap(f"Radio: {text}", BODY_PX, area.width - brush.px(48), bold=True)
            high = brush.px(24) * len(lines) + brush.px(12)
            box = pygame.Rect(area.left + brush.px(8), y - high, area.width - brush.px(16), high)
            brush.box(on, box, "surface", "text", 2)
            for number, line in enumerate(lines):
                at = box.left + brush.px(12), box.top + brush.px(18 + 24 * number)
                brush.write(on, line, at, BODY_PX, bold=True)
            y = box.top - brush.px(8)

    def paused(self, on: pygame.Surface) -> list[Touch]:
        """Say over everything that it is paused: nothing moves, nothing can be called."""
        brush = self.brush
        veil = pygame.Surface(on.get_size(), pygame.SRCALPHA)
        veil.fill((*brush.colour("ground"), 200))
        on.blit(veil, (0, 0))
        middle = on.get_rect().center
        brush.write(on, "Paused", middle, HEAD_PX, bold=True, align="centre")
        touched = []
        for number, (key, what) in enumerate((("F10", "go on"), ("F12", "end, and see the score"))):
            at = middle[0], middle[1] + brush.px(48 + 32 * number)
            box = brush.write(on, f"{what} ({key})", at, BODY_PX, align="centre")
            touched.append((box.inflate(brush.px(16), brush.px(10)), f"key:{key}"))
        return touched

    def replay(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Lay the whole drill's ribbon with the moment over the ribbon, and what was told beside the map."""
        brush, replay, played = self.brush, flow.replay, flow.played
        if replay is None or played is None:
            return []
        layout = self.screen.layout
        column = layout.next.union(layout.calls)
        on.fill(brush.colour("ground"), column)
        touched = self._told(on, flow, column)
        high = brush.px(height_px(len(played.rows)))
        area = pygame.Rect(layout.ribbon.left, layout.ribbon.bottom - high, layout.ribbon.width, high)
        on.fill(brush.colour("ground"), area.union(layout.ribbon).union(layout.detail))
        bands = Bands(brush, flow.venue, area, played.known.ends_ms)
        touched += bands.draw(on, played.rows, played.score.timeline)
        x = bands.x(replay.at_s * 1000)
        pygame.draw.line(on, brush.colour("text"), (x, area.top), (x, area.bottom), brush.px(2))
        return [*self._moments(bands), *touched]

    def _moments(self, bands: Bands) -> list[Touch]:
        """Give the field of the ribbon in strips, each a moment to go to."""
        field = bands.field
        strips = (pygame.Rect(x, field.top, 4, field.height) for x in range(field.left, field.right, 4))
        return [(strip, f"at:{bands.at_s(strip.centerx):.2f}") for strip in strips]

    def _told(self, on: pygame.Surface, flow: Flow, area: pygame.Rect) -> list[Touch]:
        brush, replay = self.brush, flow.replay
        if replay is None:
            return []
        left, wide = area.left + brush.px(12), area.width - brush.px(24)
        word = "playing" if replay.playing else "standing"
        brush.write(on, "Looked at again", (left, area.top + brush.px(16)), TITLE_PX, bold=True)
        text = f"{replay.at_s:.1f} s of {replay.ends_s:.1f} s, {word}"
        brush.write(on, text, (left, area.top + brush.px(46)), BODY_PX)
        y = area.top + brush.px(82)
        for mark in flow.marks_near(TOLD_S)[:TOLD]:
            better = mark.kind == "better"
            said = f"{mark.at_ms / 1000:.1f} s   {'Better: ' if better else ''}{mark.text}"
            for line in brush.wrap(said, SMALL_PX, wide, bold=mark.kind == "happened"):
                colour = "muted" if better else "text"
                brush.write(on, line, (left, y), SMALL_PX, colour, bold=mark.kind == "happened")
                y += brush.px(20)
            y += brush.px(6)
        return self._replay_keys(on, area)

    def _replay_keys(self, on: pygame.Surface, area: pygame.Rect) -> list[Touch]:
        brush, touched = self.brush, []
        y = area.bottom - brush.px(22 * len(_REPLAY_KEYS))
        for key, keys, what in _REPLAY_KEYS:
            box = brush.write(on, keys, (area.left + brush.px(12), y), SMALL_PX, bold=True)
            said = brush.write(on, what, (area.left + brush.px(150), y), SMALL_PX, "muted")
            touched.append((box.union(said), f"key:{key}"))
            y += brush.px(22)
        return touched


_REPLAY_KEYS = (
    ("Space", "Space", "play, or stand still"),
    ("Left", "Left, right", "a second back, on"),
    ("PageUp", "Page up, down", "five seconds back, on"),
    ("Down", "Up, down", "the mark before, the next one"),
    ("Home", "Home", "from the beginning"),
    ("Esc", "Esc", "back to the score"),
)
