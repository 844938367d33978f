"""The opening check on the phone: one walk at a time, from one post, asked and answered over the page.

The engine is `signals.opening.walk`: it lights lamps, judges answers and keeps the sheet. Here is only who
walks, what is being done now, and what the page shows of it. Work that takes longer than a page should
wait goes on beside it; the page looks again.
"""

from __future__ import annotations

import asyncio
import logging
from contextlib import AsyncExitStack
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct

from signals.errors import BadInput, KerblightError, Unusable
from signals.opening.book import Book
from signals.opening.causes import marks_of
from signals.opening.entries import Entries
from signals.opening.floor import floor_of
from signals.opening.judgement import Judgement
from signals.opening.sheet import (
    CauseFound,
    Found,
    MeasureKind,
    Name,
    Note,
    Question,
    Said,
    Sheet,
    Standstill,
)
from signals.opening.walk import Walk
from signals.panel.aside import Aside, Work
from signals.part import MakeLink
from signals.venue.model import Venue
from signals.words import Verdict

FOLDER = "opening"
DEVICE = "walk"
PATIENCE_S = 0.7
"""A page waits so long for what it asked; what takes longer is looked at again."""
TOLD_MAX = 12
"""Findings shown at once, the newest first."""

log = logging.getLogger(__name__)


