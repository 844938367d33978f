"""Judge one seat's deeds by a drill's duties: seeing apart from deciding, each mark explained."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from signals import say
from signals.venue.model import Post
from signals.words import HoldKind, Phase, Word
from sim.drill import lines
from sim.drill.asks import ASKS
from sim.drill.cast import Cast
from sim.drill.facts import Facts, Sighting, Touch
from sim.drill.form import DutyTable, NeverTable
from sim.drill.matter import AFTER_OVER_MS, EVERYWHERE, Matter, kind_of, letter_of
from sim.drill.score import TRACK_ROW, Line, Mark, Spell
from sim.drill.signs import of_world
from sim.drill.tape import LIVE

FADES = 4.0
"""A time line is worth nothing from so many targets on."""
NEXT_BEST = 0.6
"""What the right words but the best are worth."""
SEEN_SHARE, CALL_SHARE, WHERE_SHARE, TIME_SHARE = 0.2, 0.3, 0.2, 0.3
LATE_SEEN = 0.5
LIVE_MARKS = 30
"""What an instructor throws in is worth."""
PLACED = frozenset({Word.CAUTION, Word.LIFT})
"""What is called for a sector: it stands in that sector's row."""
FREES = frozenset({Word.LIFT, Word.CLEAR, Word.WITHDRAW_ONE})


@dataclass(slots=True)
class Found:
    """What is made of one seat's deeds while it is judged."""

    lines: list[Line] = field(default_factory=list)
    called: list[Spell] = field(default_factory=list)
    detected: list[Spell] = field(default_factory=list)
    done_ms: dict[str, int] = field(default_factory=dict)
    """duty -> when it was done"""
    right: int = 0
    asked: int = 0
    premature: int = 0
    overlong_s: float = 0.0
    due: list[Mark] = field(default_factory=list)
    """By when what was not done in time was to be done."""


