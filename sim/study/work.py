"""The work of a study in pieces that can be done anywhere: some sessions of one cell."""

from __future__ import annotations

import hashlib
from functools import cache, lru_cache
from pathlib import Path
from typing import NamedTuple

from msgspec.structs import replace

import signals.core
from signals.errors import Unusable
from signals.venue.model import Venue
from sim.study.form import Choices
from sim.study.prepared import People, Prepared, pace_of, plan_of, wires_of
from sim.study.run import Player
from sim.study.variants import with_caution, with_heads, with_karts, with_ramp

PIECE = 20
"""Sessions a piece holds."""


class Piece(NamedTuple):
    """Some sessions of one cell."""

    cell: int
    first: int
    """The first one's seed."""
    sessions: int


class Cell(NamedTuple):
    """What a cell's sessions are made of; travels to other machines."""

    venue: Venue
    choices: Choices
    hertz: int
    model: str = ""
    """The `model_digest` it is to be played by; empty for whichever is here."""


@cache
def model_digest() -> str:
    """Give what tells this model from any other: the sources of world, sessions and rules.

    What one model played is no part of another's study, and two machines play one study by one model.
    """
    here, rules = Path(__file__).parent, Path(signals.core.__path__[0])
    sources = [*sorted(here.parent.glob("*.py")), *sorted(here.glob("*.py")), *sorted(rules.rglob("*.py"))]
    return hashlib.sha256(b"".join(source.read_bytes() for source in sources)).hexdigest()[:16]


def prepare(cell: Cell) -> Prepared:
    """Make a cell's sessions ready.

    Raises:
        Unusable: a choice that this venue cannot have.

    """
    choices, venue = cell.choices, cell.venue
    venue = with_heads(venue, choices.heads)
    if choices.fall_mps2 is not None:
        venue = with_ramp(venue, choices.fall_mps2)
    if choices.caution_kmh is not None:
        venue = with_caution(venue, choices.caution_kmh)
    venue = with_karts(venue, choices.karts, choices.class_)
    plan = plan_of(
        venue,
        begins_s=choices.begins_s,
        lasts_s=choices.lasts_s,
        delay_s=choices.delay_s,
        stops=choices.stops,
        checks_s=choices.checks_s,
        finish_s=choices.drives_s,
    )
    wires = wires_of(
        venue,
        losses_per_hour=choices.losses_per_hour,
        loss_s=choices.loss_s,
        head_s=choices.head_s,
        radio_s=choices.radio_s,
        wet=choices.wet,
    )
    people = People(choices.karts, choices.class_, choices.compliance)
    pace = pace_of(cell.hertz, choices.longest_s)
    return Prepared(venue, people, wet=choices.wet, plan=plan, wires=wires, pace=pace)


@lru_cache(maxsize=8)
def _player(key: bytes, threads: int) -> Player:
    import pickle  # noqa: PLC0415 - our own cell, from the one who gave the work

    cell: Cell = pickle.loads(key)  # noqa: S301 - see above
    if cell.model not in ("", model_digest()):
        raise Unusable(
            f"this worker plays by model {model_digest()}, the study by {cell.model}: "
            "install the same kerblight on both"
        )
    return Player(prepare(cell), threads)


def play_piece(key: bytes, piece: Piece, threads: int = 1) -> list[tuple[float, ...]]:
    """Play a piece of a pickled cell; gives the measures of its sessions, in the order of their seeds."""
    seeds = range(piece.first, piece.first + piece.sessions)
    return [outcome.measures for outcome in _player(key, threads).play_all(seeds)]


def pieces(cells: int, seed: int, sessions: int) -> list[Piece]:
    """Cut a study into pieces, cell by cell; every cell is played with the same seeds."""
    return [
        Piece(cell, seed + first, min(PIECE, sessions - first))
        for cell in range(cells)
        for first in range(0, sessions, PIECE)
    ]


def with_mixed_classes(venue: Venue) -> Venue:
    """Give a venue that lets classes drive together."""
    return replace(venue, choices=replace(venue.choices, mixed_classes=True))
