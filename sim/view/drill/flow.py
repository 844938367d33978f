"""From keys and clicks to pages: which drill, whose, begun, paused, scored, looked at again. No drawing."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from signals.venue.model import Venue
from signals.words import InputKind
from sim.drill import deeds, due, progress
from sim.drill.booth import Booth
from sim.drill.cast import cast
from sim.drill.facts import facts
from sim.drill.load import Drill
from sim.drill.lookout import Lookout
from sim.drill.progress import Week
from sim.drill.replay import Replay
from sim.drill.score import Mark
from sim.drill.scoring import score
from sim.drill.stretches import stretches
from sim.drill.trainees import NAME, NAME_MAX, Trainees
from sim.track import Track
from sim.view.desk import Desk
from sim.view.drill.look_again import again, alive
from sim.view.drill.played import Played
from sim.view.drill.quizzing import Quizzing
from sim.view.drill.watching import Watching
from sim.view.hands import Hands

GUEST = "guest"
"""Who gives no name; nothing is kept of a guest."""
SEEDS = 100_000
"""New seeds are below it."""
SKIP_S, LEAP_S = 1.0, 5.0
SCROLL = 3
LOOKS = ("kart", "sector", "entry")
"""What can be touched in a replay: it calls nothing."""


class Page(StrEnum):
    """What the window shows."""

    LOBBY = "lobby"
    NAMING = "naming"
    BRIEFING = "briefing"
    READYING = "readying"
    RUNNING = "running"
    PAUSED = "paused"
    SUMMARY = "summary"
    REPLAY = "replay"
    QUIZ = "quiz"
    WEEKS = "weeks"
    FAILED = "failed"


@dataclass(slots=True)
class Row:
    """One drill in the list: somebody's best so far, and why it is proposed."""

    drill: Drill
    best: float | None
    why: str