class Judge(Matter):
    """Judges a seat: gives the lines of its score."""

    def __init__(self, cast: Cast, known: Facts, post: Post, seen: dict[str, Sighting]) -> None:
        super().__init__(cast, known, post, seen)
        self.found = Found()

    def duties(self) -> Found:
        """Judge every duty that is this seat's."""
        for duty in (*self.cast.drill.file.duty, *self._live_duties()):
            if not self.is_ours(duty):
                continue
            if duty.call is None and duty.box is None:
                self._state(duty)
            elif duty.of is None:
                self._steps(duty)
            else:
                self._call(duty)
            self._order(duty)
        return self.found

    def _live_duties(self) -> Iterator[DutyTable]:
        """Give what is asked for by what an instructor threw in."""
        for sighting in self.seen.values():
            asks = ASKS.get(sighting.cue.event)
            if asks is None or not sighting.cue.id.startswith(LIVE):
                continue
            kinds = None if asks.kind is None else (asks.kind,)
            name = sighting.cue.id
            yield DutyTable(id=name, of=name, call=(asks.word,), kinds=kinds, marks=LIVE_MARKS, why=asks.why)

    def _call(self, duty: DutyTable) -> None:
        self.found.asked += 1
        sighting = self.seen.get(duty.of or "")
        if sighting is None or sighting.seen_ms is None:
            self.found.asked -= 1  # it never happened, or could never be seen from here
            return
        since_ms = max([sighting.seen_ms, *(self.over_ms(event) for event in duty.once)])
        if duty.kinds == (HoldKind.PERSON_ON_TRACK,):
            walked_ms = self.walked_ms(duty, sighting)
            if walked_ms is None:
                self.found.asked -= 1  # nobody had to walk there
                return
            since_ms = max(since_ms, walked_ms)
        touches = [
            touch
            for touch in self.own
            if touch.at_ms >= sighting.at_ms and sighting.lasts(touch.at_ms, AFTER_OVER_MS)
        ]
        answer = self.answer(duty, touches)
        if answer is not None:
            self.used.append(answer)
        self._line_seen(duty, sighting, touches)
        self._line_call(duty, answer)
        self._line_where(duty, answer)
        self._line_time(duty, since_ms, answer)

    def _line(
        self,
        duty: DutyTable,
        aspect: str,
        share: float,
        worth: float,
        said: str,
        better: str,
        touch: Touch | None,
        *,
        grave: bool = False,
    ) -> None:
        of = round(duty.marks * share, 2)
        line = Line(
            name=f"{duty.id}.{aspect}",
            title=TITLES[aspect],
            got=round(of * worth, 2),
            of=of,
            said=said,
            better="" if worth >= 1 else better,
            at_ms=None if touch is None else touch.at_ms,
            grave=grave,
        )
        self.found.lines.append(line)

    def _due(self, duty: DutyTable, since_ms: int, what: str, word: Word | None) -> None:
        """Mark by when something was to be done that was not, or was done later."""
        at_ms = round(since_ms + self.target_s(duty) * 1000)
        if at_ms > self.known.ends_ms:
            return  # the drill was ended before
        of_place = word is None or word in PLACED
        row = (self.place(duty) if of_place and duty.free != "track" else None) or TRACK_ROW
        letter = "" if word is None else letter_of(word)
        self.found.due.append(Mark(at_ms=at_ms, kind="due", row=row, text=f"By here: {what}", letter=letter))

    def _line_seen(self, duty: DutyTable, sighting: Sighting, touches: list[Touch]) -> None:
        what, seen_ms = self.what(sighting), sighting.seen_ms or 0
        first = next((touch for touch in touches if self.concerns(duty, touch)), None)
        if first is None:
            self._line(duty, lines.SEEN, SEEN_SHARE, 0, f"{what}: nothing was done about it.", duty.why, None)
            return
        took_s = max(0.0, (first.at_ms - seen_ms) / 1000)
        spell = Spell(of=sighting.cue.id, from_ms=seen_ms, took_s=took_s, target_s=self.target_s(duty))
        self.found.detected.append(spell)
        worth = 1.0 if took_s <= self.target_s(duty) else LATE_SEEN
        self._line(
            duty, lines.SEEN, SEEN_SHARE, worth, f"{what}: noticed after {took_s:.1f} s.",
            "Nothing was touched for so long: let your eyes wander all the time.", first,
        )  # fmt: skip

    def _line_call(self, duty: DutyTable, answer: Touch | None) -> None:
        best = self.best(duty)
        if answer is None or not self.worded(duty, answer):
            said = "Nothing was called." if answer is None else f"{self.called(answer)} was called."
            self._line(duty, lines.CALL, CALL_SHARE, 0, said, f"{best}. {duty.why}", answer)
            return
        worth = 1.0 if duty.call is None or answer.word == duty.call[0] else NEXT_BEST
        better = f"{best} would have been better. {duty.why}"
        if not self.right_kind(duty, answer):
            worth, wanted = worth / 2, " or ".join(say.KINDS[each] for each in duty.kinds or ())
            better = f"Called for {say.KINDS[kind_of(answer)]}; right was: {wanted}. {duty.why}"
        if answer.accepted is False:
            worth, better = 0.0, f"It was refused: {' '.join(answer.said)}"
        self._line(duty, lines.CALL, CALL_SHARE, worth, f"{self.called(answer)} was called.", better, answer)

    def _line_where(self, duty: DutyTable, answer: Touch | None) -> None:
        right = self.spoken_place(duty)
        if answer is None:
            self._line(duty, lines.WHERE, WHERE_SHARE, 0, "Nothing was called.", right, None)
        elif self.right_place(duty, answer):
            said = "Everywhere." if answer.word in EVERYWHERE else "In the right place."
            said = "The right kart." if answer.kart is not None else said
            self._line(duty, lines.WHERE, WHERE_SHARE, 1, said, "", answer)
        else:
            said = f"Called for {self.spoken_target(answer)}."
            self._line(duty, lines.WHERE, WHERE_SHARE, 0, said, f"It was {right}.", answer)

    def _line_time(self, duty: DutyTable, since_ms: int, answer: Touch | None) -> None:
        target_s = self.target_s(duty)
        right = answer is not None and self.worded(duty, answer) and self.right_place(duty, answer)
        if answer is None or not right or answer.accepted is False:
            said = f"Not called rightly; it is to be called within {target_s:g} s."
            self._due(duty, since_ms, self.best(duty), _word(duty))
            self._line(duty, lines.TIME, TIME_SHARE, 0, said, duty.why, answer)
            return
        took_s = (answer.at_ms - since_ms) / 1000
        if took_s > target_s:
            self._due(duty, since_ms, self.best(duty), _word(duty))
        self.found.right += 1
        self.found.done_ms[duty.id] = answer.at_ms
        self.found.called.append(
            Spell(of=duty.id, from_ms=since_ms, took_s=max(0.0, took_s), target_s=target_s)
        )
        said = f"Called {max(0.0, took_s):.1f} s after it could be seen; within {target_s:g} s is wanted."
        self._line(duty, lines.TIME, TIME_SHARE, faded(took_s, target_s), said, duty.why, answer)

    def _state(self, duty: DutyTable) -> None:
        """Judge a duty to free the track, or to bring the session on."""
        if any(event not in self.seen for event in (*duty.once, *filter(None, [duty.of]))):
            return
        since_ms = self._since_ms(duty)
        where = self.place(duty) if duty.free == "there" else None
        if duty.free is not None:
            reached_ms = self._freed_ms(where, since_ms)
        else:
            reached_ms = self._phase_ms(duty.phase, since_ms)
        early = self._too_soon(duty, where, self._safe_ms(duty, since_ms))
        self._line_early(duty, early, reached=reached_ms is not None)
        self._line_reached(duty, where, since_ms, reached_ms)

    def _since_ms(self, duty: DutyTable) -> int:
        """Give from when on it is due."""
        times = [self.over_ms(event) for event in duty.once]
        if duty.of is not None and not duty.once:
            times.append(self.seen[duty.of].at_ms)
        times += [self.found.done_ms.get(other, 0) for other in duty.after]
        return max([0, *times])

    def _safe_ms(self, duty: DutyTable, since_ms: int) -> int:
        """Give from when on it is not premature."""
        if duty.not_before is None:
            return since_ms
        return max([0, *(self.over_ms(event) for event in duty.not_before)])

    def _freed_ms(self, where: str | None, since_ms: int) -> int | None:
        """Give when nothing stood any more; None where it still stands, or nothing ever stood."""
        if not self.known.stood(where, 0, self.known.ends_ms):
            return None
        return self.known.first_free(where, since_ms)

    def _phase_ms(self, phase: Phase | None, since_ms: int) -> int | None:
        del since_ms
        return next((at_ms for at_ms, state in self.known.states if state.phase is phase), None)

    def _too_soon(self, duty: DutyTable, where: str | None, since_ms: int) -> Touch | None:
        """Give a deed that came before it was due: a lift while it lasted, a phase called too soon."""
        begin_ms = self.seen[duty.of].at_ms if duty.of is not None else 0
        for touch in self.own:
            if touch.what != "call" or not begin_ms <= touch.at_ms < since_ms:
                continue
            frees = duty.free is not None and touch.word in FREES and where in (None, touch.where or where)
            if frees and not self._was_empty(duty, touch):
                return touch
            if duty.phase is not None and touch.word in INTO.get(duty.phase, ()):
                return touch
        return None

    def _was_empty(self, duty: DutyTable, touch: Touch) -> bool:
        """Whether a yellow was lifted where nothing of it was any more: it had rolled on, say."""
        if touch.where is None:
            return False
        causes = [self.seen[event] for event in {*duty.once, *filter(None, [duty.of])} if event in self.seen]
        rest = [each for each in causes if each.lasts(touch.at_ms) or each.at_ms > touch.at_ms]
        if not all(of_world(each.cue) for each in rest):
            return False
        return not any(self.known.is_at(each.cue, touch.where, touch.at_ms) for each in rest)

    def _line_early(self, duty: DutyTable, early: Touch | None, *, reached: bool) -> None:
        if early is None:
            said = "Not before it was safe." if reached else "It did not come to it."
            self._line(duty, lines.EARLY, 0.5, reached, said, duty.why, None)
            return
        self.found.premature += 1
        said = f"{self.called(early)} was called too soon."
        self._line(duty, lines.EARLY, 0.5, 0, said, duty.why, early, grave=duty.free is not None)

    def _line_reached(
        self, duty: DutyTable, where: str | None, since_ms: int, reached_ms: int | None
    ) -> None:
        target_s = self.target_s(duty)
        what = f"The session is {say.PHASES[duty.phase].lower()}" if duty.phase else "Nothing stands any more"
        what += f" in {say.sector_name(self.known.venue, where)}" if where is not None and duty.free else ""
        if reached_ms is None or reached_ms - since_ms > target_s * 1000:
            self._due(duty, since_ms, what, Word.LIFT if duty.free else INTO[duty.phase or Phase.CLOSED][0])
        if reached_ms is None:
            late_s = (self.known.ends_ms - since_ms) / 1000
            self.found.overlong_s += max(0.0, late_s) if duty.free else 0.0
            self._line(duty, lines.TIME, 0.5, 0, "It did not come to it.", duty.why, None)
            return
        took_s = max(0.0, (reached_ms - since_ms) / 1000)
        self.found.done_ms[duty.id] = reached_ms
        self.found.overlong_s += max(0.0, took_s - target_s) if duty.free else 0.0
        said = f"{what} {took_s:.1f} s after it could; within {target_s:g} s is wanted."
        self._line(duty, lines.TIME, 0.5, faded(took_s, target_s), said, duty.why, None)

    def _steps(self, duty: DutyTable) -> None:
        """Judge a duty to call something so many times."""
        since_ms, wanted = self._since_ms(duty), duty.call or ()
        done = [
            touch
            for touch in self.own
            if touch.what == "call"
            and touch.word in wanted
            and touch.accepted
            and (duty.item is None or (touch.call is not None and touch.call.item == duty.item))
        ]
        share = min(1.0, len(done) / duty.times)
        last = done[duty.times - 1] if share >= 1 else None
        often = "" if duty.times == 1 else f" {len(done)} of {duty.times} times"
        name = say.call_name(wanted[0])
        said = f"{name} was called{often}." if done else f"{name} was not called."
        self._line(duty, lines.CALL, 0.6, share, said, duty.why, last)
        self.found.asked += 1
        self.found.right += share >= 1
        target_s = self.target_s(duty)
        if last is None or last.at_ms - since_ms > target_s * 1000:
            self._due(duty, since_ms, name, wanted[0])
        if last is None:
            self._line(duty, lines.TIME, 0.4, 0, "It did not come to it.", duty.why, None)
            return
        took_s = max(0.0, (last.at_ms - since_ms) / 1000)
        self.found.done_ms[duty.id] = last.at_ms
        said = f"Done {took_s:.1f} s after it could be; within {target_s:g} s is wanted."
        self._line(duty, lines.TIME, 0.4, faded(took_s, target_s), said, duty.why, last)

    def _order(self, duty: DutyTable) -> None:
        """Deduct where something was done before what has to come first."""
        done_ms = self.found.done_ms.get(duty.id)
        if done_ms is None or duty.call is None:
            return
        for first in duty.after:
            first_ms = self.found.done_ms.get(first)
            if first_ms is None or first_ms > done_ms:
                self.found.lines.append(
                    Line(
                        name=lines.ORDER,
                        title=TITLES[lines.ORDER],
                        got=-ORDER_COSTS,
                        of=0,
                        said=f"{self.spoken(duty.call[0], duty)} came before what has to come first.",
                        better=duty.why,
                        at_ms=done_ms,
                    )
                )


