"""Study files: what is played, what is varied, what is shown; read with every mistake at once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Annotated, Any

import msgspec
from msgspec import Meta, Struct, field

from signals.errors import BadInput
from signals.sequence.load import Draft
from signals.venue.draft import text_of
from signals.venue.read import BROKEN
from sim.study.tally import Tally

Seconds = Annotated[float, Meta(ge=0, le=7200)]
Count = Annotated[int, Meta(ge=1, le=60)]
Choice = float | int | bool | str
MEASURES = tuple(Tally.__struct_fields__)
MOST_CELLS = 500


class Choices(Struct, frozen=True, kw_only=True):
    """What can be chosen for a session, and varied."""

    karts: Annotated[Count, Meta(description="how many drive")] = 8
    class_: Annotated[str, Meta(description="the class they are hired in")] = field(
        name="class", default="adult"
    )
    wet: Annotated[bool, Meta(description="the surface is wet, and declared so")] = False
    fall_mps2: Annotated[
        Annotated[float, Meta(gt=0, le=20)] | None,
        Meta(description="how steeply limiters fall; by default as the venue has it"),
    ] = None
    caution_kmh: Annotated[
        Annotated[float, Meta(gt=0, le=60)] | None, Meta(description="the limit under yellow; likewise")
    ] = None
    heads: Annotated[str, Meta(description="as-it-stands, even-N or best-N: where N heads stand")] = (
        "as-it-stands"
    )
    delay_s: Annotated[Seconds, Meta(description="from the spin until its post calls, the median")] = 2.0
    stops: Annotated[bool, Meta(description="red is called; else yellow where it is")] = False
    losses_per_hour: Annotated[
        Annotated[float, Meta(ge=0, le=3600)], Meta(description="how often a kart's radio goes")
    ] = 0.0
    loss_s: Annotated[Seconds, Meta(description="for how long, in the mean")] = 3.0
    compliance: Annotated[
        Annotated[float, Meta(ge=0.5, le=1)], Meta(description="the mean chance that a driver heeds a signal")
    ] = 0.985
    begins_s: Annotated[Seconds, Meta(description="when a kart spins and stays there")] = 60.0
    drives_s: Annotated[Seconds, Meta(description="when chequered is shown")] = 150.0
    longest_s: Annotated[Seconds, Meta(description="when a session is broken off")] = 300.0
    lasts_s: Annotated[Seconds, Meta(description="after which a kart drives on that nobody helps")] = 7200.0
    checks_s: Annotated[Seconds, Meta(description="how long posts look before they lift")] = 5.0
    head_s: Annotated[Seconds, Meta(description="from a decision until a head shows it")] = 0.1
    radio_s: Annotated[Seconds, Meta(description="from a decision until a limiter has taken it")] = 0.1


FACTORS = (
    "karts", "wet", "fall_mps2", "caution_kmh", "heads", "delay_s", "stops", "losses_per_hour", "loss_s",
    "compliance",
)  # fmt: skip
"""What can be varied."""


class Vary(Struct, frozen=True, kw_only=True):
    """What is varied, each with its values."""

    karts: tuple[Count, ...] = ()
    wet: tuple[bool, ...] = ()
    fall_mps2: tuple[Annotated[float, Meta(gt=0, le=20)], ...] = ()
    caution_kmh: tuple[Annotated[float, Meta(gt=0, le=60)], ...] = ()
    heads: tuple[str, ...] = ()
    delay_s: tuple[Seconds, ...] = ()
    stops: tuple[bool, ...] = ()
    losses_per_hour: tuple[Annotated[float, Meta(ge=0, le=3600)], ...] = ()
    loss_s: tuple[Seconds, ...] = ()
    compliance: tuple[Annotated[float, Meta(ge=0.5, le=1)], ...] = ()


class Show(Struct, frozen=True, kw_only=True):
    """What the report draws."""

    against: str = ""
    measures: tuple[str, ...] = ("contacts",)


class File(Struct, frozen=True, kw_only=True):
    """A study file."""

    title: str
    venue: str
    sessions: Annotated[int, Meta(ge=2, le=1_000_000)] = 200
    seed: Annotated[int, Meta(ge=0, le=2**31)] = 1
    hertz: Annotated[int, Meta(ge=10, le=240)] = 20
    session: Choices = Choices()
    vary: Vary = Vary()
    show: Show = Show()


class Study(Struct, frozen=True):
    """A checked study."""

    path: Path
    file: File
    text: str

    @property
    def venue(self) -> Path:
        """Where its venue's file is."""
        return self.path.parent / self.file.venue

    @property
    def varied(self) -> dict[str, tuple[Choice, ...]]:
        """What is varied, in the order of the form."""
        named = {name: getattr(self.file.vary, name) for name in FACTORS}
        return {name: values for name, values in named.items() if values}

    def cells(self) -> Iterator[dict[str, Choice]]:
        """Give every combination of what is varied."""
        for values in product(*self.varied.values()):
            yield dict(zip(self.varied, values, strict=True))

    def choices(self, cell: dict[str, Choice]) -> Choices:
        """Give what is chosen in a cell."""
        return msgspec.structs.replace(self.file.session, **cell)

    def digest(self, venue_digest: str, model_digest: str) -> str:
        """Give what tells this study from others: its file's text, its venue, the model that plays it."""
        return hashlib.sha256(f"{self.text}\n{venue_digest}\n{model_digest}".encode()).hexdigest()[:16]


def load_study(path: Path) -> Study:
    """Load a study file; raises BadInput with every mistake in it at once."""
    text = text_of(path)
    draft = Draft(path, text)
    file: File = draft.read(File)
    if file is not BROKEN:
        _check(draft, file)
    if draft.findings:
        raise BadInput(draft.findings)
    return Study(path, file, text)


def _check(draft: Draft, file: File) -> None:
    if file.venue is not BROKEN and not (draft.path.parent / file.venue).is_file():
        draft.say(("venue",), file.venue, "must be a venue file, relative to this one")
    if file.vary is BROKEN or file.show is BROKEN:
        return
    varied = {name: getattr(file.vary, name) for name in FACTORS}
    if BROKEN in varied.values():
        return
    count = 1
    for values in varied.values():
        count *= max(1, len(values))
    if count > MOST_CELLS:
        draft.say(("vary",), f"{count} cells", f"must be at most {MOST_CELLS}")
    _check_show(draft, file.show, {name: values for name, values in varied.items() if values})


def _check_show(draft: Draft, show: Show, varied: dict[str, Any]) -> None:
    if show.against is not BROKEN and show.against and show.against not in varied:
        draft.say(
            ("show", "against"), show.against, f"must be varied: one of {', '.join(varied) or 'nothing is'}"
        )
    if show.measures is BROKEN:
        return
    for number, measure in enumerate(show.measures):
        if measure is not BROKEN and measure not in MEASURES:
            draft.say(("show", "measures", number), measure, f"must be one of {', '.join(MEASURES)}")
