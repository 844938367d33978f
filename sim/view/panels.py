"""The panels around the map: top line, notice, karts, next, answer, checklist, calls, detail."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pygame

from signals import say
from signals.actions import NOT_A_STOP
from signals.look import BODY_PX, GRID_PX, HEAD_PX, OF_CONDITION, SMALL_PX, TITLE_PX, Mark
from signals.picture import Level
from signals.words import PIT, Condition, Phase
from sim.view.hint import next_step
from sim.view.kartbody import KartBody
from sim.view.layout import HEADER_PX, KART_COLUMNS, KARTS_PX, MIN_ROW_PX, ROW_PX

if TYPE_CHECKING:
    from sim.view.desk import Desk
    from sim.view.hands import Hands
    from sim.view.layout import Layout
    from sim.view.paint import Align, Brush

Touch = tuple[pygame.Rect, str]

KART_ALIGNS: tuple[Align, ...] = ("left", "left", "right", "left")
KART_COLUMNS_PX = ((8, 38, 114, 128), (8, 40, 88, 102))
KART_TITLES = (("Kart", "In", "max km/h", "Why"), ("Kart", "In", "max", "Why"))
"""Where the columns stand and what they are called: with all the room a kart's line wants, and with less."""
SEEN_ROW_PX = 18
NAMED_MOST = 3
RINGS = (
    (Level.FULL, "full speed"),
    (Level.CAUTION, "slowed"),
    (Level.CREEP, "creeps"),
    (Level.STOPPED, "stopped"),
)
"""What the ring around a kart tells, for whoever does not know it yet."""
RING_PX = 7
SEEN_LEAST_PX = 80
"""With less room below the list of karts, what was seen is told by the ribbon and its own page alone."""


