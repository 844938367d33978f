"""The walk: asks row after row, keeps every answer before the next question, and goes on after any break.

    refusals = await walk.begin()
    while isinstance(step := await walk.ask(), Question):
        found = await walk.say(...)

One `Walk` at a time writes in a book (`Book.held`); whoever drives it holds the book. Nothing is asked
twice but what failed and is asked again (`again`), and what the venue file has changed since.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec

from signals.clock import utc_ms
from signals.opening.auto import Auto
from signals.opening.auto import Tell as TellCause
from signals.opening.beginning import begin
from signals.opening.book import Book
from signals.opening.contacts import CutOff, Pressed
from signals.opening.entries import Entries
from signals.opening.floor import Floor, Sentences
from signals.opening.home import lift_equipments
from signals.opening.items import Item
from signals.opening.judgement import Judgement, judge, spared
from signals.opening.karts import Answers, Limit
from signals.opening.lights import Lights
from signals.opening.looks import Look
from signals.opening.measures import call_back, call_for, undone
from signals.opening.rows import Kind, Row
from signals.opening.sheet import (
    Found,
    Measure,
    MeasureKind,
    Question,
    Said,
    Sheet,
    Standstill,
    Tries,
)
from signals.opening.signing import fields_of, file, signature_of
from signals.opening.task import Site, Task, listed
from signals.opening.uptime import stamp
from signals.part import MakeLink
from signals.sequence.player import Processes
from signals.venue.model import Venue
from signals.words import Aspect, Phase, Verdict, Word

TASKS: dict[Kind, type[Task]] = {
    Kind.LAMP: Look,
    Kind.SHOWS: Look,
    Kind.CUT: CutOff,
    Kind.INPUT: Pressed,
    Kind.ANSWERS: Answers,
    Kind.LIMIT: Limit,
    Kind.ITEM: Item,
}
NEEDS: dict[Kind, Phase] = {
    Kind.LAMP: Phase.TEST,
    Kind.SHOWS: Phase.TEST,
    Kind.ANSWERS: Phase.TEST,
    Kind.LIMIT: Phase.TEST,
    Kind.CUT: Phase.CLOSED,
    Kind.INPUT: Phase.CLOSED,
}
"""The phase a kind of row is walked in; what is only looked at needs none."""
LIT_EVERYWHERE = frozenset({Kind.INPUT, Kind.CUT})
"""Kinds that light red and yellow on every head: asked once no lamp is known to be wrong."""
LAMPS = frozenset({Kind.LAMP, Kind.SHOWS})
MEANWHILE = "The lamps were taken back meanwhile, so the answer counts for nothing; go on to be asked again."


def _nothing(_: Found) -> None:
    return None


class Walk:
    """One venue's opening check of one day.

    Args:
        venue: as loaded; a changed file is another venue, and asks its touched rows again.
        floor: the post that calls and the ears that listen.
        book: where it is kept; held by the caller.
        by: who walks now; may be set anew when somebody else takes the phone.
        entries: the venue's journal, where it is on this machine.
        causes: ids and marks of the causes of the cause-and-effect run (`causes.marks_of`).
        eyes: ask a person even where sensors see everything.
        tell: called with every row's finding, asked or not.
        now_ms: the machine's clock, UTC ms.
        threaded: print beside the loop, which takes a second: for real time only.

    """

    def __init__(
        self,
        venue: Venue,
        floor: Floor,
        book: Book,
        *,
        by: str,
        entries: Entries | None = None,
        causes: dict[str, str] | None = None,
        eyes: bool = False,
        tell: Callable[[Found], None] = _nothing,
        now_ms: Callable[[], int] = utc_ms,
        threaded: bool = False,
    ) -> None:
        self.by = by
        self.book = book
        self._venue = venue
        self._floor = floor
        self._entries = entries or Entries(None)
        self._causes = causes or {}
        self._eyes = eyes
        self.tell = tell
        self._now_ms = now_ms
        self._threaded = threaded
        self._sheet: Sheet | None = None
        self._task: Task | None = None
        self._site: Site | None = None

    @property
    def sheet(self) -> Sheet:
        """The walk as it is on the disk. Raises RuntimeError before `begin`."""
        if self._sheet is None:
            raise RuntimeError("the walk has not begun")
        return self._sheet

    # --- beginning and ending

    async def begin(self) -> Sentences:
        """Begin today's walk, or go on with it; gives the sentences against it: karts out, holds, a session.

        Raises:
            Unusable: the controller does not answer, or the walk cannot be kept.
            BadInput: the walk that is under way cannot be read.

        """
        if against := await self._floor.into(Phase.TEST):
            return against
        self.take_up()
        return ()

    def take_up(self) -> None:
        """Take up today's sheet without the lamps: to run causes, to put something in force, to sign."""
        now_ms = self._now_ms()
        begun = begin(self._venue, self._floor, self.book, by=self.by, now_ms=now_ms, causes=self._causes)
        self._keep(begun.sheet)
        what = "begun" if begun.fresh else "resumed"
        sheet = begun.sheet
        self._write(what, run=sheet.run, by=self.by, digest=sheet.digest, reopened=sheet.reopened)
        self._site = Site(
            venue=self._venue,
            floor=self._floor,
            lights=Lights(self._floor),
            now_ms=self._now_ms,
            by=self.by,
            run=self.sheet.run,
            eyes=self._eyes,
        )

    async def rest(self) -> None:
        """Give the lamps back; whatever was said is kept, and `begin` goes on from there."""
        await self._end_task()
        if self._floor.state.phase is Phase.TEST:
            await self._floor.call(Word.GIVE_BACK)

    # --- asking and saying

    async def ask(self) -> Question | Standstill | None:
        """Go on to the next row that a person must answer; None when none is left.

        Rows that sensors answer are found on the way (`tell`). A standstill says why it cannot go on
        now; ask again once that is over.
        """
        await self._end_task()
        while (row := self._next()) is not None:
            if row.kind in NEEDS and (against := await self._floor.into(NEEDS[row.kind])):
                return Standstill(against)
            task = self._task = TASKS[row.kind](self._on_site(), row)
            began = await task.begin()
            if isinstance(began, Found):
                await self._end_task()
                self._note(began)
            elif isinstance(began, Standstill):
                await self._end_task()
                return began
            else:
                return self._numbered(began)
        return None

    async def say(self, said: Said) -> Found | Question | Standstill:
        """Take what a person says of the question asked last, before it is told what was expected.

        Some rows have a second question. An answer about lamps that were taken back counts for nothing.
        """
        task = self._task
        if task is None:
            raise RuntimeError("nothing was asked")
        if self._taken_back(task):
            await self._end_task()
            return Standstill((MEANWHILE,))
        judged = await task.judge(said)
        if isinstance(judged, Question):
            return self._numbered(judged)
        await self._end_task()
        if self._taken_back(task):
            return Standstill((MEANWHILE,))
        found = msgspec.structs.replace(judged, note=said.note)
        self._note(found)
        return found

    async def all_good(self) -> list[Found]:
        """Say yes to the item asked, and to every other open item of the same place."""
        task = self._task
        if task is None or task.row.kind is not Kind.ITEM:
            raise RuntimeError("no item was asked")
        rows = (row for row in self._open() if row.kind is Kind.ITEM and row.place == task.row.place)
        found = [await Item(self._on_site(), row).judge(Said(good=True)) for row in rows]
        await self._end_task()
        for each in found:
            self._note(each)
        return found

    async def later(self) -> None:
        """Put the row that was asked at the end of the walk."""
        if self._task is None:
            return
        row = self._task.row.id
        await self._end_task()
        later = (*(id_ for id_ in self.sheet.later if id_ != row), row)
        self._keep(msgspec.structs.replace(self.sheet, later=later))

    def again(self, rows: Iterable[str] | None = None) -> tuple[str, ...]:
        """Ask rows again after a repair, by default all that failed or were not seen; gives which.

        What was found first stays on the sheet as found; what is found next is how it was left.
        """
        tries = self.sheet.tries
        short = (id_ for id_, each in tries.items() if each.left.outcome in ("failed", "not seen"))
        chosen = tuple(id_ for id_ in (short if rows is None else rows) if id_ in tries)
        retest = tuple(dict.fromkeys((*self.sheet.retest, *chosen)))
        self._keep(msgspec.structs.replace(self.sheet, retest=retest))
        self._write("again", run=self.sheet.run, by=self.by, rows=chosen)
        return chosen

    def wrong_lamps(self) -> tuple[str, ...]:
        """Name the lamp rows that failed on heads in service: what the monitor would trip on."""
        away = spared(self.sheet.measures)
        failed = {id_ for id_, tries in self.sheet.tries.items() if tries.left.outcome == "failed"}
        rows = self.sheet.rows
        return tuple(r.id for r in rows if r.id in failed and r.kind in LAMPS and r.place not in away)

    def waiting(self) -> frozenset[str]:
        """Name the open rows that cannot be right while a lamp is wrong: they are asked once it is mended."""
        wrong = self.wrong_lamps()
        lamps = {(row.place, row.what) for row in map(self.sheet.row, wrong) if row.kind is Kind.LAMP}
        return frozenset(row.id for row in self._open() if wrong and self._waits(row, lamps))

    def _waits(self, row: Row, lamps: set[tuple[str, str]]) -> bool:
        if row.kind is not Kind.SHOWS or row.id in self.sheet.retest:
            return row.kind in LIT_EVERYWHERE
        head = self._on_site().head(row.place)
        return any((head.id, lamp) in lamps for lamp in head.aspects.get(Aspect(row.what), ()))

    async def lift(self) -> Sentences:
        """Lift the yellow and red that equipment placed: whoever walks stands there and has looked."""
        return await lift_equipments(self._floor)

    async def try_causes(
        self, make_link: MakeLink, *, processes: Processes | None = None, tell: TellCause | None = None
    ) -> Sentences:
        """Run cause and effect (`Auto`), and take what came of it; gives what forbids to begin.

        `make_link` must make the links of the first supervisor's post and of the instructor.
        """
        if wrong := self.wrong_lamps():
            right = "repair it and test it again, or take its head out of service"
            return (f"{listed(wrong)} failed: {right}. A wrong lamp would trip the conflict monitor.",)
        await self.rest()
        supervisor = next(post.id for post in self._venue.posts if post.supervisor)
        auto = Auto(
            self._venue,
            make_link,
            post=supervisor,
            folder=self.book.sequences,
            processes=processes,
            tell=tell or (lambda _, __, ___: None),
            now_ms=self._now_ms,
        )
        found = await auto.run()
        if isinstance(found, tuple):
            return found
        causes = self.sheet.causes | {each.id: each for each in found}
        self._keep(msgspec.structs.replace(self.sheet, causes=causes))
        for each in found:
            self._write("cause", run=self.sheet.run, found=each)
        return ()

    # --- measures and the verdict

    async def put_in_force(self, kind: MeasureKind, place: str, *, reason: str, flag: str = "") -> Sentences:
        """Set a kart aside, take a head out of service (naming who flags there), or put wet limits in force.

        It is in force at once; gives what refuses it.
        """
        word, fields = call_for(kind, place, reason=reason, flag=flag)
        if against := await self._floor.call(word, **fields):
            return against
        made = Measure(kind=kind, place=place, reason=reason, at=self._now_ms(), by=self.by, flag=flag)
        kept = tuple(each for each in self.sheet.measures if (each.kind, each.place) != (kind, place))
        self._keep(msgspec.structs.replace(self.sheet, measures=(*kept, made)))
        self._write("in-force", run=self.sheet.run, measure=made)
        return ()

    async def take_back(self, kind: MeasureKind, place: str) -> Sentences:
        """End a measure: a kart is back in the pit, limits are dry; a head stays out until the day ends."""
        call = call_back(kind, place)
        if call is None:
            return (f"Head {place} stays out of service until the end of the operating day.",)
        if against := await self._floor.call(call[0], **call[1]):
            return against
        kept = tuple(each for each in self.sheet.measures if (each.kind, each.place) != (kind, place))
        self._keep(msgspec.structs.replace(self.sheet, measures=kept))
        self._write("taken-back", run=self.sheet.run, kind=kind, place=place, by=self.by)
        return ()

    def judgement(self) -> Judgement:
        """Judge what there is so far."""
        return judge(self.sheet, self._causes)

    async def sign(self, verdict: Verdict, *, by: str, witness: str = "", note: str = "") -> Path | Sentences:
        """Sign the verdict by name: the controller takes it, the record is filed; gives its file.

        Or the sentences against it: rows that are open, what failed, a name that is missing, a refusal.
        """
        if not by.strip():
            return ("Nobody signs: a verdict needs a name.",)
        await self._end_task()
        if self._floor.state.phase is Phase.TEST and (against := await self._floor.into(Phase.CLOSED)):
            return against
        judged = self.judgement()
        if against := judged.against[verdict] or tuple(undone(self.sheet.measures, self._floor.state)):
            return against
        signature = signature_of(
            verdict, judged, self._venue.operating, self._now_ms(), by=by, witness=witness, note=note
        )
        if against := await self._floor.call(Word.VERDICT, **fields_of(signature)):
            return against
        self._keep(msgspec.structs.replace(self.sheet, signed=signature))
        path, digest = await file(self.book, self.sheet, threaded=self._threaded)
        self._write("signed", run=self.sheet.run, signature=signature, record=digest)
        return path

    # --- inside

    def _on_site(self) -> Site:
        if self._site is None:
            raise RuntimeError("the walk has not begun")
        self._site.by = self.by
        return self._site

    def _taken_back(self, task: Task) -> bool:
        """Tell whether a row's lamps are lent no more."""
        return NEEDS.get(task.row.kind) is Phase.TEST and self._floor.state.phase is not Phase.TEST

    def _settled(self, row: Row) -> bool:
        return row.id in self.sheet.tries and row.id not in self.sheet.retest

    def _open(self) -> list[Row]:
        away = spared(self.sheet.measures)
        return [row for row in self.sheet.rows if row.place not in away and not self._settled(row)]

    def _next(self) -> Row | None:
        """Give the next row: in order, those put off at the end."""
        put_off = {id_: place for place, id_ in enumerate(self.sheet.later)}
        waiting = self.waiting()
        able = (row for row in self._open() if row.id not in waiting)
        return min(able, key=lambda row: put_off.get(row.id, -1), default=None)

    def _numbered(self, question: Question) -> Question:
        of = len(self.sheet.rows)
        return msgspec.structs.replace(question, number=of - len(self._open()) + 1, of=of)

    async def _end_task(self) -> None:
        task, self._task = self._task, None
        if task is not None:
            await task.end()

    def _note(self, found: Found) -> None:
        sheet, before = self.sheet, self.sheet.tries.get(found.row)
        tries = (
            Tries(found=before.found, left=found, count=before.count + 1)
            if before
            else Tries(found=found, left=found)
        )
        self._keep(
            msgspec.structs.replace(
                sheet,
                tries=sheet.tries | {found.row: tries},
                later=tuple(id_ for id_ in sheet.later if id_ != found.row),
                retest=tuple(id_ for id_ in sheet.retest if id_ != found.row),
            )
        )
        self._write("row", run=sheet.run, found=found)
        self.tell(found)

    def _keep(self, sheet: Sheet) -> None:
        kept = msgspec.structs.replace(sheet, clock=stamp(self._now_ms()))
        self.book.keep(kept)
        self._sheet = kept

    def _write(self, what: str, **about: object) -> None:
        self._entries.write(self._floor.caller.state, self._now_ms(), what, **about)
