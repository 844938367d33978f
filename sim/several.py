"""Several steps at once, plain or compiled: for worlds that are looked at ten times a second at most.

Karts move by the engine's own `move`. People and what lies on the road wait until karts have taken their
steps, and then take as many. Compiled, karts are records while they move, and structs where they are read.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from msgspec.structs import astuple, replace

from signals.errors import Unusable
from signals.venue.model import Venue
from signals.words import Aspect
from sim import troubles
from sim.compiled import compiled, fill, number, record_of, records, table
from sim.course import Air, Course, Now
from sim.driving import Outlook
from sim.engine import DECIDES_EVERY, TURNS, move
from sim.ground import Ground
from sim.rolling import Rolling, ranks
from sim.scene import STEP_S, Doing, Heard, Item, Kart, Mind, Person, Scene, Trouble, Walk, Who, twin
from sim.speeds import both
from sim.traffic import Traffic, room

MOST = 8
"""Things on the road, and people on foot, that there is room for."""
NOTHING = Item(what="", at_m=0.0, until_s=-1.0)
NOBODY = Person(who=Who.MARSHAL, at_m=0.0, left_m=0.0, doing=Walk.GONE)


class Room(NamedTuple):
    """Everything of a world that changes, as step functions write it."""

    karts: Sequence[Kart]
    items: Sequence[Item]
    people: Sequence[Person]
    air: Air
    traffic: Traffic
    outlooks: Sequence[Outlook]
    rolling: Rolling


@both
def moves(
    course: Course,
    here: Room,
    first: int,
    count: int,
    step_s: float,
    seed: int,
    wet: bool,  # noqa: FBT001 - a fact
) -> None:
    """Move every kart by so many steps."""
    for step in range(first, first + count):
        now = Now(step, step * step_s, step_s, seed, wet, DECIDES_EVERY, TURNS)
        move(
            course, now, here.air, here.karts, here.items, here.people, here.traffic, here.outlooks,
            here.rolling,
        )  # fmt: skip


class Several:
    """Takes several steps of one world at a time, as the functions stand."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground

    def step(self, scene: Scene, heard: Heard, count: int) -> Scene:
        """Make the scene so many steps later."""
        karts, before = self._moved(scene, heard, count), scene
        for _ in range(1 if _calm(scene, karts) else count):
            after = replace(before, steps=before.steps + 1, karts=karts)
            before = troubles.unfold(self._ground, before, after, heard)
            karts = before.karts
        return replace(before, steps=scene.steps + count)

    def _moved(self, scene: Scene, heard: Heard, count: int) -> tuple[Kart, ...]:
        """Give the karts so many steps later."""
        ground, karts = self._ground, [twin(kart) for kart in scene.karts]
        traffic = ground.room(len(scene.items) + len(scene.people))
        air = ground.air(scene, heard)
        here = Room(karts, scene.items, scene.people, air, traffic, ground.outlooks, ground.rolling)
        moves(ground.course, here, scene.steps, count, STEP_S, scene.seed, scene.wet)
        return tuple(karts)


class SeveralCompiled(Several):
    """The same, compiled: alike to the last bit. Worth its import, and compiling once, where many are played.

    Raises:
        Unusable: there is more on the road than there is room for.

    """

    def __init__(self, ground: Ground) -> None:
        from sim.blobs import Blob  # noqa: PLC0415 - numba: a second that only many drills are worth

        super().__init__(ground)
        self._room: Any = _room(ground)
        self._blob = Blob(self._room)
        self._course = _course(ground)
        self._moves = compiled(moves)
        self._read: list[Kart | None] = [None] * len(ground.venue.karts)
        self._lay: tuple[tuple[Item, ...], tuple[Person, ...]] = (), ()
        """Karts as they were read last, and what lay and walked there: what is the same needs no writing."""

    def _moved(self, scene: Scene, heard: Heard, count: int) -> tuple[Kart, ...]:
        self._write(scene, heard)
        self._moves(self._course, self._blob, scene.steps, count, STEP_S, scene.seed, scene.wet)
        rows = self._room.karts.tolist()
        karts = tuple(_kart(row, kart) for row, kart in zip(rows, scene.karts, strict=True))
        self._read[:] = karts
        return karts

    def _write(self, scene: Scene, heard: Heard) -> None:
        here = self._room
        for index, kart in enumerate(scene.karts):
            if kart is not self._read[index]:
                here.karts[index] = _row(kart)
        if (scene.items, scene.people) != self._lay:
            self._lay = scene.items, scene.people
            _fill(here.items, scene.items)
            _fill(here.people, scene.people)
        said = self._ground.air(scene, heard)
        for name in Air._fields:
            values = getattr(said, name)
            getattr(here.air, name)[:] = [_NUMBERS[each] for each in values] if name == "aspects" else values


