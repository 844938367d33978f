"""A small venue in virtual time with devices in memory, and somebody with eyes who walks it.

The eye sees what the devices' lamps really do, planted faults included; it knows nothing of what was
told. What it answers is therefore what a person in front of the head would say.
"""

from __future__ import annotations

import asyncio
import csv
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, closing
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Protocol

import msgspec

from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.opening.book import Book
from signals.opening.causes import marks_of
from signals.opening.entries import Entries
from signals.opening.floor import Floor, floor_of
from signals.opening.sheet import Found, Question, Said, Standstill
from signals.opening.walk import Walk
from signals.outputs.base import Output
from signals.outputs.line import Line
from signals.outputs.service import Outputs
from signals.outputs.virtual import Virtual, virtual_output
from signals.part import Part
from signals.sequence.observer import Observer
from signals.sequence.stage import Stage
from signals.venue import load
from signals.venue.model import Venue
from signals.venue.wires import COLUMNS
from signals.words import Aspect

HERE = Path(__file__).parent
MORNING_MS = 1_780_214_400_000
"""2026-05-31 08:00 UTC."""


@cache
def small() -> Venue:
    """The venue of `small.toml`; its table here names only the columns that matter."""
    with tempfile.TemporaryDirectory() as folder:
        return load(written(Path(folder)))