class Putting(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is to be put in force, or taken back."""

    kind: MeasureKind
    place: str
    reason: Note = ""
    flag: Name = ""


class Signing(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A verdict to be signed."""

    verdict: Verdict
    by: Name
    witness: Name = ""
    note: Note = ""


class Walking:
    """The venue's walk, as far as this page has it in hand.

    Attributes:
        post: whose walk it is; empty while nobody walks here.
        walk: the walk itself; None while nobody walks here.
        step: what is asked, or why it stands still; None between the last question and the verdict.
        told: what was found last, the newest first.
        against: why the last thing asked for was not done, in sentences.
        doing: what is being done now, in words; empty when the page may ask for the next thing.

    """

    def __init__(self, venue: Venue, make_link: MakeLink, data: Path, aside: Aside) -> None:
        self.venue = venue
        self.post = ""
        self.walk: Walk | None = None
        self.step: Question | Standstill | None = None
        self.told: list[Found] = []
        self.against: tuple[str, ...] = ()
        self.doing = ""
        self.book = Book(data / FOLDER)
        self._make_link = make_link
        self._journal = data / "journal.sqlite"
        self._holding = AsyncExitStack()
        self._aside = aside
        self._work: asyncio.Future[None] | None = None

    @property
    def sheet(self) -> Sheet | None:
        """The sheet in hand."""
        return self.walk.sheet if self.walk else None

    @property
    def judgement(self) -> Judgement | None:
        """What it comes to so far."""
        return self.walk.judgement() if self.walk else None

    def records(self) -> list[Sheet]:
        """Give every signed record, the newest first; none that could not be read."""
        try:
            return self.book.signed()[::-1]
        except BadInput as wrong:
            log.warning("%s", wrong)
            return []

    async def act(self, act: str, post: str, person: str, fields: bytes) -> None:
        """Do what a page asks for, or begin to; what came of it is in the attributes.

        Raises:
            msgspec.ValidationError: the fields are none of this act's.
            LookupError: there is no such act.

        """
        work = self._named(act, post, person, fields)
        if self._work is not None or (self.post not in ("", post)):
            return
        self.against = ()
        self.doing = "One moment"
        self._work = self._aside.start(lambda: self._done(work))
        self._work.add_done_callback(self._over)
        await asyncio.wait({self._work}, timeout=PATIENCE_S)

    async def close(self) -> None:
        """Give the lamps back and let go of the book; what was said is kept."""
        if self._work is not None:
            self._work.cancel()
            await asyncio.gather(self._work, return_exceptions=True)
        if self.walk is not None:
            await self._aside.start(self._end)
        self._aside.close()

    async def keep(self, posts: frozenset[str]) -> None:
        """End the walk of a post that nobody is signed in at any more."""
        if self.post and self.post not in posts and self._work is None:
            log.info("the walk of %s rests: nobody is signed in there", self.post)
            await self._aside.start(self._end)

    def _named(self, act: str, post: str, person: str, fields: bytes) -> Work:
        """Give the work an act stands for, its fields read."""
        match act:
            case "begin":
                return lambda: self._begin(post, person)
            case "say":
                said = _read(fields, Said)
                return lambda: self._say(said)
            case "put":
                put = _read(fields, Putting)
                return lambda: self._put(put)
            case "back":
                back = _read(fields, Putting)
                return lambda: self._back(back)
            case "sign":
                signing = _read(fields, Signing)
                return lambda: self._sign(signing)
        plain: dict[str, Work] = {
            "go": self._go,
            "later": self._later,
            "good": self._good,
            "again": self._again,
            "causes": self._causes,
            "end": self._end,
        }
        return plain[act]

    def _over(self, work: asyncio.Future[None]) -> None:
        """Take the next thing; runs on the page's loop."""
        self.doing, self._work = "", None
        if not work.cancelled() and (failed := work.exception()):
            log.error("the walk failed", exc_info=failed)
            self.against = ("That went wrong here; the walk is kept as it was. Look, and go on.",)

    async def _done(self, work: Work) -> None:
        """Do it; what cannot be done is said on the page."""
        try:
            await work()
        except KerblightError as wrong:
            self.against = (str(wrong),)

    async def _begin(self, post: str, person: str) -> None:
        """Take the book, connect, and take up today's walk."""
        if self.walk is not None:
            return
        try:
            self._holding.enter_context(self.book.held())
            floor = await self._holding.enter_async_context(
                floor_of(self.venue, self._make_link, post=post, device=DEVICE)
            )
            entries = Entries(self._journal)
            self._holding.callback(entries.close)
            walk = Walk(
                self.venue,
                floor,
                self.book,
                by=person or post,
                entries=entries,
                causes=marks_of(self.venue),
                tell=self._tell,
            )
            self.against = await walk.begin()
        except BaseException:
            await self._holding.aclose()
            raise
        if self.against:
            await self._holding.aclose()
            return
        self.walk, self.post = walk, post
        await self._go()

    async def _go(self) -> None:
        """Go on to the next question; what sensors answer is found on the way."""
        self.step = None
        self.doing = "Looking"
        self.step = await self._on().ask()

    async def _say(self, said: Said) -> None:
        if not isinstance(self.step, Question):
            return
        came = await self._on().say(said)
        if isinstance(came, Found):
            await self._go()
        else:
            self.step = came

    async def _later(self) -> None:
        await self._on().later()
        await self._go()

    async def _good(self) -> None:
        await self._on().all_good()
        await self._go()

    async def _again(self) -> None:
        self._on().again()
        await self._go()

    async def _causes(self) -> None:
        """Run cause and effect; takes minutes."""
        self.step, self.doing = None, "Cause and effect"

        def tell(number: int, of: int, found: CauseFound) -> None:
            self.doing = f"Cause and effect, {number} of {of}: {found.cause}"

        self.against = await self._on().try_causes(self._make_link, tell=tell)

    async def _put(self, put: Putting) -> None:
        self.against = await self._on().put_in_force(put.kind, put.place, reason=put.reason, flag=put.flag)

    async def _back(self, back: Putting) -> None:
        self.against = await self._on().take_back(back.kind, back.place)

    async def _sign(self, signing: Signing) -> None:
        self.step = None
        came = await self._on().sign(
            signing.verdict, by=signing.by, witness=signing.witness, note=signing.note
        )
        if isinstance(came, tuple):
            self.against = came

    async def _end(self) -> None:
        """Give the lamps back and let go of the book."""
        walk, self.walk, self.step, self.post = self.walk, None, None, ""
        self.told = []
        try:
            if walk is not None:
                await walk.rest()
        finally:
            await self._holding.aclose()

    def _on(self) -> Walk:
        if self.walk is None:
            raise Unusable("nobody walks here now; begin, and it goes on where it was")
        return self.walk

    def _tell(self, found: Found) -> None:
        self.told = [found, *self.told][:TOLD_MAX]


def _read(fields: bytes, kind: type[Any]) -> Any:
    return msgspec.json.decode(fields, type=kind)