_NUMBERS = {aspect: number(aspect) for aspect in Aspect}
_DOINGS, _TROUBLES, _ASPECTS = tuple(Doing), tuple(Trouble), tuple(Aspect)
_DOING, _TROUBLE = (Kart.__struct_fields__.index(name) for name in ("doing", "trouble"))
_DRIVER, _MIND = (Kart.__struct_fields__.index(name) for name in ("driver", "mind"))
_HEEDS, _NEWS = (Mind.__struct_fields__.index(name) for name in ("heeds", "news"))


def _calm(scene: Scene, karts: Sequence[Kart]) -> bool:
    """Whether nothing goes on but driving: then one look is enough for all the steps."""
    busy = scene.people or scene.items or scene.wet or scene.rates
    return not busy and all(kart.trouble is Trouble.NONE for kart in karts)


def _row(kart: Kart) -> tuple[Any, ...]:
    """Give a kart as its record holds it."""
    row = list(astuple(kart))
    mind = list(astuple(kart.mind))
    mind[_HEEDS], mind[_NEWS] = _NUMBERS[mind[_HEEDS]], _NUMBERS[mind[_NEWS]]
    row[_DRIVER], row[_MIND] = astuple(kart.driver), tuple(mind)
    row[_DOING], row[_TROUBLE] = number(kart.doing), number(kart.trouble)
    return tuple(row)


def _kart(row: Sequence[Any], was: Kart) -> Kart:
    """Give a record as a kart; its driver stays who he was."""
    values = dict(zip(Kart.__struct_fields__, row, strict=True))
    mind = dict(zip(Mind.__struct_fields__, row[_MIND], strict=True))
    mind["heeds"], mind["news"] = _ASPECTS[mind["heeds"]], _ASPECTS[mind["news"]]
    values["doing"], values["trouble"] = _DOINGS[values["doing"]], _TROUBLES[values["trouble"]]
    values["driver"], values["mind"] = was.driver, Mind(**mind)
    return Kart(**values)


def _fill(room_: Any, there: Sequence[Item | Person]) -> None:
    """Write things or people into their room; what is left of it holds none."""
    if len(there) > MOST:
        raise Unusable(f"{len(there)} on the road at once; there is room for {MOST}")
    nothing = NOTHING if room_.dtype == record_of(Item) else NOBODY
    for index in range(MOST):
        fill(room_[index], there[index] if index < len(there) else nothing)


def _room(ground: Ground) -> Room:
    """Make the room that a world's karts are written into: arrays, where the plain form has lists."""
    count, heads = len(ground.venue.karts), len(ground.venue.heads)
    said = [np.zeros(count), np.zeros(count), np.zeros(count), np.zeros(count), np.zeros(count, np.int64)]
    said += [np.zeros(count), np.zeros(heads, np.int64), np.zeros(heads, np.int64)]
    karts: Any = np.zeros(count, record_of(Kart))
    return Room(
        karts,
        records(Item, [NOTHING] * MOST),
        records(Person, [NOBODY] * MOST),
        Air._make(said),
        table(room(count, 2 * MOST)),
        records(Outlook, [Outlook()]),
        table(ranks(count)),
    )


COURSES_KEPT = 4
_COURSES: deque[tuple[Venue, Any]] = deque(maxlen=COURSES_KEPT)


def _course(ground: Ground) -> Any:
    """Give a ground's course as compiled functions read it; the last few are kept, for none ever changes."""
    from sim.blobs import Blob  # noqa: PLC0415 - see above

    known = next(
        (course for venue, course in _COURSES if venue is ground.venue or venue == ground.venue), None
    )
    if known is None:
        known = Blob(table(ground.course), fixed=True)
        _COURSES.append((ground.venue, known))
    return known
