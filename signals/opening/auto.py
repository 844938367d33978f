"""The cause-and-effect run: every script is written as a sequence file and played; between them all go home.

    run = Auto(venue, make_link, post="desk", folder=data / "opening" / "sequences", processes=kept)
    found = await run.run()

The files stay in the folder: each can be read, and played again alone. On equipment that is real only calls
are tried; without whoever keeps the processes nobody can end one, and those causes are not applicable.
"""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec

from signals.clock import utc_ms
from signals.controller.service import patience_s
from signals.errors import Unusable
from signals.mqtt.contract import Inject
from signals.opening.causes import Cause, Script, marks_of, scripts_of
from signals.opening.floor import Floor, Sentences, floor_of
from signals.opening.home import against_beginning, go_home, is_home
from signals.opening.script import Place, Written, write
from signals.opening.sheet import CauseFound, CellFound, Outcome
from signals.part import MakeLink
from signals.sequence.load import load
from signals.sequence.player import Player, Processes
from signals.sequence.result import StepResult
from signals.venue.model import Venue
from signals.wiring.played import Base
from signals.words import InputState, Verdict

UP_WITHIN_S = 10.0
Tell = Callable[[int, int, CauseFound], None]
"""Told of each cause as it was tried: its number, of how many, and what came of it."""


def _nothing(_: int, __: int, ___: CauseFound) -> None:
    return None


class Auto:
    """One cause-and-effect run.

    Args:
        venue: as loaded.
        make_link: makes the links of the post, the player and the ears.
        post: a supervisor's post: it lifts whatever equipment places.
        folder: where the sequence files go.
        processes: whoever keeps the processes, None where nobody does.
        tell: called with each cause.
        now_ms: the machine's clock, UTC ms.
        only: names of scripts, for those that are to be tried alone.

    """

    def __init__(
        self,
        venue: Venue,
        make_link: MakeLink,
        *,
        post: str,
        folder: Path,
        processes: Processes | None = None,
        tell: Tell = _nothing,
        now_ms: Callable[[], int] = utc_ms,
        only: Callable[[Script], bool] = lambda _: True,
    ) -> None:
        self._venue = venue
        self._make_link = make_link
        self._post = post
        self._folder = folder
        self._processes = processes
        self._tell = tell
        self._now_ms = now_ms
        self._only = only
        self._marks = marks_of(venue)
        self._found: list[CauseFound] = []
        self._of = 0
        self._patient_until_s = 0.0
        """Until when a controller that has just begun takes a node that boots for one that begins too."""

    async def run(self) -> list[CauseFound] | Sentences:
        """Try every cause; gives what came, or what forbids to begin: karts out, holds, a session.

        Raises:
            Unusable: no controller is heard, or the folder cannot be written.

        """
        async with floor_of(self._venue, self._make_link, post=self._post, device="auto") as floor:
            if against := against_beginning(floor.state) or await self._settled(floor):
                return against
            self._patient_until_s = asyncio.get_running_loop().time() + patience_s(self._venue)
            away = {name for name, head in floor.state.heads.items() if head.health == "out-of-service"}
            every = (_without(script, away) for script in scripts_of(self._venue, self._base(floor)))
            scripts = [script for script in every if self._only(script)]
            self._of = sum(len(script.causes) for script in scripts)
            home: Sentences = ()
            for script in scripts:
                if home:
                    self._skip(script, f"The venue did not come home before it: {' '.join(home)}")
                    continue
                await self._try(floor, script)
                home = await self._home(floor, script)
            return self._found

    async def _settled(self, floor: Floor) -> Sentences:
        """Wait until every head was heard, and shows what it is told."""
        heads = [head.id for head in self._venue.heads]
        heard = await floor.until(
            lambda: all(floor.ears.shown(head) for head in heads) and is_home(floor.state), UP_WITHIN_S
        )
        return () if heard else tuple(floor.state.faults) or ("Not every head shows what it is told.",)

    def _base(self, floor: Floor) -> Base:
        """Race only where a verdict stands that lets it."""
        group = floor.ears.group
        opened = group is not None and group.opening.verdict in (Verdict.OPEN, Verdict.OPEN_RESTRICTED)
        return "racing" if opened else "closed"

    async def _try(self, floor: Floor, script: Script) -> None:
        """Write a script's file, play it, and note what came of each of its causes."""
        if script.causes[0].kind == "power":
            await asyncio.sleep(self._patient_until_s - asyncio.get_running_loop().time())
        written = write(script, self._venue)
        sequence = load(self._write(written), self._venue)
        player = Player(
            sequence, self._venue, self._make_link, processes=self._processes, observer=floor.ears
        )
        result = await player.run()
        start = result.steps[0]
        came: dict[str, list[tuple[Place, StepResult]]] = {cause.id: [] for cause in script.causes}
        for place, step in written.steps(result):
            came[place.cause.id].append((place, step))
        for cause in script.causes:
            before = "" if start.outcome == "met" else f"start: {start.came}"
            self._note(self._cause(cause, came[cause.id], before))

    def _write(self, written: Written) -> Path:
        path = self._folder / f"{written.script.name}.toml"
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            path.write_text(written.text, encoding="utf-8")
        except OSError as error:
            raise Unusable(f"{path}: {error.strerror}; give a folder that can be written") from error
        return path

    def _cause(self, cause: Cause, came: list[tuple[Place, StepResult]], before: str) -> CauseFound:
        done = [step for place, step in came if place.head is None]
        beyond = next((step.came for step in done if step.outcome == "not-applicable"), "")
        wrong = before or next((f"{step.what}: {step.came}" for step in done if not step.held), "")
        cells = tuple(_cell(cause, place.head, step) for place, step in came if place.head is not None)
        outcome: Outcome = "passed" if not wrong and all(cell.met for cell in cells) else "failed"
        if beyond:
            outcome, wrong, cells = "not applicable", beyond, ()
        return self._made(cause, outcome, wrong, () if before else cells)

    def _skip(self, script: Script, why: str) -> None:
        for cause in script.causes:
            self._note(self._made(cause, "failed", why, ()))

    def _made(self, cause: Cause, outcome: Outcome, came: str, cells: tuple[CellFound, ...]) -> CauseFound:
        return CauseFound(
            id=cause.id,
            kind=cause.kind,
            cause=cause.says,
            at=self._now_ms(),
            outcome=outcome,
            came=came,
            mark=self._marks.get(cause.id, ""),
            cells=cells,
        )

    def _note(self, found: CauseFound) -> None:
        self._found.append(found)
        self._tell(len(self._found), self._of, found)

    async def _home(self, floor: Floor, script: Script) -> Sentences:
        """Mend what the script broke, bring back what it ended, and bring the venue home."""
        if self._processes is not None:
            for name in script.kills:
                await self._processes.start(name)
        if not await floor.until(lambda: floor.caller.up, UP_WITHIN_S):
            return ("The broker did not come back.",)
        for inject, node in _mending(script, self._venue):
            await floor.ears.inject(node, inject)
        return await go_home(floor)


