"""Boxes, alarms, gates pressed for real, and the head of the day cut off for real; then all is lifted.

Both happen outside the test, on a closed venue: what equipment reports there places holds, and holds end
a test. What a simulated node cannot be made to do by hand it is asked to do.
"""

from __future__ import annotations

import asyncio
import uuid

from signals import say
from signals.mqtt.contract import Inject
from signals.opening.home import lift_equipments
from signals.opening.looks import looks_of, where_of
from signals.opening.rows import Row
from signals.opening.sheet import Found, Method, Outcome, Question, Said, Standstill
from signals.opening.task import Site, Task, listed
from signals.wiring.matrix import fallen, left_alone, outs_of
from signals.words import Aspect, Condition, InputState

BACK_WITHIN_S = 20.0
"""A device that was cut off boots, connects, and is addressed anew within so long."""
LOOK_S = 2.0


class Pressed(Task):
    """An input is pressed and let go; it alone answers, and every head shows what follows."""

    def __init__(self, site: Site, row: Row) -> None:
        super().__init__(site, row)
        self._input = next(each for each in site.venue.inputs if each.id == row.place)
        self._came: list[tuple[float, str, InputState]] = []
        self._due_s: float | None = None
        played = site.played()
        due = played.shown(played.after("input-active", input=row.place))
        served = {name for name, head in site.floor.state.heads.items() if head.health != "out-of-service"}
        self._due = {head: aspect for head, aspect in due.items() if head in served}
        self._reported = {name: report.state for name, report in site.floor.ears.inputs.items()}
        self._ignore = site.floor.ears.listen(self._look)

    async def begin(self) -> Question | Found | Standstill:
        """Ask for it to be pressed; a simulated one is pressed by request."""
        if self.site.simulated(self._input.node):
            return await self._press()
        return Question(
            number=0,
            of=0,
            asks="press",
            place=self.row.place,
            where=f"{self.row.place}, {KINDS[self._input.kind]}",
            text="Press or open it, wait until the heads answer, let it go or close it again.",
        )

    async def judge(self, said: Said) -> Found:
        """Tell what answered, and lift what it placed."""
        if said.unseen:
            return self.found("not seen", self._expected, "nobody pressed it", "report")
        floor, name = self.site.floor, self.row.place
        await floor.until(lambda: self._state() is InputState.NORMAL and self._was_active(), LOOK_S)
        others = sorted({who for _, who, state in self._came if who != name and state is InputState.ACTIVE})
        observed = listed([f"{who} {state}" for _, who, state in self._came])
        held = self._was_active() and not others and self._state() is InputState.NORMAL
        wrong = self._other_lights()
        if held and wrong:
            held, observed = False, f"{observed}; {wrong}"
        if stands := await lift_equipments(floor):
            held, observed = False, f"{observed}; {' '.join(stands)}"
        return self.found("passed" if held else "failed", self._expected, observed, "report", ms=self._ms())

    async def end(self) -> None:
        """Stop listening."""
        self._ignore()
        await super().end()

    async def _press(self) -> Found:
        ears, node, name = self.site.floor.ears, self._input.node, self.row.place
        for event in ("input-active", "input-normal"):
            done = await ears.inject(node, Inject(id=str(uuid.uuid4()), event=event, input=name))
            if done is None or not done.done:
                said = "nobody answers" if done is None else done.said
                return self.found("failed", self._expected, f"{event}: {said}", "report")
            if event == "input-active":
                await self.site.floor.until(lambda: self._due_s is not None, LOOK_S)
        return await self.judge(Said())

    @property
    def _expected(self) -> str:
        shown = listed(sorted({say.ASPECTS[aspect] for aspect in self._due.values()}))
        return f"{self.row.place} alone; heads show {shown}"

    def _look(self) -> None:
        """Keep what inputs report, and when the heads have followed."""
        now_s = asyncio.get_running_loop().time()
        for name, report in self.site.floor.ears.inputs.items():
            if self._reported.get(name) is not report.state:
                self._reported[name] = report.state
                self._came.append((now_s, name, report.state))
        if self._due_s is None and self._was_active() and not self._behind():
            self._due_s = now_s

    def _behind(self) -> list[str]:
        ears = self.site.floor.ears
        shown = {name: ears.shown(name) for name in self._due}
        return [name for name, is_ in shown.items() if is_ is None or is_.aspect is not self._due[name]]

    def _other_lights(self) -> str:
        return "" if self._due_s is not None else f"{listed(self._behind())} did not follow"

    def _was_active(self) -> bool:
        return any(name == self.row.place and state is InputState.ACTIVE for _, name, state in self._came)

    def _state(self) -> InputState | None:
        return self._reported.get(self.row.place)

    def _ms(self) -> int | None:
        """Give the time from the report to the last head that followed it."""
        pressed = (at_s for at_s, name, state in self._came if name == self.row.place and state == "active")
        began_s = next(pressed, None)
        return None if began_s is None or self._due_s is None else round(1000 * (self._due_s - began_s))


