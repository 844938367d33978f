"""What a duty is about: its place, its kart, its time; which deed answers it; how all that is spoken of."""

from __future__ import annotations

from collections.abc import Iterable

from signals import say
from signals.venue.model import Post
from signals.words import HoldKind, Word
from sim.drill.cast import Cast, named
from sim.drill.facts import Facts, Sighting, Touch
from sim.drill.form import DutyTable

CALL_S, STOP_S, FREE_S, PHASE_S = 3.0, 2.0, 15.0, 20.0
"""Targets: seen to called, red, to free the track, to bring the session on; common practice, no source."""
AFTER_OVER_MS = 3_000
"""A call this long after something was over may still be about it."""
RESTRICTS = frozenset(
    {Word.STOP, Word.CAUTION, Word.SLOW_ONE, Word.STOP_ONE, Word.DISQUALIFY_ONE, Word.MOVE_OVER_ONE}
)
EVERYWHERE = frozenset({Word.STOP})
HOLDS = frozenset({Word.STOP, Word.CAUTION})
OF_KARTS = frozenset(
    {
        Word.SLOW_ONE,
        Word.STOP_ONE,
        Word.DISQUALIFY_ONE,
        Word.MOVE_OVER_ONE,
        Word.BUTTON_RESET,
        Word.WITHDRAW_ONE,
    }
)
LETTERS = {Word.STOP: "R", Word.CAUTION: "Y", Word.LIFT: "L", Word.CLEAR: "C"}