@dataclass(slots=True)
class Flow:
    """The window's pages. `seed` None: a new one each time."""

    venue: Venue
    drills: list[Drill]
    data: Path
    who: str = GUEST
    seed: int | None = None
    page: Page = Page.LOBBY
    rows: list[Row] = field(default_factory=list)
    chosen: int = 0
    seat: int = 0
    typed: str = ""
    booth: Booth | None = None
    watching: Watching | None = None
    """The window of a drill that runs."""
    played: Played | None = None
    replay: Replay | None = None
    again: Desk | None = None
    """The desk as it was, in a replay."""
    hands: Hands | None = None
    quiz: Quizzing | None = None
    weeks: list[Week] = field(default_factory=list)
    """Of whoever practises, where they are looked at."""
    scrolled: int = 0
    leaving: bool = False
    failure: str = ""
    _track: Track = field(init=False)
    _last_seed: int = 0

    def __post_init__(self) -> None:
        self._track = Track(self.venue)
        self.look_up()

    # --- what is chosen

    def look_up(self) -> None:
        """Read from the database in which order to practise, and what was best."""
        known = {drill.name: drill for drill in self.drills}
        if self.who == GUEST:
            order = sorted(self.drills, key=lambda each: (each.file.level, each.file.topic, each.name))
            self.rows = [Row(drill, None, "") for drill in order]
            return
        with Trainees(self.data / NAME) as trainees:
            best = trainees.best(self.who)
            order_ = due.propose(trainees, self.who, self.drills, _now_ms())
        self.rows = [Row(known[each.drill], best.get(each.drill), each.why) for each in order_]

    @property
    def drill(self) -> Drill:
        """The chosen drill."""
        return self.rows[self.chosen].drill

    @property
    def post(self) -> str:
        """The chosen seat."""
        seats = self.drill.file.seats
        return seats[self.seat % len(seats)]

    def take(self, drill: Drill, seat: str) -> None:
        """Choose a drill and a seat; one that did not come along stands first in the list."""
        known = [number for number, row in enumerate(self.rows) if row.drill.path == drill.path]
        if not known:
            self.drills.insert(0, drill)
            self.rows.insert(0, Row(drill, None, ""))
        self.chosen = known[0] if known else 0
        self.seat = drill.file.seats.index(seat)

    # --- keys and clicks

    def press(self, key: str, now_s: float) -> None:
        """Act on a key, as `sim.view.window` names them."""
        _KEYS[self.page](self, key, now_s)

    def click(self, target: str, now_s: float) -> None:
        """Act on a click: a row, a key that is written somewhere, a moment of a replay, or the desk's own."""
        kind, _, name = target.partition(":")
        if kind == "row":
            already = int(name) == self.chosen
            self.chosen, self.seat = int(name), 0
            if already:
                self._brief()
        elif kind == "key":
            self.press(name, now_s)
        elif kind == "at" and self.replay is not None:
            self.replay.to(float(name))
        elif self.hands is not None and (self.page is Page.RUNNING or kind in LOOKS):
            self.hands.click(target, now_s)
            if self.page is Page.RUNNING and self.watching is not None:
                self.watching.touched(kind)

    def lobby(self, key: str, _: float) -> None:
        """Act on a key in the list of drills."""
        if key in ("Up", "Down"):
            self.chosen = (self.chosen + (1 if key == "Down" else -1)) % len(self.rows)
            self.seat = 0
        elif key in ("PageUp", "PageDown"):
            step = 8 if key == "PageDown" else -8
            self.chosen = min(max(self.chosen + step, 0), len(self.rows) - 1)
            self.seat = 0
        elif key in ("Left", "Right"):
            self.seat += 1 if key == "Right" else -1
        elif key == "Enter":
            self._brief()
        elif key == "S":
            self.quiz, self.page = Quizzing.drawn(self.venue, self._new_seed()), Page.QUIZ
        elif key == "W":
            self._look_at_weeks()
        elif key == "N":
            self.page, self.typed = Page.NAMING, "" if self.who == GUEST else self.who
        elif key in ("Esc", "Q"):
            self.leaving = True

    def _look_at_weeks(self) -> None:
        self.weeks, self.page = [], Page.WEEKS
        if self.who != GUEST:
            with Trainees(self.data / NAME) as trainees:
                self.weeks = progress.weeks(trainees.runs(self.who))

    def naming(self, key: str, _: float) -> None:
        """Type a name; Enter takes it, Esc leaves it."""
        if key == "Esc":
            self.page = Page.LOBBY
        elif key == "Enter":
            self.who = " ".join(self.typed.split())[:NAME_MAX] or GUEST
            self.chosen, self.page = 0, Page.LOBBY
            self.look_up()
        elif key == "Back":
            self.typed = self.typed[:-1]
        elif len(self.typed) < NAME_MAX:
            letter = {"Space": " "}.get(key, key)
            if len(letter) == 1:
                self.typed += letter if not self.typed or self.typed.endswith(" ") else letter.lower()

    def _brief(self) -> None:
        self.page = Page.BRIEFING

    def briefing(self, key: str, _: float) -> None:
        """Begin, or go back to the list."""
        if key == "Enter":
            self.begin(self._new_seed())
        elif key in ("Left", "Right"):
            self.seat += 1 if key == "Right" else -1
        elif key == "Esc":
            self.page = Page.LOBBY

    def _new_seed(self) -> int:
        return self.seed if self.seed is not None else int(time.time()) % SEEDS

    def begin(self, seed: int) -> None:
        """Begin the chosen drill."""
        self._last_seed = seed
        post = next(each for each in self.venue.posts if each.id == self.post)
        desk = Desk(self.venue, post.id)
        drawn = cast(self.drill, self.venue, seed, [post.id])
        booth = Booth(drawn, self.venue, post.id, self.who, desk.subscriptions())
        self.booth, self.played, self.replay = booth, None, None
        self.hands = Hands(desk, booth.publish)
        self.hands.lens.signs = False
        self.watching = Watching(desk, self.hands, booth, Lookout(self.venue, self._track, post))
        self.page = Page.READYING
        booth.start()

    def running(self, key: str, now_s: float) -> None:
        """Pause, end, walk, press a box; everything else is the desk's."""
        if self.hands is None or self.booth is None:
            return
        if key == "F10":
            self.booth.pause()
            self.page = Page.PAUSED
        elif key == "F12":
            self.booth.end()
        elif key == "F4":
            self.booth.does(deeds.Deed(at_s=0.0, walk=self.hands.sector))
        elif key == "F11":
            self._press_box(self.hands.sector)
        else:
            asked = self.hands.question is not None
            self.hands.press(key, now_s)
            if self.watching is not None and not asked:
                self.watching.touched(_TOUCHES.get(key, ""))

    def _press_box(self, sector: str) -> None:
        """Press the call box of the chosen sector; without one, this post's own."""
        if self.booth is None:
            return
        inputs = self.venue.inputs
        yellow = [each.id for each in inputs if each.kind is InputKind.CAUTION_BOX and each.sector == sector]
        red = [each.id for each in inputs if each.kind is InputKind.STOP_BOX and each.id.endswith(self.post)]
        for box in [*yellow, *red][:1]:
            self.booth.does(deeds.Deed(at_s=0.0, box=box))

    def paused(self, key: str, _: float) -> None:
        """Go on, or end."""
        if self.booth is None:
            return
        if key in ("F10", "Enter", "Esc"):
            self.page = Page.RUNNING
            self.booth.go_on()
        elif key == "F12":
            self.page = Page.RUNNING
            self.booth.end()

    def summary(self, key: str, _: float) -> None:
        """Look again, play again, or go back to the list."""
        if key == "R":
            self._look_again()
        elif key == "A":
            self.begin(self._last_seed)
        elif key == "N":
            self.begin(self._last_seed + 1)
        elif key == "H":
            self._debrief()
        elif key in ("Up", "Down"):
            self.scrolled = max(0, self.scrolled + (SCROLL if key == "Down" else -SCROLL))
        elif key in ("Enter", "Esc"):
            self.page = Page.LOBBY
            self.look_up()

    def _debrief(self) -> None:
        if self.played is not None:
            self.played.debrief(self.data, self._named)

    @property
    def _named(self) -> str:
        """Whose scores are kept; empty for a guest."""
        return "" if self.who == GUEST else self.who

    def _look_again(self) -> None:
        if self.played is None:
            return
        self.again, self.hands = again(self.venue, self.played.score.seat)
        desk = self.again
        self.replay = Replay(self.played.booth.tape, self.venue, desk.hear, self._anew)
        self.replay.to(0.0)
        self.page = Page.REPLAY

    def _anew(self) -> None:
        """Begin the desk of a replay anew: a tape is only heard forwards."""
        if self.again is not None and self.hands is not None:
            lens, sector, kart = self.hands.lens, self.hands.sector, self.hands.kart
            self.again, self.hands = again(self.venue, self.again.post)
            self.hands.lens, self.hands.sector, self.hands.kart = lens, sector, kart
            if self.replay is not None:
                self.replay.hears(self.again.hear)

    def replaying(self, key: str, now_s: float) -> None:
        """Scrub: a second, five seconds, from mark to mark; play, stand still; back to the score."""
        replay = self.replay
        if replay is None:
            return
        leaps = {"Left": -SKIP_S, "Right": SKIP_S, "PageUp": -LEAP_S, "PageDown": LEAP_S}
        if key in leaps:
            replay.to(replay.at_s + leaps[key])
        elif key == "Space":
            replay.turn()
        elif key == "Home":
            replay.to(0.0)
        elif key in ("Up", "Down"):
            replay.to(self._mark(1 if key == "Down" else -1))
        elif key in ("Esc", "Enter"):
            self.page = Page.SUMMARY
        elif self.hands is not None and key in ("+", "=", "-", "F5", "F6", "F7", "M"):
            self.hands.press(key, now_s)

    def _mark(self, step: int) -> float:
        """Give the moment of the next mark, or of the one before."""
        if self.played is None or self.replay is None:
            return 0.0
        here_ms = self.replay.at_s * 1000
        times = sorted({mark.at_ms for mark in self.played.score.timeline})
        if step > 0:
            later = [at_ms for at_ms in times if at_ms > here_ms + 50]
            return (later[0] if later else self.replay.ends_s * 1000) / 1000
        earlier = [at_ms for at_ms in times if at_ms < here_ms - 50]
        return (earlier[-1] if earlier else 0) / 1000

    def quizzing(self, key: str, _: float) -> None:
        """Answer the signal quiz; Esc leaves it."""
        if key == "Esc" or self.quiz is None:
            self.page = Page.LOBBY
            return
        self.quiz.press(key)
        if self.quiz.over:
            self.page = Page.LOBBY
            if self.who != GUEST:
                found = self.quiz.judged()
                with Trainees(self.data / NAME) as trainees:
                    trainees.quizzed(self.who, found.asked, found.right, _now_ms())

    def back(self, key: str, _: float) -> None:
        """Go back to the list."""
        if key in ("Enter", "Esc"):
            self.page = Page.LOBBY

    # --- time

    def tick(self, now_s: float, passed_s: float) -> None:
        """Let time pass: take in what arrived, note that a drill began or is over, play a replay on."""
        if self.booth is not None and self.watching is not None and self.page in _LIVE:
            self.watching.listen(now_s)
            if self.page is Page.READYING and self.booth.began_s is not None:
                self.page = Page.RUNNING
            if self.booth.over.is_set():
                self._over(self.booth)
        elif self.page is Page.REPLAY and self.replay is not None:
            self.replay.tick(passed_s)
            if self.again is not None:
                alive(self.again, self.venue, self.replay.at_s)

    def now_s(self) -> float:
        """Give the seconds of what is shown: the booth's, a replay's, or the clock's."""
        if self.page is Page.REPLAY and self.replay is not None:
            return self.replay.at_s
        if self.booth is not None and self.page in _LIVE:
            return self.booth.now_s()
        return time.monotonic()

    def _over(self, booth: Booth) -> None:
        if booth.failure is not None:
            self.page, self.failure = Page.FAILED, str(booth.failure)
            return
        known = facts(booth.tape, self.venue)
        found = score(booth.tape, booth.cast, self.venue, booth.seat, known)
        self.played = Played(booth, found, known, stretches(known), round(time.time() * 1000))
        self.scrolled = 0
        self.page = Page.SUMMARY
        self.played.keep(self.data, self._named)

    def marks_near(self, within_s: float) -> list[Mark]:
        """Give the marks of the timeline up to the moment of a replay, the latest first."""
        if self.played is None or self.replay is None:
            return []
        here_ms = self.replay.at_s * 1000
        marks = [mark for mark in self.played.score.timeline if 0 <= here_ms - mark.at_ms <= within_s * 1000]
        return marks[::-1]


def _now_ms() -> int:
    return round(time.time() * 1000)


_TOUCHES = {
    **dict.fromkeys((*"0123456789P", "Left", "Right"), "sector"),
    **dict.fromkeys(("Up", "Down"), "kart"),
}
"""Keys that touch a sector or a kart, where nothing is being asked."""
_LIVE = (Page.READYING, Page.RUNNING, Page.PAUSED)
_KEYS: dict[Page, Callable[[Flow, str, float], None]] = {
    Page.LOBBY: Flow.lobby,
    Page.NAMING: Flow.naming,
    Page.BRIEFING: Flow.briefing,
    Page.READYING: lambda *_: None,
    Page.RUNNING: Flow.running,
    Page.PAUSED: Flow.paused,
    Page.SUMMARY: Flow.summary,
    Page.REPLAY: Flow.replaying,
    Page.QUIZ: Flow.quizzing,
    Page.WEEKS: Flow.back,
    Page.FAILED: Flow.back,
}
