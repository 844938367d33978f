"""What one decision takes: `python -m benchmarks.step`.

On both venues that come along, all karts out and 512 calls remembered, as late in a day. A decision
on facts that were never seen works everything out anew ("new"); on facts seen a moment ago much is
kept ("seen"). The "seeded day" feeds each decision's state into the next, with whatever is kept by then:
karts go from sector to sector in any order, and now and then a sector is cautioned and cleared again.
The floors are the least that the same work could be made of.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from random import Random

from transitions import Machine

from benchmarks.measure import Sample, measure, parser, say_where, show, verdict
from signals.cli.options import configs
from signals.controller.layout import layout_of
from signals.core.beside import KEPT_IDS
from signals.core.machine import Core
from signals.core.state import TICK, Event, Member, State
from signals.venue import load
from signals.words import PIT, Word

TARGET_US = 100.0
TIMES = 1000
NOON_MS = 12 * 3_600_000


class Day:
    """Drive a core as a session does; every call has seen the latest state."""

    def __init__(self, core: Core) -> None:
        self.core = core
        self.state = core.begin("boot")
        self.now_ms = NOON_MS
        self._ids = count()
        self.desk = next(post for post in core.layout.posts if post in core.layout.supervisors)

    def event(self, word: str, post: str = "", **fields: object) -> Event:
        """Make a call, not yet made; by a supervisor where no post is named."""
        seen = (self.state.boot, self.state.serial)
        return Event(word, post or self.desk, fields, f"c{next(self._ids)}", seen)

    def call(self, word: str, post: str = "", **fields: object) -> None:
        """Call something that must be accepted."""
        self.take(self.event(word, post, **fields))

    def equipment(self, word: str, **fields: object) -> None:
        """Let equipment do something."""
        self.take(Event(word, fields=fields))

    def take(self, event: Event) -> None:
        """Decide on something that must be accepted, and go on from there."""
        decision = self.core.step(self.state, event, self.now_ms)
        assert decision.accepted, (event.word, decision.refusals)
        self.state = decision.state

    def group_in(self) -> None:
        """Have a group in, its checklist complete; all karts of the class with most karts."""
        layout = self.core.layout
        kinds = list(layout.kart_class.values())
        klass = max(kinds, key=kinds.count)
        karts = [kart for kart in layout.karts if layout.kart_class[kart] == klass]
        self.call("verdict", verdict="open", until=1, checked=True)
        self.call("stage", entries=tuple(Member(kart, f"driver {kart}", klass) for kart in karts))
        for item in layout.checklist:
            self.call("confirm", item=item)

    def race(self) -> None:
        """Start, and bring the group's karts out, spread over the track."""
        layout = self.core.layout
        track = [sector for sector in layout.sectors if sector != PIT]
        self.call("arm")
        self.call("start")
        for number, member in enumerate(self.state.beside.group.members):
            if not layout.grid_start:
                self.call("let-out", kart=member.kart)
                self.now_ms += layout.gap_ms
                self.take(TICK)
            self.equipment("kart-rolls", kart=member.kart)
            self.equipment("kart-at", kart=member.kart, where=layout.after_pit)
            self.equipment("kart-at", kart=member.kart, where=track[number % len(track)])

    def grow_old(self) -> None:
        """Make so many calls that the memory for ids is full."""
        for _ in range(KEPT_IDS):
            self.state = self.core.step(self.state, self.event("give-back"), self.now_ms).state


@dataclass(frozen=True, slots=True)
class Case:
    """A decision to be timed."""

    name: str
    state: State
    event: Event


class SeededDay:
    """Karts going round for ever: `choose` what happens next, then `decide` on it."""

    def __init__(self, day: Day, seed: int = 1) -> None:
        self._day = day
        self._dice = Random(seed)  # noqa: S311 - it has to be the same day each time
        self._track = [sector for sector in day.core.layout.sectors if sector != PIT]
        karts = [member.kart for member in day.state.beside.group.members]
        self._at = {kart: number % len(self._track) for number, kart in enumerate(karts)}
        self._cautioned = ""
        self._next = TICK

    def choose(self) -> None:
        """Choose a kart that goes on to its next sector, or, one time in twenty, a caution or its lift."""
        if self._dice.random() < 1 / 20:
            self._next = self._lift() if self._cautioned else self._caution()
            return
        kart = self._dice.choice(list(self._at))
        self._at[kart] = (self._at[kart] + 1) % len(self._track)
        self._next = Event("kart-at", fields={"kart": kart, "where": self._track[self._at[kart]]})

    def _caution(self) -> Event:
        self._cautioned = self._dice.choice(self._track)
        return self._day.event(Word.CAUTION, where=self._cautioned, reason="spin")

    def _lift(self) -> Event:
        hold = f"caution:{self._cautioned}:{self._day.desk}"
        self._cautioned = ""
        return self._day.event(Word.LIFT, hold=hold, checked=True)

    def decide(self) -> None:
        """Make the decision, and go on from there."""
        self._day.take(self._next)