def _without(script: Script, away: set[str]) -> Script:
    """Leave out the cells of heads that are out of service: nothing is due of them."""
    if not away:
        return script
    causes = (
        msgspec.structs.replace(cause, cells={k: v for k, v in cause.cells.items() if k not in away})
        for cause in script.causes
    )
    return msgspec.structs.replace(script, causes=tuple(causes))


def _cell(cause: Cause, head: str, step: StepResult) -> CellFound:
    cell = cause.cells[head]
    came = step.came.partition(" after ")[0]
    reached = step.outcome == "met" or came == cell.shows
    return CellFound(
        head=head,
        expected=cell.shows,
        within_ms=cell.within_ms or 0,
        came=came.removeprefix(f"{head} "),
        ms=step.ms if reached else None,
        met=step.outcome == "met",
    )


def _mending(script: Script, venue: Venue) -> Iterable[tuple[Inject, str]]:
    """Give what ends the faults that a script asked simulated nodes for."""
    heads = {head.id: head.node for head in venue.heads}
    inputs = {each.id: each.node for each in venue.inputs}
    for does in (does for cause in script.causes for does in cause.does if "event" in does):
        if "head" in does and does["event"] != "reboot":
            yield Inject(id=str(uuid.uuid4()), event="head-back", head=does["head"]), heads[does["head"]]
        if "input" in does and does["event"] != f"input-{InputState.NORMAL}":
            name = does["input"]
            yield Inject(id=str(uuid.uuid4()), event="input-normal", input=name), inputs[name]
