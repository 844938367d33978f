"""The pages that cover the window: its keys and signs, and what the referee saw."""

from __future__ import annotations

import pygame

from signals import say
from signals.actions import ACTIONS, COLUMNS, NOT_A_STOP, OTHER_KEYS
from signals.look import BODY_PX, GLYPHS, SMALL_PX, TITLE_PX, Mark
from sim.view.desk import Desk
from sim.view.layout import BUTTON_ROWS
from sim.view.paint import Brush

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
HELP_TOP_PX = 92
HELP_LINES = 2
EDGE_PX = 32
KEY_ROW_PX, SIGN_ROW_PX, SEEN_ROW_PX = 20, 26, 22
SIGNS_A_ROW = 5
MOST_ROW_PX = 60


def _title(on: pygame.Surface, brush: Brush, title: str, said: str) -> None:
    on.fill(brush.colour("ground"))
    left = brush.px(EDGE_PX)
    brush.write(on, title, (left, left), TITLE_PX, bold=True)
    right = (on.get_width() - left, left)
    brush.write(on, "Close: Esc or a click", right, colour="muted", align="right")
    brush.write(on, said, (left, brush.px(64)), BODY_PX)


def help_row(on: pygame.Surface, brush: Brush) -> int:
    """Give the height of a call's row on the page of keys."""
    below = -(-len(OTHER_KEYS) // len(COLUMNS)) * KEY_ROW_PX + -(-len(LEGEND) // SIGNS_A_ROW) * SIGN_ROW_PX
    room = on.get_height() - brush.px(HELP_TOP_PX + 26 + 32 + below)
    return min(brush.px(MOST_ROW_PX), room // BUTTON_ROWS)


def draw_help(on: pygame.Surface, brush: Brush) -> None:
    """Draw every key and every sign."""
    _title(on, brush, "Keys and signs", NOT_A_STOP)
    left = brush.px(EDGE_PX)
    width = (on.get_width() - 2 * left) // len(COLUMNS)
    for index, column in enumerate(COLUMNS):
        area = pygame.Rect(left + index * width, brush.px(HELP_TOP_PX), width - brush.px(16), 0)
        _help_column(on, brush, column, area)
    top = brush.px(HELP_TOP_PX + 26 + 12) + BUTTON_ROWS * help_row(on, brush)
    rows = -(-len(OTHER_KEYS) // len(COLUMNS))
    for index, (keys, what) in enumerate(OTHER_KEYS):
        spot = (left + index // rows * width, top + index % rows * brush.px(KEY_ROW_PX))
        brush.write(on, keys, spot, bold=True)
        brush.write(on, what, (spot[0] + brush.px(104), spot[1]), width=width - brush.px(112))
    top += rows * brush.px(KEY_ROW_PX) + brush.px(8)
    wide = (on.get_width() - 2 * left) // SIGNS_A_ROW
    for index, (mark, what) in enumerate(LEGEND):
        spot = (left + index % SIGNS_A_ROW * wide, top + index // SIGNS_A_ROW * brush.px(SIGN_ROW_PX))
        glyph = brush.glyph(mark, brush.px(20), 7 if "#" in GLYPHS[mark].letter else None)
        on.blit(glyph, glyph.get_rect(midleft=spot))
        brush.write(on, what, (spot[0] + brush.px(30), spot[1]))


def _help_column(on: pygame.Surface, brush: Brush, column: str, area: pygame.Rect) -> None:
    brush.write(on, column, area.topleft, BODY_PX, "muted", bold=True)
    y, indent = area.top + brush.px(26), brush.px(52)
    for action in (each for each in ACTIONS if each.column == column):
        brush.write(on, action.key, (area.left, y), bold=True)
        brush.write(on, action.label, (area.left + indent, y), bold=True)
        lines = brush.wrap(action.line, SMALL_PX, area.width - indent)
        for index, line in enumerate(lines[:HELP_LINES]):
            brush.write(on, line, (area.left + indent, y + brush.px(16) * (index + 1)), colour="muted")
        y += help_row(on, brush)


def draw_seen(on: pygame.Surface, brush: Brush, desk: Desk) -> None:
    """Draw what the referee saw, the newest first; he only tells, nothing follows from it."""
    said = "What happened on the simulated track. It is only told: nothing follows from it by itself."
    if desk.worlds and (late := desk.worlds[-1][1].late_steps):
        said += f" Simulated steps that came late: {late}."
    _title(on, brush, "Seen", said)
    left, y = brush.px(EDGE_PX), brush.px(112)
    for finding in reversed(desk.seen):
        if y > on.get_height() - brush.px(EDGE_PX):
            break
        time = say.clock_time(finding.at_ms)
        sector = say.sector_name(desk.venue, finding.where)
        brush.write(on, time, (left, y), colour="muted")
        brush.write(on, sector, (left + brush.px(64), y), colour="muted", width=brush.px(140))
        brush.write(on, finding.said, (left + brush.px(212), y), width=on.get_width() - left - brush.px(244))
        y += brush.px(SEEN_ROW_PX)
    if not desk.seen:
        brush.write(on, "Nothing yet.", (left, y), colour="muted")