class Panels:
    """Draws every panel but map and ribbon. Each gives the places that can be touched."""

    def __init__(self, layout: Layout, brush: Brush) -> None:
        self.layout = layout
        self.brush = brush
        self._body = KartBody(brush, brush.px(RING_PX))

    def top(self, on: pygame.Surface, desk: Desk, now_s: float) -> list[Touch]:
        """Draw venue, what stands, the session's clock."""
        brush, area = self.brush, self.layout.top
        middle = area.centery
        name = brush.write(on, desk.venue.name, (brush.px(2 * GRID_PX), middle), BODY_PX, bold=True)
        if desk.venue.simulated:
            badge = brush.text("SIMULATED", SMALL_PX, "text", bold=True)
            box = badge.get_rect(midleft=(name.right + brush.px(20), middle)).inflate(
                brush.px(16), brush.px(4)
            )
            brush.box(on, box, None, "text", 2)
            on.blit(badge, badge.get_rect(center=box.center))
        if desk.lost(now_s):
            brush.write(on, "No link", area.center, TITLE_PX, bold=True, align="centre")
        else:
            self._standing(on, desk)
        right = area.right - brush.px(2 * GRID_PX)
        help_box = brush.write(on, "Help (F1)", (right, middle), SMALL_PX, "muted", align="right")
        left = help_box.left - brush.px(2 * GRID_PX)
        more_box = brush.write(on, "More calls (E)", (left, middle), SMALL_PX, "muted", align="right")
        self._clock(on, desk, more_box.left - brush.px(2 * GRID_PX))
        around = brush.px(2 * GRID_PX)
        boxes = ((more_box, "more"), (help_box, "help"))
        return [(box.inflate(around - 2, around), target) for box, target in boxes]

    def _standing(self, on: pygame.Surface, desk: Desk) -> None:
        """Phase, glyph and word of the track's condition, in the middle of the line."""
        brush, area, state = self.brush, self.layout.top, desk.state
        if state is None:
            return
        phase = say.PHASES[state.phase]
        held = state.condition.value in ("stop", "caution")
        driving = state.phase in (Phase.RACING, Phase.FINISHING)
        word = say.CONDITIONS[state.condition] if held or driving else ""
        if desk.picture.recovering() and held and not desk.picture.holds():
            word = "AFTER RED"
        elif state.condition is Condition.CAUTION:
            word += cautioned(desk)
        phase_width = brush.width(phase, TITLE_PX, bold=True)
        word_width = brush.width(word, TITLE_PX, bold=True) if word else 0
        glyph = brush.px(HEAD_PX) if word else 0
        gap = brush.px(GRID_PX * 1.5)
        x = area.centerx - (phase_width + word_width + glyph + 2 * gap) // 2
        brush.write(on, phase, (x, area.centery), TITLE_PX, bold=True)
        if word:
            mark = brush.glyph(OF_CONDITION[state.condition].mark, glyph)
            on.blit(mark, mark.get_rect(midleft=(x + phase_width + gap, area.centery)))
            brush.write(on, word, (x + phase_width + glyph + 2 * gap, area.centery), TITLE_PX, bold=True)

    def _clock(self, on: pygame.Surface, desk: Desk, right: int) -> None:
        left_s = desk.left_s()
        if left_s is not None:
            over = "-" if left_s < 0 else ""
            text = f"{over}{int(abs(left_s)) // 60}:{int(abs(left_s)) % 60:02d}"
            box = self.brush.write(
                on, text, (right, self.layout.top.centery), TITLE_PX, bold=True, align="right"
            )
            right = box.left - self.brush.px(3 * GRID_PX)
        if desk.state is not None and desk.state.surface == "wet":
            self.brush.write(on, "Wet", (right, self.layout.top.centery), BODY_PX, bold=True, align="right")

    def notice(self, on: pygame.Surface, desk: Desk, now_s: float) -> list[Touch]:
        """Draw what must be read first; nothing to say: what this is not."""
        brush, area = self.brush, self.layout.notice
        lines = desk.warnings(now_s)
        at = (area.left + brush.px(2 * GRID_PX), area.centery)
        if not lines:
            late = desk.worlds[-1][1].late_steps if desk.worlds else 0
            said = f"{NOT_A_STOP}   Simulated steps that came late: {late}." if late else NOT_A_STOP
            colour = "text" if desk.note else "muted"
            said = f"{desk.note}   {said}" if desk.note else said
            brush.write(on, said, at, colour=colour, width=area.width - brush.px(32))
            return []
        bar = area.inflate(-brush.px(16), -brush.px(4))
        brush.box(on, bar, "surface", "text", 2)
        mark = brush.glyph(Mark.FAULT, brush.px(18))
        on.blit(mark, mark.get_rect(midleft=(bar.left + brush.px(8), bar.centery)))
        more = f"   (+{len(lines) - 1})" if len(lines) > 1 else ""
        brush.write(
            on,
            lines[0] + more,
            (bar.left + brush.px(34), bar.centery),
            bold=True,
            width=bar.width - brush.px(44),
        )
        return (
            [(bar, "reset-monitor")] if desk.trip is not None and desk.trip.tripped else [(bar, "warnings")]
        )

    def karts(self, on: pygame.Surface, desk: Desk, hands: Hands, now_s: float) -> list[Touch]:
        """Every kart: where it is, its limit, and why."""
        brush, area = self.brush, self.layout.karts
        brush.box(on, area)
        blocks = KART_COLUMNS if area.width > brush.px(KARTS_PX) else 1
        width = area.width // blocks
        aside = blocks > 1 and area.width >= brush.px(KARTS_PX) * (blocks + 1)
        if aside:
            width = area.width // (blocks + 1)
        narrow = width < brush.px(KARTS_PX)
        room = area.height - brush.px(HEADER_PX) - brush.px(4)
        numbers, more = self._listed(desk, hands, blocks * (room // brush.px(MIN_ROW_PX)))
        rows = -(-(len(numbers) + bool(more)) // blocks)
        row = min(brush.px(ROW_PX), room // max(1, rows))
        touched = []
        for block in range(blocks):
            left = area.left + block * width
            columns = tuple(left + brush.px(at) for at in KART_COLUMNS_PX[narrow])
            self._kart_header(on, columns, KART_TITLES[narrow], area.top + brush.px(HEADER_PX) // 2)
            for index, number in enumerate(numbers[block * rows : (block + 1) * rows]):
                line = pygame.Rect(left, area.top + brush.px(HEADER_PX) + index * row, width, row)
                self._kart(on, desk, hands, number, line, columns, now_s)
                touched.append((line, f"kart:{number}"))
        if more:
            brush.write(
                on, f"and {more} more in the pit", (columns[0], line.bottom + row // 2), colour="muted"
            )
        below = line.bottom + (row if more else 0) + brush.px(HEADER_PX) // 2
        free = pygame.Rect(area.left, below, area.width, area.bottom - below)
        if aside:
            free = pygame.Rect(area.left + blocks * width, area.top, width, area.height)
        return touched + (self._seen(on, desk, free) if blocks == 1 or aside else [])

    def _seen(self, on: pygame.Surface, desk: Desk, room: pygame.Rect) -> list[Touch]:
        """List what the referee saw last in the room that is left, newest first; quiet."""
        brush = self.brush
        if not desk.seen or room.height < brush.px(SEEN_LEAST_PX):
            return []
        left, y = room.left + brush.px(8), room.top + brush.px(HEADER_PX) // 2
        brush.write(on, f"Seen, {len(desk.seen)} (F8)", (left, y), colour="muted", bold=True)
        for finding in reversed(desk.seen):
            lines = brush.wrap(finding.said, SMALL_PX, room.width - brush.px(16))
            if y + brush.px(SEEN_ROW_PX) * (len(lines) + 1) > room.bottom:
                break
            for line in lines:
                y += brush.px(SEEN_ROW_PX)
                brush.write(on, line, (left, y), colour="muted")
            y += brush.px(4)
        return [(room, "seen")]

    def _listed(self, desk: Desk, hands: Hands, room: int) -> tuple[list[int], int]:
        """Give the karts to list, and how many are left off: only those in the pit that nobody drives."""
        numbers = [kart.number for kart in desk.venue.karts]
        if len(numbers) <= room:
            return numbers, 0
        first = {*desk.picture.members(), *desk.picture.out(), hands.kart}
        kept = sorted(numbers, key=lambda number: number not in first)[: room - 1]
        return sorted(kept), len(numbers) - len(kept)

    def _kart_header(
        self, on: pygame.Surface, columns: tuple[int, ...], titles: tuple[str, ...], y: int
    ) -> None:
        for x, title, align in zip(columns, titles, KART_ALIGNS, strict=True):
            self.brush.write(on, title, (x, y), colour="muted", align=align)

    def _kart(
        self,
        on: pygame.Surface,
        desk: Desk,
        hands: Hands,
        number: int,
        line: pygame.Rect,
        columns: tuple[int, ...],
        now_s: float,
    ) -> None:
        """Draw a kart's line; one that is not heard is shown as old, with its age."""
        brush = self.brush
        member = number in desk.picture.members()
        old = desk.silent_s(number, now_s) is not None or desk.lost(now_s)
        if hands.kart == number:
            brush.box(on, line.inflate(-brush.px(4), 0), None, "text", 2)
        plate = pygame.Rect(columns[0], line.top + brush.px(2), brush.px(26), line.height - brush.px(4))
        brush.box(on, plate, "plate", "number" if member else "hairline")
        colour = "text" if member and not old else "muted"
        brush.write(on, str(number), plate.center, colour=colour, bold=True, align="centre")
        kart = desk.picture.kart(number)
        if kart is None:
            return
        y = line.centery
        place, limit = place_name(desk, kart.place), f"{kart.limit_kmh:g}"
        if old:
            place, limit = f"{place}?".replace("??", "?"), f"({limit})"
        brush.write(on, place, (columns[1], y), colour=colour)
        brush.write(on, limit, (columns[2], y), colour=colour, bold=member and not old, align="right")
        if not old:
            self._limit_bar(on, desk.picture.level(number), (columns[2] + brush.px(4), line))
        why = desk.why(number, now_s)
        brush.write(on, why, (columns[3], y), colour=colour, width=line.right - columns[3] - brush.px(2))

    def _limit_bar(self, on: pygame.Surface, level: Level, at: tuple[int, pygame.Rect]) -> None:
        """Repeat the ring's message beside the number: whole, halves, dots, thick."""
        left, line = at
        brush = self.brush
        x, top, bottom = left + brush.px(2), line.top + brush.px(4), line.bottom - brush.px(4)
        height = bottom - top
        if level is Level.FULL:
            pygame.draw.rect(on, brush.colour("number"), (x, top, brush.px(1), height))
        elif level in (Level.STOPPED, Level.WAITING):
            pygame.draw.rect(
                on,
                brush.colour("red" if level is Level.STOPPED else "hairline"),
                (x - brush.px(1), top, brush.px(4), height),
            )
        elif level is Level.CAUTION:
            for part in (top, top + height * 3 // 5):
                pygame.draw.rect(on, brush.colour("yellow"), (x, part, brush.px(3), height * 2 // 5))
        else:
            for part in range(4):
                pygame.draw.rect(
                    on, brush.colour("yellow"), (x, top + part * height // 4, brush.px(3), height // 8)
                )

    def next(self, on: pygame.Surface, desk: Desk, now_s: float) -> list[Touch]:
        """Draw the line that says what comes next."""
        brush, area = self.brush, self.layout.next
        hint = next_step(desk, now_s)
        brush.box(on, area, "surface", "text" if hint.action else None, 1)
        lines = brush.wrap(hint.text, BODY_PX, area.width - brush.px(28), bold=True)
        big = len(lines) == 1 and brush.width(hint.text, TITLE_PX, bold=True) <= area.width - brush.px(28)
        if big:
            lines = (hint.text,)
        size = TITLE_PX if big else BODY_PX
        height = brush.px(22)
        y = area.centery - height * (min(2, len(lines)) - 1) // 2
        for line in lines[:2]:
            brush.write(
                on, line, (area.left + brush.px(14), y), size, bold=True, width=area.width - brush.px(20)
            )
            y += height
        return [(area, "next")] if hint.action else []

    def checklist(self, on: pygame.Surface, desk: Desk) -> list[Touch]:
        """Draw this group's checklist; the prepared group's, where only that is there."""
        brush, area = self.brush, self.layout.checklist
        brush.box(on, area)
        group = desk.group
        done = group.checklist if group else {}
        members = desk.picture.members()
        title = f"Checklist, {len(members)} karts" if members else "Checklist"
        if group is not None and group.next is not None:
            title += f"; next group: {len(group.next.karts)} karts prepared"
        y = area.top + brush.px(HEADER_PX) // 2 + brush.px(2)
        brush.write(on, title, (area.left + brush.px(12), y), colour="muted", width=area.width - brush.px(20))
        touched = []
        staging = desk.state is not None and desk.state.phase is Phase.STAGING
        for index, item in enumerate(desk.venue.checklist):
            line = pygame.Rect(
                area.left, area.top + brush.px(HEADER_PX + index * ROW_PX), area.width, brush.px(ROW_PX)
            )
            ticked = done.get(item.id) is not None
            self._box(on, (line.left + brush.px(14), line.centery), ticked=ticked)
            open_ = staging and item.id in done and not ticked
            brush.write(
                on,
                item.text,
                (line.left + brush.px(40), line.centery),
                colour="text" if ticked or open_ else "muted",
                width=line.width - brush.px(76),
            )
            if open_:
                brush.write(
                    on, item.key, (line.right - brush.px(12), line.centery), colour="muted", align="right"
                )
                touched.append((line, f"item:{item.id}"))
        return touched

    def _box(self, on: pygame.Surface, at: tuple[int, int], *, ticked: bool) -> None:
        brush = self.brush
        box = pygame.Rect(0, 0, brush.px(14), brush.px(14))
        box.midleft = at
        pygame.draw.rect(on, brush.colour("text" if ticked else "muted"), box, brush.px(1))
        if ticked:
            points = [
                (box.left + 3, box.centery),
                (box.centerx - 1, box.bottom - 4),
                (box.right - 3, box.top + 3),
            ]
            pygame.draw.lines(on, brush.colour("text"), False, points, brush.px(2))

    def detail(self, on: pygame.Surface, text: str) -> list[Touch]:
        """Say what the pointer is on; where it is on nothing, what karts' rings mean."""
        area, brush = self.layout.detail, self.brush
        at, room = (area.left + brush.px(6), area.centery), area.width - brush.px(12)
        if text:
            brush.write(on, text, at, width=room)
            return []
        left = brush.write(on, "Point at anything: it is explained here.", at, colour="muted").right
        rings = [(self._body.ring(level), said) for level, said in RINGS]
        needed = sum(ring.get_width() + brush.width(said, SMALL_PX) + brush.px(18) for ring, said in rings)
        x = area.right - brush.px(6) - needed
        if x > left + brush.px(12):
            for ring, said in rings:
                on.blit(ring, ring.get_rect(midleft=(x, area.centery)))
                x = brush.write(
                    on, said, (x + ring.get_width() + brush.px(4), area.centery), colour="muted"
                ).right
                x += brush.px(14)
        return []


def cautioned(desk: Desk) -> str:
    """Name where yellow stands: one sector by its name, two or three by their numbers; more say nothing."""
    state = desk.state
    under = [each for each in desk.venue.sectors if state and state.sectors.get(each.id) is Condition.CAUTION]
    if len(under) == 1:
        return f" {under[0].name}"
    numbers = ", ".join(place_name(desk, each.id) for each in under)
    return f" {numbers}" if len(under) <= NAMED_MOST else ""


def place_name(desk: Desk, place: str) -> str:
    """Give a kart's place, short: the sector's number, or pit, aside, ?."""
    if place == PIT:
        return "pit"
    if place == "unknown":
        return "?"
    numbers = [sector.id for sector in desk.venue.sectors]
    return str(numbers.index(place) + 1) if place in numbers else place