KINDS = {
    "alarm": "an alarm",
    "hard-stop": "the wired stop",
    "gate": "a gate",
    "stop-box": "a red call box",
    "caution-box": "a yellow call box",
}


class CutOff(Task):
    """The head of the day loses its device for real: it falls by itself, and comes back to yellow only."""

    def __init__(self, site: Site, row: Row) -> None:
        super().__init__(site, row)
        self._head = site.head(row.place)
        self._shows: Aspect | None = None
        self._lost_ms: int | None = None
        wired = bool(outs_of(site.venue, self._head))
        cell = left_alone(site.venue, self._head) if wired else None
        self._due = str(cell.shows if cell else fallen(site.venue, self._head))
        self._aspects = dict(site.floor.state.heads)

    async def begin(self) -> Question | Found | Standstill:
        """Ask for the plug to be pulled; a simulated head is cut off by request."""
        if self.site.simulated(self._head.node):
            return await self._cut()
        return Question(
            number=0,
            of=0,
            asks="cut-off",
            place=self._head.id,
            where=where_of(self.site.venue, self._head),
            text="Pull the plug of the network at this head's device. What does the head show by itself?",
            choices=tuple(looks_of(self._head)),
        )

    async def judge(self, said: Said) -> Question | Found:
        """First what it shows alone, then that it is back and nothing has become green by itself."""
        if said.unseen:
            return self.found("not seen", self._expected, "nobody could see it", "eye")
        if self._shows is None and said.aspect is not None:
            self._shows = said.aspect
            if not await self.site.floor.until(self._lost, LOOK_S):
                observed = f"{say.ASPECTS[said.aspect]}; the controller did not miss it"
                return self.found("failed", self._expected, observed, "eye")
            return Question(
                number=0,
                of=0,
                asks="press",
                place=self._head.id,
                where=where_of(self.site.venue, self._head),
                text="Plug it in again, and wait until it shows yellow or red.",
            )
        return await self._back(method_eye=True)

    @property
    def _expected(self) -> str:
        return f"{self._due} by itself; missed; back to yellow until lifted"

    def _lost(self) -> bool:
        return self.site.floor.state.heads[self._head.id].health != "ok"

    async def _cut(self) -> Found:
        """Let a simulated head's node fall silent, and come back."""
        floor, loop = self.site.floor, asyncio.get_running_loop()
        began_s = loop.time()
        if against := await self._ask("head-lost"):
            return self.found("failed", self._expected, against, "report")
        timing = self.site.venue.timing
        within_s = (timing.lease_head + timing.settle) / 1000 + LOOK_S
        if not await floor.until(self._lost, within_s):
            await self._ask("head-back")
            return self.found("failed", self._expected, "the controller did not miss it", "report")
        self._lost_ms = round(1000 * (loop.time() - began_s))
        if against := await self._ask("head-back"):
            return self.found("failed", self._expected, against, "report")
        return await self._back(method_eye=False)

    async def _ask(self, event: str) -> str:
        inject = Inject(id=str(uuid.uuid4()), event=event, head=self._head.id)
        done = await self.site.floor.ears.inject(self._head.node, inject)
        return "" if done and done.done else f"{event}: {done.said if done else 'nobody answers'}"

    async def _back(self, *, method_eye: bool) -> Found:
        floor = self.site.floor
        back = await floor.until(lambda: not self._lost() and self._shown() is not None, BACK_WITHIN_S)
        shown = self._shown()
        cautioned = all(
            floor.state.sectors.get(sector) is not Condition.CLEAR for sector in self._head.protects
        )
        right = back and cautioned and shown is not Aspect.GREEN
        seen = f"{say.ASPECTS[self._shows]} by itself; " if self._shows is not None else ""
        right = right and (self._shows is None or self._shows == self._due)
        observed = f"{seen}{'back' if back else 'not back'}, {say.ASPECTS[shown] if shown else 'silent'}"
        if stands := await lift_equipments(floor):
            right, observed = False, f"{observed}; {' '.join(stands)}"
        method: Method = "eye" if method_eye else "report"
        outcome: Outcome = "passed" if right else "failed"
        return self.found(outcome, self._expected, observed, method, ms=self._lost_ms)

    def _shown(self) -> Aspect | None:
        shown = self.site.floor.ears.shown(self._head.id)
        return shown.aspect if shown else None
