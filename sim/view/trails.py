"""Where karts came from, and what their tyres left: thin lines behind karts, dark marks where one slid."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable

import pygame

from signals.mqtt.contract import WorldKart, WorldView

TRAIL_S = 1.4
"""How far back a trail reaches."""
MARKS_KEPT = 240
FINE_M = 0.4
"""Trails and marks are drawn in pieces of at least this length."""
SLIDES_DEG, SLIDES_MPS = 18.0, 1.5
"""A kart that moves this much aside of its heading, and this fast, leaves marks."""
HALF_TRACK_M, REAR_M = 0.55, 0.5
"""Half the distance of a kart's rear tyres, and how far behind its middle they are."""
CARRIED_M = 5.0
"""A kart that moved so far between two reports was carried."""

Spot = tuple[float, float]
Place = Callable[[float, float], Spot]


class Trails:
    """What the last reports of the world left on the road, in metres."""

    def __init__(self) -> None:
        self._paths: dict[int, deque[tuple[float, float, float]]] = {}
        self._tyres: dict[int, tuple[Spot, Spot]] = {}
        """Where the rear tyres of karts were that left marks last."""
        self.marks: deque[tuple[Spot, Spot]] = deque(maxlen=MARKS_KEPT)
        self._seen_s = -math.inf

    def look(self, at_s: float, view: WorldView) -> None:
        """Take a report in, once."""
        if at_s <= self._seen_s:
            return
        self._seen_s = at_s
        for kart in view.karts:
            path = self._paths.setdefault(kart.number, deque())
            while path and path[0][0] < at_s - TRAIL_S:
                path.popleft()
            moved_m = math.dist(path[-1][1:], (kart.x_m, kart.y_m)) if path else math.inf
            if moved_m < FINE_M:
                continue
            if moved_m < CARRIED_M:
                self._mark(path[-1][1:], kart, at_s - path[-1][0])
            else:
                path.clear()
            path.append((at_s, kart.x_m, kart.y_m))

    def _mark(self, was: Spot, kart: WorldKart, since_s: float) -> None:
        """Leave two dark lines where a kart slid: each from where its tyre was to where it is."""
        moved = kart.x_m - was[0], kart.y_m - was[1]
        slides = math.hypot(*moved) >= SLIDES_MPS * since_s and not kart.in_pit
        off = (math.degrees(math.atan2(moved[1], moved[0])) - kart.heading_deg + 180) % 360 - 180
        if not (slides and SLIDES_DEG < abs(off) < 180 - SLIDES_DEG):
            self._tyres.pop(kart.number, None)
            return
        tyres = _rear_tyres(kart)
        if before := self._tyres.get(kart.number):
            self.marks.extend(zip(before, tyres, strict=True))
        self._tyres[kart.number] = tyres

    def draw(
        self, on: pygame.Surface, place: Place, quiet: pygame.Color, dark: pygame.Color, width: int
    ) -> None:
        """Draw marks and trails; `place` gives the pixel of metres."""
        for start, end in self.marks:
            pygame.draw.line(on, dark, place(*start), place(*end), width)
        for path in self._paths.values():
            spots = [place(x_m, y_m) for _, x_m, y_m in path]
            if len(spots) > 1 and math.dist(spots[0], spots[-1]) > 2 * width:
                pygame.draw.lines(on, quiet, False, spots, width)


def _rear_tyres(kart: WorldKart) -> tuple[Spot, Spot]:
    turn = math.radians(kart.heading_deg)
    east, north = math.cos(turn), math.sin(turn)
    x, y = kart.x_m - REAR_M * east, kart.y_m - REAR_M * north
    return (
        (x - HALF_TRACK_M * north, y + HALF_TRACK_M * east),
        (x + HALF_TRACK_M * north, y - HALF_TRACK_M * east),
    )