class Matter:
    """One seat's view of a drill that was played. `seen` is everything that happened, as seen from it.

    What is asked of a seat is what lies in its own sectors; from a supervisor's desk, everything.
    """

    def __init__(self, cast: Cast, known: Facts, post: Post, seen: dict[str, Sighting]) -> None:
        self.cast = cast
        self.known = known
        self.post = post
        self.seen = seen
        self.own = [touch for touch in known.touches if touch.post == post.id]
        self.used: list[Touch] = []
        """Deeds that answered a duty already."""

    def is_ours(self, duty: DutyTable) -> bool:
        """Whether a duty lies in this seat's sectors; what has no place is everybody's who may do it."""
        where = self.place(duty)
        return self.post.supervisor or where is None or where in self.post.covers

    def place(self, duty: DutyTable) -> str | None:
        """Give the sector of a duty."""
        if duty.where is not None:
            return named(duty.where, self.cast.drawn)
        sighting = self.seen.get(duty.of) if duty.of is not None else None
        return None if sighting is None else sighting.cue.where

    def places(self, duty: DutyTable) -> set[str]:
        """Give every sector that is right for a duty."""
        if duty.where is not None:
            return {str(named(duty.where, self.cast.drawn))}
        sighting = self.seen.get(duty.of or "")
        return set() if sighting is None else sighting.places

    def kart(self, duty: DutyTable) -> int | None:
        """Give the kart of a duty."""
        if isinstance(duty.kart, int):
            return duty.kart
        if duty.kart is not None and duty.kart.startswith("$"):
            return int(self.cast.drawn[duty.kart[1:]])
        sighting = self.seen.get(duty.kart or duty.of or "")
        return None if sighting is None else sighting.cue.kart

    def target_s(self, duty: DutyTable) -> float:
        """Give by when a duty is to be done, seconds."""
        if duty.within_s is not None:
            return duty.within_s
        if duty.call is not None:
            return STOP_S if duty.call[0] is Word.STOP else CALL_S
        return FREE_S if duty.free is not None else PHASE_S

    def answer(self, duty: DutyTable, touches: Iterable[Touch]) -> Touch | None:
        """Give the call that answers a duty: the first right one; else the first of its words; else any."""
        calls = [touch for touch in touches if self._is_an_answer(duty, touch)]
        worded = [touch for touch in calls if self.worded(duty, touch)]
        right = [each for each in worded if self.right_place(duty, each) and each.accepted is not False]
        exact = [touch for touch in right if self.right_kind(duty, touch)]
        used = self.used
        rest = [
            touch
            for touch in (*right, *worded, *calls)
            if touch not in used and not self._about_another(duty, touch)
        ]
        return next(iter([*exact, *rest]), None)

    def right_kind(self, duty: DutyTable, touch: Touch) -> bool:
        """Whether a hold was called for the right reason, where that matters."""
        return not duty.kinds or touch.word not in HOLDS or kind_of(touch) in duty.kinds

    def walked_ms(self, duty: DutyTable, sighting: Sighting) -> int | None:
        """Give when somebody first stepped on the road for it; None where nobody did."""
        places = self.places(duty)
        steps = (at_ms for at_ms, _, where in self.known.exposed() if where in places)
        return next((at_ms for at_ms in steps if sighting.lasts(at_ms)), None)

    def _is_an_answer(self, duty: DutyTable, touch: Touch) -> bool:
        if touch.what == "box":
            return duty.box is not None
        return touch.what == "call" and touch.word in RESTRICTS | set(duty.call or ())

    def worded(self, duty: DutyTable, touch: Touch) -> bool:
        """Whether it is what was to be done, wherever."""
        if touch.what == "box":
            return touch.input in (duty.box or ())
        return touch.word in (duty.call or ())

    def right_place(self, duty: DutyTable, touch: Touch) -> bool:
        """Whether a call is for the place or the kart of a duty."""
        if touch.word in EVERYWHERE or touch.what == "box":
            return True
        if touch.kart is not None:
            return touch.kart == self.kart(duty)
        return touch.where is None or touch.where in self.places(duty)

    def _about_another(self, duty: DutyTable, touch: Touch) -> bool:
        """Whether a call is in the right place for something else that is there."""
        if touch.where is None and touch.kart is None:
            return False
        return not self.right_place(duty, touch) and any(
            touch.where in each.places or (touch.kart is not None and touch.kart == each.cue.kart)
            for each in self.seen.values()
            if each.cue.id != duty.of and each.lasts(touch.at_ms, AFTER_OVER_MS)
        )

    def concerns(self, duty: DutyTable, touch: Touch) -> bool:
        """Whether a touch shows that its maker has seen what a duty is about."""
        if touch.what == "call":
            answers = touch.word in RESTRICTS | set(duty.call or ())
            return answers and not self._about_another(duty, touch)
        if touch.what == "seen":
            return (
                touch.kart == self.kart(duty) if touch.kart is not None else touch.where in self.places(duty)
            )
        return touch.what in ("walk", "box")

    def over_ms(self, event: str) -> int:
        """Give when something was over; the end of the drill where it was not."""
        sighting = self.seen.get(event)
        if sighting is None:
            return 0
        return self.known.ends_ms if sighting.over_ms is None else sighting.over_ms

    def what(self, sighting: Sighting) -> str:
        """Say what happened, and where."""
        cue = sighting.cue
        kart = f"Kart {cue.kart}, " if cue.kart is not None else ""
        where = f" in {say.sector_name(self.known.venue, cue.where)}" if cue.where else ""
        text = f"{kart}{cue.event.replace('-', ' ')}{where}"
        return text[0].upper() + text[1:]

    def best(self, duty: DutyTable) -> str:
        """Speak of what is best done about a duty."""
        if duty.call is not None:
            return self.spoken(duty.call[0], duty)
        return f"Press the call box {' or '.join(duty.box or ())}"

    def spoken(self, word: Word, duty: DutyTable) -> str:
        """Speak of a duty's call as marshals do."""
        name = say.call_name(word)
        if word is Word.CAUTION:
            where = self.place(duty)
            return f"{name} {say.sector_name(self.known.venue, where)}" if where else name
        kart = self.kart(duty) if word not in EVERYWHERE else None
        return f"{name} {kart}" if kart is not None and duty.of is not None else name

    def called(self, touch: Touch) -> str:
        """Speak of a call that was made."""
        name = say.call_name(str(touch.word)) if touch.word is not None else touch.what
        target = self.spoken_target(touch)
        return f"{name} {target}" if target != "the whole track" else name

    def did(self, touch: Touch) -> str:
        """Speak of what was done that is no call."""
        target = self.spoken_target(touch)
        spoken = {
            "seen": f"touched {target}",
            "walk": f"sent somebody out to {target}",
            "back": "called back whoever was out",
            "box": f"pressed the call box {touch.input}",
        }
        return spoken[touch.what]

    def spoken_target(self, touch: Touch) -> str:
        """Speak of what a call is for."""
        if touch.kart is not None:
            return f"kart {touch.kart}"
        return say.sector_name(self.known.venue, touch.where) if touch.where else "the whole track"

    def spoken_place(self, duty: DutyTable) -> str:
        """Speak of where a duty is to be done."""
        kart = self.kart(duty)
        if duty.call and duty.call[0] in OF_KARTS and kart is not None:
            return f"kart {kart}"
        where = self.place(duty)
        return say.sector_name(self.known.venue, where) if where else "the whole track"


def letter_of(word: Word) -> str:
    """Give the letter that stands for a call on a ribbon."""
    return LETTERS.get(word) or say.call_name(word)[0]


def kind_of(touch: Touch) -> HoldKind:
    """Give the kind of hold that was called."""
    kind = touch.call.kind if touch.call is not None else None
    return kind if isinstance(kind, HoldKind) else HoldKind.INCIDENT
