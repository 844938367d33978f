"""The desk's calls: a button each, the question before a call, and what came of it."""

from __future__ import annotations

import pygame

from signals import say
from signals.actions import ACTIONS, COLUMNS, Action
from signals.look import BODY_PX, SMALL_PX, Mark
from signals.words import Phase, Word
from sim.view.desk import Desk
from sim.view.hands import Hands
from sim.view.layout import BUTTON_PX, BUTTON_ROWS, HEADER_PX, Layout
from sim.view.paint import Brush

Touch = tuple[pygame.Rect, str]
Row = tuple[str, int, bool, int]
"""A line: its text, size, weight and height."""
LINE_PX = 18
OPTION_PX = 12
"""What an answer to a question needs beside its lines."""

BUTTON_MARK: dict[str, Mark] = {
    "red": Mark.STOP,
    "fire": Mark.STOP,
    "medical": Mark.STOP,
    "yellow": Mark.CAUTION,
    "person": Mark.CAUTION,
    "chequered": Mark.FINISH,
    "blue": Mark.MOVE_OVER,
    "black": Mark.PLATE,
}


class CallPanel:
    """Draws calls, questions and answers. Each drawing gives the places that can be touched."""

    def __init__(self, layout: Layout, brush: Brush) -> None:
        self.layout = layout
        self.brush = brush

    def answer_area(self, desk: Desk, hands: Hands) -> pygame.Rect:
        """Give the room of question or answer: long ones take the checklist's place too."""
        area, low = self.layout.answer, self.layout.checklist
        rows = self._rows(desk, hands, area.width - self.brush.px(24))
        needed = sum(height for _, _, _, height in rows) + self.brush.px(20)
        if hands.question is not None:
            options = (*((option.key, option.label) for option in hands.question.options), ("Esc", ""))
            lines = sum(max(1, len(self._option_lines(key, label, area.width))) for key, label in options)
            needed += self.brush.px(OPTION_PX) * len(options) + self.brush.px(LINE_PX) * lines
        return (
            area
            if needed <= area.height
            else pygame.Rect(area.left, area.top, area.width, low.bottom - area.top)
        )

    def _rows(self, desk: Desk, hands: Hands, width: int) -> list[Row]:
        """Give lines with size, weight and height: the title, then each reason."""
        brush = self.brush
        if hands.question is not None:
            lines = brush.wrap(hands.question.text, BODY_PX, width, bold=True)
            return [(line, BODY_PX, True, brush.px(24)) for line in lines]
        outcome = desk.outcome
        if outcome is None:
            return []
        indent = brush.px(26)
        rows = [
            (line, BODY_PX, True, brush.px(24))
            for line in brush.wrap(outcome.title, BODY_PX, width - indent, bold=True)
        ]
        for reason in outcome.lines:
            lines = brush.wrap(reason, SMALL_PX, width - indent)
            rows += [(line, SMALL_PX, False, brush.px(LINE_PX)) for line in lines]
            rows[-1] = (*rows[-1][:3], brush.px(LINE_PX + 4))
        return rows

    def answer(self, on: pygame.Surface, desk: Desk, hands: Hands) -> list[Touch]:
        """Draw the question that is open, else what came of the last call."""
        brush, area = self.brush, self.answer_area(desk, hands)
        question = hands.question
        rows = self._rows(desk, hands, area.width - brush.px(24))
        if not rows:
            brush.write(
                on,
                "The answer to a call appears here.",
                (area.left + brush.px(14), area.top + brush.px(20)),
                colour="muted",
            )
            return []
        refused = question is None and desk.outcome is not None and desk.outcome.accepted is False
        brush.box(on, area, "surface", "text" if refused or question else "hairline", 2)
        left, y = area.left + brush.px(14), area.top + brush.px(20)
        if question is None:
            self._outcome_mark(on, desk, (left, y))
            left += brush.px(26)
        y = self._lines(
            on, hands, rows, pygame.Rect(left, y, area.right - left, area.bottom - brush.px(16) - y)
        )
        return self._options(on, hands, y, area) if question is not None else []

    def _lines(self, on: pygame.Surface, hands: Hands, rows: list[Row], room: pygame.Rect) -> int:
        """Write lines into a room; what does not fit is reached by page down or the wheel. Gives the end."""
        brush, y = self.brush, room.top
        over = sum(height for *_, height in rows) - room.height
        if over > 0:
            first = min(hands.scrolled, -(-over // brush.px(LINE_PX)) + 1)
            rows = [rows[0], *rows[1 + first :]]
        for index, (line, size, bold, height) in enumerate(rows):
            if over > 0 and y + height > room.bottom and index < len(rows) - 1:
                left = f"{len(rows) - index} more lines: page down, or the wheel"
                brush.write(on, left, (room.left, y), colour="muted", bold=True)
                break
            brush.write(on, line, (room.left, y), size, bold=bold)
            y += height
        return y

    def _outcome_mark(self, on: pygame.Surface, desk: Desk, at: tuple[int, int]) -> None:
        """Refused: a crossed ring. Accepted: a tick. Neither yet: an empty ring."""
        brush = self.brush
        accepted = desk.outcome.accepted if desk.outcome else None
        if accepted:
            x, y, unit = at[0], at[1], brush.px(4)
            points = [(x, y), (x + unit, y + unit), (x + 3 * unit, y - 1.5 * unit)]
            pygame.draw.lines(on, brush.colour("text"), False, points, brush.px(2))
            return
        mark = brush.glyph(Mark.FAULT if accepted is False else Mark.DARK, brush.px(16))
        on.blit(mark, mark.get_rect(midleft=at))

    def _options(self, on: pygame.Surface, hands: Hands, y: int, area: pygame.Rect) -> list[Touch]:
        brush = self.brush
        touched = []
        options = [(option.key, option.label) for option in hands.question.options] if hands.question else []
        options.append(("Esc", "Leave it"))
        room = (area.bottom - y) // len(options) - brush.px(OPTION_PX)
        for key, label in options:
            lines = self._option_lines(key, label, area.width)[: max(1, room // brush.px(LINE_PX))]
            height = brush.px(8) + brush.px(LINE_PX) * len(lines)
            box = pygame.Rect(area.left + brush.px(12), y, area.width - brush.px(24), height)
            brush.box(on, box, "ground", "text" if key != "Esc" else "hairline")
            self._key(on, key, (box.right - brush.px(8), box.centery))
            for index, line in enumerate(lines):
                middle = box.top + brush.px(4) + brush.px(LINE_PX) * index + brush.px(9)
                brush.write(on, line, (box.left + brush.px(10), middle), bold=key != "Esc")
            touched.append((box, f"answer:{key}"))
            y = box.bottom + brush.px(4)
        return touched

    def _option_lines(self, key: str, label: str, width: int) -> tuple[str, ...]:
        room = width - self.brush.px(52) - self.brush.width(key, SMALL_PX)
        return self.brush.wrap(label, SMALL_PX, room, bold=True)

    def _key(self, on: pygame.Surface, key: str, right: tuple[int, int]) -> pygame.Rect:
        return self.brush.write(on, key, right, colour="muted", align="right")

    def calls(self, on: pygame.Surface, desk: Desk, hands: Hands, hover: str) -> list[Touch]:
        """Every call, always in the same place; quiet where it makes no sense now."""
        brush, area = self.brush, self.layout.calls
        gap = brush.px(4)
        width = (area.width + gap) // 3 - gap
        titles = {
            "Track": say.sector_name(desk.venue, hands.sector),
            "Session": "Session",
            "Kart": self._kart_title(desk, hands),
        }
        touched = []
        for index, column in enumerate(COLUMNS):
            left = area.left + index * (width + gap)
            head = area.top + brush.px(HEADER_PX) // 2
            brush.write(on, titles[column], (left + brush.px(4), head), bold=True, width=width)
            actions = [action for action in ACTIONS if action.column == column][:BUTTON_ROWS]
            for row, action in enumerate(actions):
                top = area.top + brush.px(HEADER_PX + row * BUTTON_PX)
                box = pygame.Rect(left, top, width, brush.px(BUTTON_PX) - gap)
                self._button(on, action, box, desk, hands, hover)
                touched.append((box, f"do:{action.id}"))
        return touched

    def _kart_title(self, desk: Desk, hands: Hands) -> str:
        if hands.kart is None:
            return "Kart: choose (↑ ↓)"
        driver = desk.picture.driver(hands.kart)
        return f"Kart {hands.kart}" + (f", {driver}" if driver else "")

    def _button(
        self, on: pygame.Surface, action: Action, box: pygame.Rect, desk: Desk, hands: Hands, hover: str
    ) -> None:
        brush = self.brush
        usable = hands.in_use(action)
        refused = (
            desk.outcome is not None and desk.outcome.action == action.id and desk.outcome.accepted is False
        )
        asked = hands.question is not None and hands.question.action == action.id
        edge = "text" if refused or asked or hover == f"do:{action.id}" else "hairline"
        brush.box(on, box, "surface", edge, 2 if refused or asked else 1)
        left = box.left + brush.px(8)
        mark = BUTTON_MARK.get(action.id)
        if mark is not None:
            glyph = brush.glyph(mark, brush.px(16), hands.kart if mark is Mark.PLATE else None)
            if not usable:
                glyph = glyph.copy()
                glyph.set_alpha(110)
            on.blit(glyph, glyph.get_rect(midleft=(left, box.centery)))
            left += brush.px(22)
        key = self._key(on, action.key, (box.right - brush.px(7), box.centery))
        label = self._label(action, desk)
        brush.write(
            on,
            label,
            (left, box.centery),
            colour="text" if usable else "muted",
            bold=usable,
            width=key.left - left - brush.px(2),
        )
        if refused:
            pygame.draw.line(
                on, brush.colour("text"), (box.left, box.bottom - 1), (box.right, box.bottom - 1), brush.px(3)
            )

    def _label(self, action: Action, desk: Desk) -> str:
        if action.word is Word.LET_OUT and desk.picture.waiting():
            return f"{action.label} ({len(desk.picture.waiting())})"
        if (
            action.word is Word.STAGE
            and desk.state is not None
            and desk.state.phase in (Phase.RACING, Phase.ARMED)
        ):
            return "Next group"
        return action.label
