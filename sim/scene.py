"""What a plain world is made of at one instant: karts, things on the track, what reaches them."""

from __future__ import annotations

import hashlib
import math
import struct
from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct

from signals.words import Aspect

STEP_S = 1 / 60


class Doing(StrEnum):
    """What a kart is about."""

    WAITING = "waiting"
    """In its pit box or grid slot until its limit lets it go."""
    LEAVING = "leaving"
    LAPPING = "lapping"
    COMING_IN = "coming-in"
    PARKED = "parked"
    """Home, until the limit has come back to 0."""


class Trouble(StrEnum):
    """What has befallen a kart on the track."""

    NONE = ""
    SPIN = "spin"
    STALL = "stall"
    SMOKE = "smoke"
    HAND_RAISED = "hand-raised"
    WRONG_WAY = "wrong-way"
    PUSHED = "pushed"
    INTRUDES = "kart-enters"
    """It rolls out of the pit whatever its limit."""


STANDS = frozenset({Trouble.SPIN, Trouble.STALL, Trouble.SMOKE, Trouble.HAND_RAISED})
ASIDE = STANDS | {Trouble.WRONG_WAY, Trouble.PUSHED}
"""Trouble that ends at the edge of the track, out of the way of the others."""


class Kart(Struct, frozen=True, kw_only=True):
    """One kart. `at_m` runs along the lap, or along the pit lane where `on_pit_lane`."""

    number: int
    pace_mps: float
    box_m: float
    at_m: float
    on_pit_lane: bool
    doing: Doing = Doing.WAITING
    on_grid: bool = False
    """Between its grid slot and the start line: still the pit's."""
    home: bool = False
    """Wants to come in: it passed a chequered head, or its own number."""
    v_mps: float = 0.0
    left_m: float = 0.0
    trouble: Trouble = Trouble.NONE
    until_s: float = math.inf
    turned_deg: float = 0.0
    button_until_s: float = -1.0
    gives_way_until_s: float = -1.0
    """Until then it keeps to the edge: others may pass."""
    parked_s: float = 0.0


class Item(Struct, frozen=True, kw_only=True):
    """Something that lies on the track (debris) or hangs over it (smoke)."""

    what: str
    at_m: float
    left_m: float = 0.0
    until_s: float = math.inf
    reach_m: float = 0.5
    """How far it reaches around its middle."""


class Person(Struct, frozen=True, kw_only=True):
    """Somebody on foot: metres of the lap; beyond the white lines he is out of the way."""

    who: str
    """marshal or driver"""
    at_m: float
    left_m: float
    doing: str = ""
    kart: int | None = None
    until_s: float = math.inf


class Scene(Struct, frozen=True, kw_only=True):
    """All there is at one instant."""

    steps: int
    karts: tuple[Kart, ...]
    seed: int = 0
    wet: bool = False
    """The surface as it is, whatever anybody declared."""
    items: tuple[Item, ...] = ()
    people: tuple[Person, ...] = ()

    @property
    def time_s(self) -> float:
        """Seconds since the world began."""
        return self.steps * STEP_S

    def digest(self) -> str:
        """SHA-256 of every kart's state: equal digests, equal worlds."""
        text = hashlib.sha256()
        for kart in self.karts:
            numbers = (kart.number, kart.at_m, kart.v_mps, kart.left_m, kart.turned_deg, kart.pace_mps)
            text.update(struct.pack("<6d", *numbers))
            text.update(f"{kart.doing}{kart.trouble}{kart.on_pit_lane}{kart.home}{kart.on_grid}".encode())
        for item in self.items:
            text.update(struct.pack("<d", item.at_m) + item.what.encode())
        return text.hexdigest()


class Heard(Struct, frozen=True, kw_only=True):
    """What reaches drivers and limiters: km/h taken, aspects shown, numbers shown, each with its time."""

    taken: Mapping[int, tuple[float, float]]
    """kart -> (km/h, heard at, s)"""
    shown: Mapping[str, tuple[Aspect, int | None, float]]
    """head -> (aspect, number, heard at, s)"""


def gives_way(kart: Kart, now_s: float) -> bool:
    """Whether a kart keeps to the edge for others to pass."""
    return kart.gives_way_until_s > now_s
