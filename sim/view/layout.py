"""Where everything stands: fixed places on an 8 px grid; the map takes what is left."""

from __future__ import annotations

from dataclasses import dataclass

from pygame import Rect

from signals.look import GRID_PX

SMALLEST = (1024, 700)
DESIGNED = (1280, 800)
WIDE_FROM_PX = 1200
TOP_PX, NOTICE_PX, DETAIL_PX, NEXT_PX = 48, 32, 32, 64
BUTTON_PX, ROW_PX, RIBBON_ROW_PX, HEADER_PX = 32, 24, 18, 24
BUTTON_ROWS = 8
MIN_ROW_PX = 18
KARTS_PX, KART_COLUMNS = 216, 3
MAP_MARGIN_PX = 46


def scale_of(size: tuple[int, int]) -> float:
    """Give the scale that follows a window's size: 1 to 2, in quarters."""
    free = min(size[0] / DESIGNED[0], size[1] / DESIGNED[1])
    return min(2.0, max(1.0, int(free * 4) / 4))


@dataclass(frozen=True, slots=True)
class Layout:
    """The panels of one window size."""

    size: tuple[int, int]
    scale: float
    top: Rect
    notice: Rect
    map: Rect
    detail: Rect
    karts: Rect
    ribbon: Rect
    next: Rect
    answer: Rect
    checklist: Rect
    calls: Rect

    def panels(self) -> dict[str, Rect]:
        """Give every panel by name."""
        names = ("top", "notice", "map", "detail", "karts", "ribbon", "next", "answer", "checklist", "calls")
        return {name: getattr(self, name) for name in names}


def arrange(size: tuple[int, int], *, sectors: int, items: int, karts: int, aspect: float) -> Layout:
    """Lay a window out for a venue.

    Args:
        size: the window, pixels.
        sectors: how many sectors it has, the pit with them.
        items: how many items its checklist has.
        karts: how many karts.
        aspect: the track's width over its height; the list of karts stands where the map gains.

    """
    scale = scale_of(size)
    width, height = (round(side / scale) for side in size)
    desk = 400 if width >= WIDE_FROM_PX else 384
    head, bottom = TOP_PX + NOTICE_PX, height - GRID_PX
    ribbon = RIBBON_ROW_PX * (sectors + 1) + HEADER_PX
    free = Rect(GRID_PX, head, width - desk - 3 * GRID_PX, bottom - ribbon - GRID_PX - DETAIL_PX - head)
    track_map, kart_list = _map_and_karts(free, karts, aspect)
    x = width - desk - GRID_PX
    calls_top = bottom - HEADER_PX - BUTTON_ROWS * BUTTON_PX - GRID_PX
    checklist = HEADER_PX + items * ROW_PX + GRID_PX
    list_top = calls_top - GRID_PX - checklist
    answer_top = head + NEXT_PX + GRID_PX
    areas = {
        "top": Rect(0, 0, width, TOP_PX),
        "notice": Rect(0, TOP_PX, width, NOTICE_PX),
        "map": track_map,
        "detail": Rect(free.left, free.bottom, free.width, DETAIL_PX),
        "karts": kart_list,
        "ribbon": Rect(free.left, bottom - ribbon, free.width, ribbon),
        "next": Rect(x, head, desk, NEXT_PX),
        "answer": Rect(x, answer_top, desk, list_top - GRID_PX - answer_top),
        "checklist": Rect(x, list_top, desk, checklist),
        "calls": Rect(x, calls_top, desk, bottom - calls_top),
    }
    return Layout(size=size, scale=scale, **{name: _scaled(area, scale) for name, area in areas.items()})


def _map_and_karts(free: Rect, karts: int, aspect: float) -> tuple[Rect, Rect]:
    """Part the free room between map and karts: the list beside the map, or below it in columns."""
    beside = Rect(free.right - KARTS_PX, free.top, KARTS_PX, free.height)
    left = Rect(free.left, free.top, free.width - KARTS_PX - GRID_PX, free.height)
    high = HEADER_PX + (MIN_ROW_PX + 2) * -(-karts // KART_COLUMNS) + GRID_PX
    below = Rect(free.left, free.bottom - high, free.width, high)
    above = Rect(free.left, free.top, free.width, free.height - high - GRID_PX)

    def shown(room: Rect) -> float:
        return min((room.width - 2 * MAP_MARGIN_PX) / aspect, room.height - 2 * MAP_MARGIN_PX)

    return (left, beside) if shown(left) >= shown(above) else (above, below)


def _scaled(area: Rect, scale: float) -> Rect:
    left, top = round(area.left * scale), round(area.top * scale)
    return Rect(left, top, round(area.right * scale) - left, round(area.bottom * scale) - top)
