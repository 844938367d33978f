"""A check as a process runs it: the walk at a terminal, and the cause-and-effect run."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from msgspec import Struct
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from signals.cli.data import journal_file
from signals.cli.links import links
from signals.cli.whole import in_use, whole
from signals.errors import Unusable
from signals.opening.book import Book
from signals.opening.causes import marks_of
from signals.opening.entries import Entries
from signals.opening.floor import Floor, Sentences, floor_of
from signals.opening.keyboard import keyboard
from signals.opening.sheet import CauseFound
from signals.opening.terminal import Terminal
from signals.opening.walk import Walk
from signals.part import MakeLink
from signals.sequence.player import Processes
from signals.venue.model import Venue
from signals.words import Verdict

FOLDER = "opening"
MACHINE = "automatic"
"""Who a row is by that no person had a hand in."""
SHOWN_CELLS = 4


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asks for, checked."""

    venue: Venue
    post: str
    broker: str
    data: Path
    keys: Path | None
    by: str = MACHINE
    eyes: bool = False

    @property
    def make_link(self) -> MakeLink:
        """Give the links of the post, of the ears, and of whoever plays a sequence."""
        return links(self.broker, self.data, self.keys, f"post-{self.post}")

    @property
    def book(self) -> Book:
        """Give the book of the data folder."""
        return Book(self.data / FOLDER)


class Came(Struct, frozen=True):
    """What came of a walk: None and "" where it was not signed, or did not begin."""

    run: str
    verdict: Verdict | None
    record: str
    printed: str
    passed: int
    failed: list[str]
    open: int


class Slow(Struct, frozen=True):
    """A head that was later than it may be, after a cause."""

    head: str
    cause: str
    ms: int
    within_ms: int


class Ran(Struct, frozen=True):
    """What came of a cause-and-effect run: `kept` in the walk under way, each cause's file in `sequences`."""

    venue: str
    run: str
    held: bool
    seconds: float
    cells: int
    slow: list[Slow]
    causes: list[CauseFound]
    kept: str
    sequences: str


@asynccontextmanager
async def _walking(asked: Asked) -> AsyncIterator[tuple[Walk, Floor]]:
    """Hold the book, connect, and give the walk."""
    entries = Entries(journal_file(asked.data))
    try:
        with asked.book.held():
            async with floor_of(asked.venue, asked.make_link, post=asked.post) as floor:
                yield (
                    Walk(
                        asked.venue,
                        floor,
                        asked.book,
                        by=asked.by,
                        entries=entries,
                        causes=marks_of(asked.venue),
                        eyes=asked.eyes,
                        threaded=True,
                    ),
                    floor,
                )
    finally:
        entries.close()


async def walk(asked: Asked, say: Console) -> Came:
    """Walk at the terminal."""
    async with _walking(asked) as (walking, _), keyboard() as keys:
        terminal = Terminal(walking, keys, say, asked.make_link, asked.by)
        walking.tell = terminal.tell
        if not await terminal.run():
            return Came("", None, "", "", 0, [], 0)
    return _came(walking, terminal.signed)


def _came(walking: Walk, record: Path | None) -> Came:
    judged, signed = walking.judgement(), walking.sheet.signed
    return Came(
        walking.sheet.run,
        signed.verdict if signed and record else None,
        str(record or ""),
        str(walking.book.printed(walking.sheet.run)) if record else "",
        len(judged.passed),
        list(judged.failed),
        len(judged.open),
    )


async def auto(asked: Asked, say: Console, *, quiet: bool) -> Ran:
    """Run cause and effect, on the run that is up or on a simulated venue of its own.

    Raises:
        Unusable: a real venue does not run, or the venue is not as before opening.

    """
    began_s = time.monotonic()
    async with _processes(asked, say) as processes, _walking(asked) as (walking, _):
        walking.take_up()
        if against := await _tried(walking, asked.make_link, processes, say, quiet=quiet):
            raise Unusable(f"cause and effect cannot begin: {' '.join(against)}")
    return _ran(walking, time.monotonic() - began_s)


@asynccontextmanager
async def _processes(asked: Asked, say: Console) -> AsyncIterator[Processes | None]:
    """Take the run that is up, or start a simulated venue for as long as this takes."""
    if asked.broker or in_use(asked.data):
        yield None
        return
    if not asked.venue.simulated:
        right = f"start `kerblight run --venue {asked.venue.path}` first"
        raise Unusable(f"no run uses {asked.data}; {right}")
    alone = f"{asked.venue.name}, simulated, for this check alone: a minute or two"
    say.print(f"{alone}; kept in {asked.book.folder}", soft_wrap=True)
    async with whole(asked.venue, asked.data, tell=lambda _: None) as kept:
        yield kept


async def _tried(
    walking: Walk, make_link: MakeLink, processes: Processes | None, say: Console, *, quiet: bool
) -> Sentences:
    """Try them, with a bar that moves at a terminal and else a line for each."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=say, transient=True, disable=not say.is_terminal) as progress:
        bar = progress.add_task("cause and effect", total=None)

        def tell(number: int, of: int, found: CauseFound) -> None:
            progress.update(bar, completed=number, total=of)
            if not say.is_terminal:
                say.print(f"{number:>3} of {of}  {line_of(found)}", markup=False, soft_wrap=True)
            elif found.outcome == "failed" and not quiet:
                progress.console.print(line_of(found), markup=False)

        return await walking.try_causes(make_link, processes=processes, tell=tell)


def _ran(walking: Walk, seconds: float) -> Ran:
    causes = list(walking.sheet.causes.values())
    slow = [
        Slow(cell.head, cause.id, cell.ms, cell.within_ms)
        for cause in causes
        for cell in cause.cells
        if cell.ms is not None and not cell.met
    ]
    held = all(cause.outcome != "failed" for cause in causes)
    cells = sum(len(cause.cells) for cause in causes)
    return Ran(
        venue=walking.sheet.venue,
        run=walking.sheet.run,
        held=held,
        seconds=round(seconds, 1),
        cells=cells,
        slow=slow,
        causes=causes,
        kept=str(walking.book.walk),
        sequences=str(walking.book.sequences),
    )


def line_of(found: CauseFound) -> str:
    """Say what came of a cause in a line."""
    mark = {"passed": "✓", "failed": "✗"}.get(found.outcome, "○")
    wrong = [cell for cell in found.cells if not cell.met]
    late = [f"{cell.head} {cell.came}{f' after {cell.ms} ms' if cell.ms else ''}" for cell in wrong]
    more = [f"{len(late) - SHOWN_CELLS} more"] if len(late) > SHOWN_CELLS else []
    why = "; ".join([*([found.came] if found.came else []), *late[:SHOWN_CELLS], *more])
    return f"{mark} {found.cause}{f': {why}' if why else ''}"
