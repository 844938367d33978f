"""The pages around a drill: the list, the briefing, getting ready, the pause, the score."""

from __future__ import annotations

import pygame

from signals import say
from signals.actions import NOT_A_STOP
from signals.look import BODY_PX, HEAD_PX, OF_ASPECT, SMALL_PX, TITLE_PX
from signals.words import Aspect
from sim.drill.score import Line
from sim.drill.telling import NOT_INSTEAD, sentences
from sim.view.drill.bands import Bands, height_px
from sim.view.drill.flow import GUEST, Flow, Page
from sim.view.drill.weeks import Weeks
from sim.view.paint import Brush

Touch = tuple[pygame.Rect, str]

EDGE_PX, ROW_PX, LINE_PX = 32, 34, 20
TOPICS = {
    "incident": "Incident",
    "person": "Person",
    "kart": "Single kart",
    "session": "Session",
    "equipment": "Equipment",
    "watch": "Watching",
}
LEVELS = {1: "first days", 2: "practised", 3: "hard"}
COLUMNS_PX = (12, 96, 204, 560)
READ_PX = 860
"""Lines of text to read are no wider."""


class Pages:
    """Draws the pages of one window size. Each gives what can be touched."""

    def __init__(self, size: tuple[int, int], brush: Brush) -> None:
        self.size = size
        self.brush = brush
        self.bands: Bands | None = None

    def draw(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw the page that is open."""
        on.fill(self.brush.colour("ground"))
        return {
            Page.LOBBY: self.lobby,
            Page.NAMING: self.lobby,
            Page.BRIEFING: self.briefing,
            Page.READYING: self.readying,
            Page.SUMMARY: self.summary,
            Page.QUIZ: self.quiz,
            Page.WEEKS: self.weeks,
            Page.FAILED: self.failed,
        }[flow.page](on, flow)

    # --- building stones

    def _title(self, on: pygame.Surface, title: str, right: str = "") -> int:
        brush, edge = self.brush, self.brush.px(EDGE_PX)
        brush.write(on, title, (edge, edge), TITLE_PX, bold=True)
        if right:
            brush.write(on, right, (self.size[0] - edge, edge), colour="muted", align="right")
        return edge + brush.px(34)

    def _text(
        self,
        on: pygame.Surface,
        text: str,
        at: tuple[int, int],
        *,
        size: int = BODY_PX,
        colour: str = "text",
        bold: bool = False,
        width: int | None = None,
    ) -> int:
        """Write a paragraph; gives where the next one may begin."""
        brush = self.brush
        wide = min(brush.px(READ_PX), self.size[0] - at[0] - brush.px(EDGE_PX)) if width is None else width
        y = at[1]
        for line in brush.wrap(text, size, wide, bold=bold):
            brush.write(on, line, (at[0], y), size, colour, bold=bold)
            y += brush.px(size + 6)
        return y

    def _keys(self, on: pygame.Surface, keys: list[tuple[str, str]]) -> list[Touch]:
        """Write the keys along the lower edge; each can be clicked."""
        brush, x = self.brush, self.brush.px(EDGE_PX)
        y = self.size[1] - brush.px(26)
        touched = []
        for key, what in keys:
            box = brush.write(on, key, (x, y), BODY_PX, bold=True)
            said = brush.write(on, what, (box.right + brush.px(8), y), BODY_PX, "muted")
            area = box.union(said).inflate(brush.px(16), brush.px(14))
            pygame.draw.rect(on, brush.colour("hairline"), area, 1, border_radius=brush.px(4))
            touched.append((area, f"key:{key}"))
            x = area.right + brush.px(12)
        return touched

    # --- the list

    def lobby(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw the drills in the order in which to practise, with what the chosen one trains."""
        brush, edge = self.brush, self.brush.px(EDGE_PX)
        who = "nobody: nothing is kept" if flow.who == GUEST else flow.who
        top = self._title(on, "Drills", f"{flow.venue.name}   practised by {who}")
        brush.write(on, NOT_INSTEAD, (edge, top), SMALL_PX, "muted")
        top += brush.px(24)
        room = self.size[1] - top - brush.px(210)
        shown = max(1, room // brush.px(ROW_PX))
        first = min(max(0, flow.chosen - shown // 2), max(0, len(flow.rows) - shown))
        touched = []
        for number in range(first, min(first + shown, len(flow.rows))):
            line = pygame.Rect(edge, top, self.size[0] - 2 * edge, brush.px(ROW_PX - 2))
            touched.append((line, f"row:{number}"))
            self._drill(on, flow, number, line)
            top += brush.px(ROW_PX)
        self._chosen(on, flow, top + brush.px(20))
        if flow.page is Page.NAMING:
            return self._naming(on, flow)
        keys = [
            ("Enter", "choose"),
            ("S", "signal quiz"),
            ("W", "week by week"),
            ("N", "who practises"),
            ("Esc", "leave"),
        ]
        return touched + self._keys(on, keys)

    def _drill(self, on: pygame.Surface, flow: Flow, number: int, line: pygame.Rect) -> None:
        brush, row = self.brush, flow.rows[number]
        chosen = number == flow.chosen
        brush.box(on, line, "surface", "text" if chosen else None, 2)
        columns = [line.left + brush.px(at) for at in COLUMNS_PX]
        file = row.drill.file
        y = line.centery
        brush.write(on, LEVELS[file.level], (columns[0], y), SMALL_PX, "muted")
        brush.write(on, TOPICS[file.topic], (columns[1], y), SMALL_PX, "muted")
        brush.write(on, file.title, (columns[2], y), BODY_PX, bold=chosen, width=columns[3] - columns[2] - 8)
        right = line.right - brush.px(12)
        best = "not played" if row.best is None else f"best {row.best:g} %"
        if flow.who != GUEST:
            box = brush.write(on, f"{best}   {row.why}", (right, y), SMALL_PX, align="right")
            right = box.left - brush.px(12)
        brush.write(on, file.trains, (columns[3], y), SMALL_PX, "muted", width=right - columns[3])

    def _chosen(self, on: pygame.Surface, flow: Flow, top: int) -> None:
        """Say what the chosen drill trains, and from where."""
        brush, edge = self.brush, self.brush.px(EDGE_PX)
        top = self._text(on, flow.drill.file.trains, (edge, top), bold=True)
        brush.write(on, self._seat(flow), (edge, top + brush.px(4)), BODY_PX, "muted")

    def _seat(self, flow: Flow) -> str:
        post = next(each for each in flow.venue.posts if each.id == flow.post)
        seen = "the whole track is seen" if post.supervisor else "only what is seen from there"
        more = "   (left, right: another post)" if len(flow.drill.file.seats) > 1 else ""
        return f"From: {post.name}, {seen}{more}"

    def _naming(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        brush = self.brush
        area = pygame.Rect(0, 0, brush.px(520), brush.px(150))
        area.center = self.size[0] // 2, self.size[1] // 2
        brush.box(on, area, "surface", "text", 2)
        left = area.left + brush.px(24)
        brush.write(on, "Who practises?", (left, area.top + brush.px(30)), BODY_PX, bold=True)
        field_ = pygame.Rect(left, area.top + brush.px(54), area.width - brush.px(48), brush.px(36))
        brush.box(on, field_, "ground", "hairline")
        brush.write(on, f"{flow.typed}▏", (field_.left + brush.px(8), field_.centery), BODY_PX)
        said = "A name is all that is kept. Empty: nothing is kept."
        brush.write(on, said, (left, area.top + brush.px(112)), SMALL_PX, "muted")
        return self._keys(on, [("Enter", "take it"), ("Esc", "leave it")])

    # --- before and between

    def briefing(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw what the trainee is told before: not what will happen."""
        brush, file = self.brush, flow.drill.file
        edge = brush.px(EDGE_PX)
        top = self._title(on, file.title, f"{TOPICS[file.topic]}, {LEVELS[file.level]}") + brush.px(12)
        top = self._text(on, file.briefing, (edge, top), size=TITLE_PX) + brush.px(16)
        top = self._text(on, file.trains, (edge, top)) + brush.px(12)
        top = self._text(on, self._seat(flow), (edge, top), colour="muted") + brush.px(16)
        for sentence in _HOW:
            top = self._text(on, sentence, (edge, top)) + brush.px(2)
        top += brush.px(20)
        box = pygame.Rect(edge, top, min(brush.px(READ_PX), self.size[0] - 2 * edge), brush.px(84))
        brush.box(on, box, "surface", "text", 2)
        y = self._text(
            on, NOT_A_STOP, (box.left + brush.px(16), box.top + brush.px(24)), bold=True,
            width=box.width - brush.px(32),
        )  # fmt: skip
        self._text(on, NOT_INSTEAD, (box.left + brush.px(16), y), width=box.width - brush.px(32))
        return self._keys(on, [("Enter", "begin"), ("Esc", "back to the list")])

    def readying(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw that the track is being got ready."""
        brush = self.brush
        middle = self.size[0] // 2, self.size[1] // 2
        brush.write(on, "The group goes out …", middle, HEAD_PX, bold=True, align="centre")
        below = middle[0], middle[1] + brush.px(44)
        brush.write(on, flow.drill.file.title, below, BODY_PX, "muted", align="centre")
        return []

    def failed(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw why a drill could not be played."""
        top = self._title(on, "The drill could not be played") + self.brush.px(12)
        self._text(on, flow.failure or "It ended early.", (self.brush.px(EDGE_PX), top))
        return self._keys(on, [("Enter", "back to the list")])

    def weeks(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw how whoever practises comes along, week by week."""
        brush, edge = self.brush, self.brush.px(EDGE_PX)
        top = self._title(on, "Week by week", "" if flow.who == GUEST else flow.who)
        if flow.weeks:
            area = pygame.Rect(edge, top, self.size[0] - 2 * edge, self.size[1] - top - brush.px(64))
            Weeks(brush, flow.weeks).draw(on, area)
        else:
            guest = "Of somebody without a name nothing is kept: N in the list gives one."
            said = guest if flow.who == GUEST else "Nothing was played yet."
            self._text(on, said, (edge, top + brush.px(24)))
        return self._keys(on, [("Enter", "back to the list")])

    def quiz(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw a question with its signal, the options by number, and once answered the reason."""
        brush, edge = self.brush, self.brush.px(EDGE_PX)
        asked = flow.quiz
        if asked is None:
            return []
        title = f"{asked.number + 1} of {len(asked.questions)}, {asked.right} right"
        top = self._title(on, "Signal quiz", title)
        question = asked.questions[asked.number]
        top = self._text(on, question.text, (edge, top + brush.px(24)), size=TITLE_PX) + brush.px(12)
        if question.aspect is not None:
            size = brush.px(96)
            numbered = question.aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH)
            glyph = brush.glyph(OF_ASPECT[question.aspect], size, 7 if numbered else None)
            on.blit(glyph, (edge, top))
            word = say.ASPECTS[question.aspect] + (" 7" if numbered else "")
            brush.write(on, word, (edge + size + brush.px(24), top + size // 2), TITLE_PX, bold=True)
            top += size + brush.px(24)
        touched = []
        for place, option in enumerate(question.options):
            line = pygame.Rect(edge, top, min(brush.px(READ_PX), self.size[0] - 2 * edge), brush.px(40))
            chosen = asked.told and asked.given[-1] == place
            brush.box(on, line, "surface", "text" if chosen else "hairline", 2 if chosen else 1)
            mark = "" if not asked.told else "✓  " if place == question.right else "×  " if chosen else ""
            text = f"{place + 1}   {mark}{option}"
            at = line.left + brush.px(16), line.centery
            brush.write(on, text, at, BODY_PX, bold=asked.told and place == question.right)
            touched.append((line, f"key:{place + 1}"))
            top += brush.px(48)
        if not asked.told:
            return touched + self._keys(on, [("Esc", "back to the list")])
        self._text(on, question.why, (edge, top + brush.px(20)), bold=True)
        return self._keys(on, [("Enter", "go on"), ("Esc", "back to the list")])

    # --- the score

    def summary(self, on: pygame.Surface, flow: Flow) -> list[Touch]:
        """Draw every line of the score, the numbers behind it, and the whole drill as a ribbon."""
        brush, edge, played = self.brush, self.brush.px(EDGE_PX), flow.played
        if played is None:
            return []
        found = played.score
        seat = say.post_name(flow.venue, found.seat)
        top = self._title(on, found.title, f"seed {found.seed}, {seat}, {found.lasted_s:g} s")
        ribbon = brush.px(height_px(len(played.rows)))
        bottom = self.size[1] - brush.px(56) - ribbon
        aside = pygame.Rect(
            self.size[0] - edge - brush.px(380), top, brush.px(380), bottom - top - brush.px(8)
        )
        lines = pygame.Rect(edge, top, aside.left - edge - brush.px(16), aside.height)
        self._numbers(on, flow, aside)
        self._lines(on, flow, lines)
        area = pygame.Rect(edge, bottom, self.size[0] - 2 * edge, ribbon)
        self.bands = Bands(brush, flow.venue, area, played.known.ends_ms)
        self.bands.draw(on, played.rows, found.timeline)
        keys = [
            ("R", "look again"),
            ("A", "again"),
            ("N", "another seed"),
            ("H", "write the debrief"),
            ("Enter", "list"),
            ("Down", "read on"),
        ]
        return self._keys(on, keys)

    def _numbers(self, on: pygame.Surface, flow: Flow, area: pygame.Rect) -> None:
        brush = self.brush
        if flow.played is None:
            return
        found = flow.played.score
        brush.box(on, area)
        left = area.left + brush.px(16)
        text = f"{found.percent:g} %"
        brush.write(on, text, (left, area.top + brush.px(34)), HEAD_PX, bold=True)
        word = "Passed" if found.passed else "Not passed"
        brush.write(
            on, word, (area.right - brush.px(16), area.top + brush.px(34)), TITLE_PX, bold=True, align="right"
        )
        y = area.top + brush.px(72)
        for sentence in sentences(found):
            y = self._text(
                on, sentence, (left, y), size=SMALL_PX, width=area.width - brush.px(32)
            ) + brush.px(6)
        if flow.played.report is not None:
            said = f"The debrief is written: {flow.played.report}"
            y = self._text(on, said, (left, y), size=SMALL_PX, bold=True, width=area.width - brush.px(32))
        y += brush.px(10)
        for sentence in flow.drill.file.good:
            y = self._text(
                on, sentence, (left, y), size=SMALL_PX, colour="muted", width=area.width - brush.px(32)
            ) + brush.px(4)

    def _lines(self, on: pygame.Surface, flow: Flow, area: pygame.Rect) -> None:
        brush = self.brush
        if flow.played is None:
            return
        lines = sorted(flow.played.score.lines, key=lambda line: line.full)
        flow.scrolled = min(flow.scrolled, max(0, len(lines) - 1))
        on.set_clip(area)
        y = area.top
        for line in lines[flow.scrolled :]:
            y = self._line(on, line, pygame.Rect(area.left, y, area.width, 0))
            if y > area.bottom:
                break
        on.set_clip(None)
        del brush

    def _line(self, on: pygame.Surface, line: Line, area: pygame.Rect) -> int:
        """Draw one line: a mark, the marks it gave, what was done, what would have been better."""
        brush = self.brush
        y = area.top + brush.px(12)
        brush.write(on, "✓" if line.full else "×", (area.left, y), BODY_PX, bold=not line.full)
        marks = f"{line.got:g}" if line.of == 0 else f"{line.got:g} of {line.of:g}"
        brush.write(on, marks, (area.left + brush.px(106), y), SMALL_PX, "muted", align="right")
        left = area.left + brush.px(122)
        wide = area.width - brush.px(130)
        danger = "  Somebody was in danger." if line.grave else ""
        said = f"{line.title}: {line.said}{danger}"
        y = self._text(on, said, (left, y), size=SMALL_PX, bold=not line.full, width=wide)
        if line.better:
            y = self._text(on, line.better, (left, y), size=SMALL_PX, colour="muted", width=wide)
        return y + brush.px(2)


_HOW = (
    "Touch the sector or the kart as soon as you see something: a digit, or a click. Then call.",
    "F10 pauses, F12 ends the drill. F4 sends a marshal to the chosen sector, F11 presses its call box.",
)