def written(folder: Path, change: Callable[[dict[str, str]], dict[str, str]] = dict) -> Path:
    """Write the small venue into a folder, its wires changed, with every column there is."""
    with (HERE / "small.csv").open(encoding="utf-8", newline="") as table:
        rows = [change(row) for row in csv.DictReader(table)]
    with (folder / "small.csv").open("w", encoding="utf-8", newline="") as table:
        writer = csv.DictWriter(table, COLUMNS, restval="")
        writer.writeheader()
        writer.writerows(rows)
    venue = folder / "small.toml"
    venue.write_text((HERE / "small.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return venue


@cache
def core_of(venue: str) -> Core:
    """Compile the rules of a venue once: a core is pure, so every controller may share it."""
    known = {small().digest: small()}[venue]
    return Core(layout_of(known, MORNING_MS))


@cache
def marks() -> dict[str, str]:
    return marks_of(small())


class Idle:
    """A world in which nothing moves: karts stand in the pit."""

    def __init__(self, *_: object, **__: object) -> None:
        return

    async def run(self, ready: Callable[[], None]) -> None:
        ready()
        await asyncio.Event().wait()


class Town(Stage):
    """A stage whose devices are known; `alive` with the simulated world, else nothing moves."""

    def __init__(self, venue: Venue, *, alive: bool = False) -> None:
        shared = (lambda _: core_of(small().digest)) if venue == small() else None
        super().__init__(venue, world=None if alive else Idle, make_core=shared)
        self.devices: dict[str, Virtual] = {}

    def _make(self, name: str) -> Part:
        if name != "outputs":
            return super()._make(name)

        def make(line: Line, lease_ms: int) -> Output:
            made = virtual_output(line, lease_ms)
            self.devices |= {point.ref: made for point in (*line.outs, *line.ins)}
            return made

        return Outputs(self.venue, self._remembering(name), make=make)

    def lights(self, head: str) -> dict[str, int]:
        """Which lamps of a head really burn, or what number they make."""
        found = {}
        for wire in self.venue.wires:
            if wire.place == head and wire.direction == "out":
                device = self.devices[wire.ref]
                drivers = {device.crossed.get(ref, ref): ref for ref in device.lit}
                driver = drivers.get(wire.ref)
                on = driver is not None and wire.ref not in device.dead
                found[wire.aspect] = device.lit[driver] if on and driver else 0
        return found

    async def pull(self, head: str) -> None:
        """Pull a device's plug: its own watchdog, which `Virtual` does not model, puts its fail states."""
        device = self._device(head)
        device.unreachable = "its plug is pulled"
        await asyncio.sleep(1)
        device.lit = dict(device.line.fail_image)

    async def plug(self, head: str) -> None:
        self._device(head).unreachable = ""
        await asyncio.sleep(3)

    async def press(self, box: str) -> None:
        own = {wire.aspect: wire.ref for wire in self.venue.wires if wire.place == box}
        make, brk = own["make"], own["break"]
        self.devices[make].contacts |= {make: 1, brk: 0}
        await asyncio.sleep(1)
        self.devices[make].contacts |= {make: 0, brk: 1}
        await asyncio.sleep(0.5)

    def _device(self, head: str) -> Virtual:
        return next(self.devices[wire.ref] for wire in self.venue.wires if wire.place == head)


class Hands(Protocol):
    """What somebody at the track sees, and can do to it."""

    venue: Venue

    def lights(self, head: str) -> dict[str, int]: ...
    async def pull(self, head: str) -> None: ...
    async def plug(self, head: str) -> None: ...
    async def press(self, box: str) -> None: ...


@dataclass
class Walker:
    """Walks and says what is there.

    `painted` gives the number painted on the kart that answers to a radio; `bad` are the texts of items
    that are not in order; `over_kmh` is by how much karts drive faster than their limiters say.
    """

    town: Hands
    ears: Observer
    painted: dict[int, int] = field(default_factory=dict)
    bad: set[str] = field(default_factory=set)
    over_kmh: float = 0.0
    asked: list[Question] = field(default_factory=list)

    async def say(self, question: Question) -> Said:
        self.asked.append(question)
        match question.asks:
            case "lamps" | "shows":
                return await self._look(question)
            case "cut-off":
                await self.town.pull(question.place)
                return await self._look(question)
            case "answers":
                return Said(kart=self._kart())
            case "speed":
                return Said(kmh=self._taken()[int(question.place[5:])] + self.over_kmh)
            case "good":
                return Said(good=question.text not in self.bad)
            case "press":
                return await self._press(question)

    async def _look(self, question: Question) -> Said:
        """Look for a second, and once more where it looks like nothing there is."""
        for _ in range(2):
            lit, flashing, number = await self._watch(question.place)
            if question.asks == "lamps":
                return Said(lamps=(*lit, *(("number",) if number else ())), number=number)
            if lit in LOOKS:
                return Said(aspect=_named(lit, flashing=flashing, number=number), number=number)
        raise AssertionError(f"{question.place} looks like nothing there is: {sorted(lit)}, number {number}")

    async def _watch(self, head: str) -> tuple[frozenset[str], bool, int | None]:
        """Give the lamps that were lit at any moment, whether one was dark at another, the number read."""
        seen: dict[str, set[int]] = {}
        for _ in range(4):
            await asyncio.sleep(0.25)
            for lamp, level in self.town.lights(head).items():
                seen.setdefault(lamp, set()).add(level)
        number = max(seen.pop("number", {0})) or None
        lit = frozenset(lamp for lamp, levels in seen.items() if levels != {0})
        return lit, any(0 in seen[lamp] for lamp in lit), number

    def _kart(self) -> int | None:
        creeping = [number for number, kmh in self._taken().items() if kmh > 0]
        return self.painted.get(creeping[0], creeping[0]) if len(creeping) == 1 else None

    def _taken(self) -> dict[int, float]:
        """How fast each kart can go: what its limiter obeys."""
        numbers = (kart.number for kart in self.town.venue.karts)
        said = {number: self.ears.taken(number) for number in numbers}
        return {number: taken.limit_kmh for number, taken in said.items() if taken}

    async def _press(self, question: Question) -> Said:
        if question.place in {head.id for head in self.town.venue.heads}:
            await self.town.plug(question.place)
        else:
            await self.town.press(question.place)
        return Said()


LOOKS = {
    frozenset(): Aspect.DARK,
    frozenset({"red"}): Aspect.RED,
    frozenset({"yellow"}): Aspect.YELLOW,
    frozenset({"red", "yellow"}): Aspect.RED_YELLOW,
    frozenset({"green"}): Aspect.GREEN,
    frozenset({"blue"}): Aspect.BLUE_FLASH,
}


def _named(lamps: frozenset[str], *, flashing: bool, number: int | None) -> Aspect:
    if not lamps and number:
        return Aspect.NUMBER
    if lamps == {"yellow"} and flashing:
        return Aspect.YELLOW_FLASH
    return LOOKS[lamps]


async def walked(walk: Walk, walker: Walker, *, most: int = 1000) -> list[Found]:
    """Walk until nothing is left to ask, or `most` answers; gives what was found on the answers."""
    found = []
    while len(found) < most and isinstance(step := await walk.ask(), Question | Standstill):
        assert isinstance(step, Question), step
        came: Question | Found | Standstill = step
        while isinstance(came, Question):
            came = await walk.say(await walker.say(came))
        assert isinstance(came, Found), came
        found.append(came)
    return found


@dataclass
class Morning:
    """A venue that runs, its post and its book."""

    town: Town
    floor: Floor
    book: Book
    walker: Walker
    entries: Entries
    found: list[Found] = field(default_factory=list)

    def walk(
        self, venue: Venue | None = None, *, now_ms: Callable[[], int] | None = None, **options: object
    ) -> Walk:
        clock = now_ms or self.town.clock.now_ms
        return Walk(
            venue or self.town.venue,
            self.floor,
            self.book,
            by="Ada Westerby",
            entries=self.entries,
            tell=self.found.append,
            now_ms=clock,
            **options,  # type: ignore[arg-type]
        )


@asynccontextmanager
async def morning(
    folder: Path, venue: Venue | None = None, *, post: str = "desk", alive: bool = False
) -> AsyncIterator[Morning]:
    """Start the venue, wait until everybody was heard, and come with a phone."""
    town = Town(venue or small(), alive=alive)
    async with town:
        await asyncio.sleep(1)
        async with floor_of(town.venue, town.link, post=post) as floor:
            book = Book(folder)
            entries = Entries(town.journal.path if town.journal else None)
            with book.held(), closing(entries):
                yield Morning(town, floor, book, Walker(town, floor.ears), entries)


def without_karts(venue: Venue) -> Venue:
    """The venue with no item to look at: for tests that are about lamps."""
    return msgspec.structs.replace(venue, check_items=())