ORDER_COSTS = 15.0
INTO: dict[Phase, tuple[Word, ...]] = {
    Phase.STAGING: (Word.STAGE,),
    Phase.ARMED: (Word.ARM,),
    Phase.RACING: (Word.START,),
    Phase.FINISHING: (Word.FINISH,),
    Phase.CLOSED: (Word.CLOSE,),
}
TITLES = {
    lines.SEEN: "Noticed",
    lines.CALL: "The right call",
    lines.WHERE: "The right place or kart",
    lines.TIME: "In time",
    lines.EARLY: "Not too soon",
    lines.ORDER: "The right order",
    lines.FALSE_ALARM: "Called for nothing",
    lines.REFUSED: "Refused calls",
    lines.EXPOSURE: "Somebody unprotected on the road",
    lines.CONTACT: "Karts touched",
    lines.REFEREE: "Seen by the referee",
    lines.WALKED: "Walked before calling",
}


def _word(duty: DutyTable) -> Word | None:
    """Give the best word of a duty; None where a box is to be pressed."""
    return duty.call[0] if duty.call else None


def faded(took_s: float, target_s: float) -> float:
    """Give what a time is worth: all within its target, less and less beyond it."""
    if took_s <= target_s:
        return 1.0
    return max(0.0, 1.0 - (took_s - target_s) / ((FADES - 1.0) * target_s))


def nevers(judge: Judge) -> Iterator[Line]:
    """Deduct for calls that are wrong in this drill."""
    for number, never in enumerate(judge.cast.drill.file.never, 1):
        wrong = next((touch for touch in judge.own if _is_wrong(judge, never, touch)), None)
        if wrong is not None:
            yield Line(
                name=f"never-{number}",
                title="Wrong here",
                got=-float(never.costs),
                of=0,
                said=f"{judge.called(wrong)} was called.",
                better=never.why,
                at_ms=wrong.at_ms,
            )


def _is_wrong(judge: Judge, never: NeverTable, touch: Touch) -> bool:
    if touch.what != "call" or touch.word is not never.call:
        return False
    if never.of is None:
        return True
    sighting = judge.seen.get(never.of)
    if sighting is None or not sighting.lasts(touch.at_ms):
        return False
    if never.kart is not None:
        return (touch.kart == sighting.cue.kart) is (never.kart == "its")
    if never.where is not None:
        return (touch.where in sighting.places) is (never.where == "there")
    return True