def cases(core: Core) -> Iterator[Case]:
    """Give the decisions of a race, and a refusal with many reasons."""
    day = Day(core)
    day.group_in()
    day.grow_old()
    staged = day.state
    day.race()
    day.grow_old()
    far = core.layout.sectors[3]
    yield Case("stop", day.state, day.event(Word.STOP, "p1", reason="spin"))
    yield Case("caution", day.state, day.event(Word.CAUTION, "p1", where=far, reason="spin"))
    yield Case("kart-at", day.state, Event("kart-at", fields={"kart": 1, "where": far}))
    day.state = staged
    day.call("caution", "p1", where=far, reason="spin")
    day.equipment("head-lost", head=core.layout.heads[0])
    day.equipment("kart-lost", kart=2)
    yield Case("arm, refused", day.state, day.event("arm"))


def timed(core: Core, case: Case, *, new: bool) -> Sample:
    """Time a decision, on facts never seen or seen before."""

    def forget() -> None:
        core.outputs.look.cache_clear()
        core.outputs.look(case.state.facts)  # the decision before worked this out

    def decide() -> None:
        core.step(case.state, case.event, NOON_MS)

    decide()
    return measure(decide, times=TIMES, before=forget if new else lambda: None)


def floors(facts: tuple[int, ...]) -> Iterator[tuple[str, Sample]]:
    """Time the least: copying facts and looking them up, and one trigger of a state machine."""
    known = {facts: facts}
    yield "copy facts, look up", measure(lambda: known[(*facts,)], times=TIMES)
    machine = Machine(states=["a", "b"], initial="a", auto_transitions=False)
    machine.add_transition("go", ["a", "b"], "b")
    yield "trigger of transitions", measure(machine.go, times=TIMES)


def main() -> None:
    """Print a table for each venue."""
    parser(__doc__).parse_args()
    say_where()
    columns = ("decision, µs", "reasons", "new: median", "p99", "seen: median", "÷ floors", "< 100")
    for name in ("harbour-loop", "quarry-ring"):
        core = Core(layout_of(load(configs() / f"{name}.toml")))
        made = list(cases(core))
        least = dict(floors(made[0].state.facts))
        floor_us = sum(sample.median_us for sample in least.values())
        rows = [_row(core, case, floor_us) for case in made]
        rows.append(_day_row(core, floor_us))
        rows += [
            (f"floor: {what}", "", f"{floor.median_us:.1f}", f"{floor.p99_us:.1f}", "", "", "")
            for what, floor in least.items()
        ]
        show(f"{name}: {len(core.layout.karts)} karts, {len(core.layout.heads)} heads", columns, rows)


def _row(core: Core, case: Case, floor_us: float) -> tuple[str, ...]:
    new, seen = timed(core, case, new=True), timed(core, case, new=False)
    return (
        case.name,
        str(len(core.step(case.state, case.event, NOON_MS).refusals) or ""),
        f"{new.median_us:.1f}",
        f"{new.p99_us:.1f}",
        f"{seen.median_us:.1f}",
        f"{new.median_us / floor_us:.1f}",
        verdict(new.median_us < TARGET_US),
    )


def _day_row(core: Core, floor_us: float) -> tuple[str, ...]:
    day = Day(core)
    day.group_in()
    day.race()
    day.grow_old()
    going = SeededDay(day)
    took = measure(going.decide, times=TIMES, before=going.choose)
    return (
        "seeded day",
        "",
        f"{took.median_us:.1f}",
        f"{took.p99_us:.1f}",
        "",
        f"{took.median_us / floor_us:.1f}",
        verdict(took.median_us < TARGET_US),
    )


if __name__ == "__main__":
    main()
