"""One day's walk on paper: what was asked, said and found, and who signed. Structs only.

A `Sheet` is what is kept on the disk between two questions; signed, it becomes the record.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, Struct, field

from signals.opening.rows import Row
from signals.words import Aspect, Verdict

Asks = Literal["lamps", "shows", "answers", "speed", "good", "press", "cut-off"]
Outcome = Literal["passed", "failed", "not seen", "not applicable"]
Method = Literal["sensor", "eye", "sensor and eye", "report"]
MeasureKind = Literal["aside", "out-of-service", "wet"]
Name = Annotated[str, Meta(max_length=60)]
Note = Annotated[str, Meta(max_length=200)]


class Said(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a person says of a question; which field is read depends on what was asked.

    lamps: `lamps`: every lamp that burns, none for darkness · shows, cut-off: `aspect`, and `number`
    where one is read · answers: `kart`, None for none · speed: `kmh`, None where nothing measures it ·
    good: `good` · press: nothing but that it was pressed and let go. `elsewhere` names other heads that
    lit up; `unseen` says that nobody can see it now.
    """

    lamps: tuple[str, ...] | None = None
    aspect: Aspect | None = None
    number: Annotated[int, Meta(ge=0, le=999)] | None = None
    elsewhere: tuple[str, ...] = ()
    kart: int | None = None
    kmh: Annotated[float, Meta(ge=0, le=200)] | None = None
    good: bool | None = None
    unseen: bool = False
    note: Note = ""


class Question(Struct, frozen=True, kw_only=True):
    """What a person is asked. It never tells what should be seen.

    `number` of `of` is how far the walk is; `where` says where to stand; `choices` are the answers there
    are: lamps or aspects of the head, numbers of karts; `reads_number` whether a number may be read.
    """

    number: int
    of: int
    asks: Asks
    place: str
    where: str
    text: str
    choices: tuple[str, ...] = ()
    reads_number: bool = False
    effect: Literal["blocks", "restricts", "notes"] = "blocks"


class Standstill(Struct, frozen=True):
    """Why the walk cannot go on now: the refusal's sentences."""

    sentences: tuple[str, ...]


class Found(Struct, frozen=True, kw_only=True):
    """What came of one look at a row. `ms` is from the call to what equipment reported.

    `flash_hz` is how often a second it flashed, where sensors measured that.
    """

    row: str
    at: int
    by: Name
    outcome: Outcome
    expected: str
    observed: str
    method: Method
    ms: int | None = None
    flash_hz: float | None = None
    note: str = ""


class Tries(Struct, frozen=True, kw_only=True):
    """A row as it was found first and as it was left last."""

    found: Found
    left: Found
    count: int = 1


class CellFound(Struct, frozen=True, kw_only=True):
    """One cell of the cause-and-effect matrix: what was due within how long, what came, after how long."""

    head: str
    expected: str
    within_ms: int
    came: str
    ms: int | None
    met: bool


class CauseFound(Struct, frozen=True, kw_only=True):
    """A cause that was brought about, and what every head made of it."""

    id: str
    kind: str
    cause: str
    at: int
    outcome: Outcome
    came: str
    """What kept it from being brought about, or ""."""
    mark: str
    cells: tuple[CellFound, ...]


class Measure(Struct, frozen=True, kw_only=True):
    """What is put in force where a row failed: a kart aside, a head out of service, wet limits."""

    kind: MeasureKind
    place: str
    reason: str
    at: int
    by: Name
    flag: Name = ""
    """Who stands there with a flag instead of the head."""


class Device(Struct, frozen=True, kw_only=True):
    """What hangs at a place: device, serial number, firmware, as the wiring table and the node say."""

    device: str
    serial: str
    firmware: str
    where: str


class Signature(Struct, frozen=True, kw_only=True):
    """The verdict, and who answers for it."""

    verdict: Verdict
    restriction: str
    by: Name
    witness: Name
    at: int
    until: int
    note: str = ""


class Sheet(Struct, frozen=True, kw_only=True):
    """A walk: everything needed to go on after an interruption, to print it, and to compare it."""

    run: str
    version: str
    venue: str
    name: str
    digest: str
    simulated: bool
    timezone: str
    day: str
    """The operating day, by its date at opening."""
    post: str
    post_name: str = ""
    """As the venue names it; "" in sheets of before it was kept."""
    by: Name
    began_at: int
    clock: tuple[str, int]
    """The machine's boot, and UTC less its uptime (ms) when last written: a jump shows in it."""
    cut: str | None
    rows: tuple[Row, ...]
    devices: dict[str, Device]
    line_m: tuple[tuple[float, float], ...] = ()
    """The track's line, and where heads stand: for the printed map."""
    spots_m: dict[str, tuple[float, float]] = field(default_factory=dict)
    tries: dict[str, Tries] = field(default_factory=dict)
    causes: dict[str, CauseFound] = field(default_factory=dict)
    measures: tuple[Measure, ...] = ()
    later: tuple[str, ...] = ()
    """Rows put off to the end, in that order."""
    retest: tuple[str, ...] = ()
    """Rows to be asked again after a repair."""
    reopened: tuple[str, ...] = ()
    """Rows asked again because the venue file changed."""
    signed: Signature | None = None

    def row(self, id_: str) -> Row:
        """Give a row by its id; raises KeyError."""
        for row in self.rows:
            if row.id == id_:
                return row
        raise KeyError(id_)
