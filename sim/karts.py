"""Plain karts: constant pace on the centreline, slowed by nothing but limiter, traffic and trouble.

Pure: `step` makes the next scene of a scene and of what was heard; the same arguments give the
same scene. A kart knows the limit its limiter took and the heads it passed, never the controller's
state. A plain kart does not overtake; it passes what stands at the track's edge with care.
"""

from __future__ import annotations

import hashlib
import math
import struct
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from signals.words import PIT, Aspect, HeadRole
from sim.track import Pose, Track

if TYPE_CHECKING:
    from collections.abc import Mapping

    from signals.venue.model import Venue

STEP_S = 1 / 60
LENGTH_M = 2.0
GAP_M = 2.5
"""Free metres a driver keeps to the kart ahead."""
BRAKE_MPS2 = 5.0
"""A driver's foot; the limiter's own ramps are the venue's."""
SIDE_MPS = 1.4
CARE_MPS = 12 / 3.6
"""How fast a driver passes something that stands on the track."""
CARE_M = 5.0
BOX_ASIDE_M = 3.0
PUSH_MPS = 1.2
WRONG_WAY_MPS = 2.0
ROLL_MPS = 4.0
"""How fast a kart that ignores its limit rolls out of the pit."""
PULL_IN_M = 12.0
"""Free metres behind the pit exit that a driver waits for before pulling onto the track."""
GRID_FIRST_M, GRID_PITCH_M = 4.0, 2.0
HEARD_FOR_S = 2.0
"""A head not heard for longer is dark to drivers."""
TAKEN_FOR_S = 1.5
CREEP_AFTER_S = 3.0
"""A kart whose radio is lost obeys the lower of its limit and caution, after this long creep."""


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
    parked_s: float = 0.0


class Item(Struct, frozen=True, kw_only=True):
    """Something that lies on the track (debris) or hangs over it (smoke)."""

    what: str
    at_m: float
    until_s: float = math.inf


class Scene(Struct, frozen=True, kw_only=True):
    """All there is at one instant."""

    steps: int
    karts: tuple[Kart, ...]
    items: tuple[Item, ...] = ()

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


class Ground:
    """What never changes: the track, the venue's ramps and heads, everyone's place in the pit."""

    def __init__(self, venue: Venue) -> None:
        self.venue = venue
        self.track = Track(venue)
        self.edge_m = max(0.8, self.track.width_m / 2 - 0.9)
        self.heads = tuple((head.id, head.at_m) for head in venue.heads if head.role is not HeadRole.PIT_EXIT)
        self.pit_exit_heads = tuple(head.id for head in venue.heads if head.role is HeadRole.PIT_EXIT)
        self.grid = venue.choices.start == "grid"
        self.box_left_m = BOX_ASIDE_M * self._free_side()

    def _free_side(self) -> int:
        """Give the side of the pit lane that lies away from the track: 1 left, -1 right."""
        lane, lap = self.track.pit, self.track.lap
        middle = lane.at(lane.length_m / 2)

        def free_m(side: int) -> float:
            spot = middle.aside(side * BOX_ASIDE_M)
            near = (lap.at(at_m) for at_m in range(int(lap.length_m)))
            return min(math.hypot(each.x_m - spot.x_m, each.y_m - spot.y_m) for each in near)

        return max((1, -1), key=free_m)

    def box_m(self, index: int) -> float:
        """Metres along the pit lane of a kart's box: spread along the lane."""
        return self.track.pit.length_m * (0.04 + 0.76 * (index + 1) / (len(self.venue.karts) + 1))

    def slot(self, index: int) -> tuple[float, float]:
        """Give a grid slot: metres along the lap, metres left of the centreline."""
        at_m = self.venue.start_line_m - GRID_FIRST_M - GRID_PITCH_M * index
        return at_m % self.track.length_m, self.edge_m if index % 2 else -self.edge_m

    def begin(self, seed: int) -> Scene:
        """Place every kart in its box or slot; paces are drawn from `seed`."""
        dice = np.random.default_rng(seed)
        fastest = self.venue.limits.classes
        paces = dice.uniform(0.88, 0.99, len(self.venue.karts))
        return Scene(
            steps=0,
            karts=tuple(
                self.stowed(
                    Kart(
                        number=kart.number,
                        pace_mps=float(pace) * fastest[kart.class_] / 3.6,
                        box_m=self.box_m(index),
                        at_m=0.0,
                        on_pit_lane=True,
                    ),
                    index,
                )
                for index, (kart, pace) in enumerate(zip(self.venue.karts, paces, strict=True))
            ),
        )

    def stowed(self, kart: Kart, index: int) -> Kart:
        """Give a kart as it waits for its next run: in its grid slot, or in its box."""
        at_m, left_m = self.slot(index) if self.grid else (kart.box_m, self.box_left_m)
        return replace(
            kart,
            at_m=at_m,
            left_m=left_m,
            on_pit_lane=not self.grid,
            on_grid=self.grid,
            doing=Doing.WAITING,
            home=False,
            v_mps=0.0,
            trouble=Trouble.NONE,
            until_s=math.inf,
            turned_deg=0.0,
        )

    def pose(self, kart: Kart) -> Pose:
        """Where a kart stands and looks."""
        path = self.track.pit if kart.on_pit_lane else self.track.lap
        spot = path.at(kart.at_m).aside(kart.left_m)
        return Pose(spot.x_m, spot.y_m, (spot.heading_deg + kart.turned_deg) % 360.0)

    def sector(self, kart: Kart) -> str:
        """Which sector a kart is in; the grid before the start line belongs to the pit."""
        return PIT if kart.on_pit_lane or kart.on_grid else self.track.sector_at(kart.at_m)

    def limit_mps(self, kart: Kart, heard: Heard, now_s: float) -> float:
        """Give what its limiter lets a kart do; without its radio the fail limits of the venue's caps."""
        kmh, at_s = heard.taken.get(kart.number, (0.0, now_s))
        silent_s = now_s - at_s
        if silent_s > TAKEN_FOR_S:
            kmh = min(kmh, self.venue.limits.caution)
        if silent_s > TAKEN_FOR_S + CREEP_AFTER_S:
            kmh = min(kmh, self.venue.limits.creep)
        return kmh / 3.6

    def sees(self, head: str, heard: Heard, now_s: float) -> tuple[Aspect, int | None]:
        """Give what a driver sees on a head."""
        aspect, number, at_s = heard.shown.get(head, (Aspect.DARK, None, -math.inf))
        return (aspect, number) if now_s - at_s <= HEARD_FOR_S else (Aspect.DARK, None)

    def exit_open(self, scene: Scene, heard: Heard) -> bool:
        """Whether a driver at the pit exit pulls out: no red, not all dark, and room on the track."""
        aspects = {self.sees(head, heard, scene.time_s)[0] for head in self.pit_exit_heads}
        if self.pit_exit_heads and (Aspect.RED in aspects or aspects == {Aspect.DARK}):
            return False
        exit_m = self.venue.pit_exit_m
        return not any(
            self.track.ahead_m(kart.at_m, exit_m) < PULL_IN_M
            or self.track.ahead_m(exit_m, kart.at_m) < LENGTH_M + GAP_M
            for kart in scene.karts
            if not kart.on_pit_lane and not kart.on_grid and kart.trouble not in STANDS
        )


def braked_mps(floor_mps: float, room_m: float) -> float:
    """Give the speed from which a driver still brakes to `floor_mps` within `room_m`."""
    return math.sqrt(floor_mps**2 + 2 * BRAKE_MPS2 * max(0.0, room_m))


def step(ground: Ground, scene: Scene, heard: Heard) -> Scene:
    """Make the scene `STEP_S` later."""
    now_s = scene.time_s + STEP_S
    traffic = _Traffic(ground, scene)
    karts = tuple(_advance(ground, scene, heard, kart, traffic) for kart in scene.karts)
    if ground.grid and any(kart.doing is Doing.PARKED for kart in karts):
        karts = _to_grid(ground, karts, heard, now_s)
    items = scene.items
    if items:
        items = tuple(item for item in items if item.until_s > now_s)
    return Scene(steps=scene.steps + 1, karts=karts, items=items)


def _to_grid(ground: Ground, karts: tuple[Kart, ...], heard: Heard, now_s: float) -> tuple[Kart, ...]:
    """Have the crew put the karts in their slots once all are home and stand."""
    still = (Doing.PARKED, Doing.WAITING)
    if any(
        kart.doing not in still or now_s - kart.parked_s < 1 or ground.limit_mps(kart, heard, now_s) > 0
        for kart in karts
    ):
        return karts
    return tuple(ground.stowed(kart, index) for index, kart in enumerate(karts))


class _Traffic:
    """Who drives where, for one step."""

    def __init__(self, ground: Ground, scene: Scene) -> None:
        self._length_m = ground.track.length_m
        moving = [kart for kart in scene.karts if kart.doing not in (Doing.WAITING, Doing.PARKED)]
        self._lap = sorted(
            (kart.at_m, kart.number, kart.v_mps)
            for kart in moving
            if not kart.on_pit_lane and kart.trouble not in ASIDE
        )
        self._lane = sorted((kart.at_m, kart.number, kart.v_mps) for kart in moving if kart.on_pit_lane)
        self.spots = [(kart.at_m, kart.number) for kart in moving if kart.trouble in ASIDE]
        self.spots += [(item.at_m, 0) for item in scene.items]
        self._care = {kart.number: kart for kart in moving if kart.trouble not in ASIDE}

    def ahead(self, kart: Kart) -> tuple[float, float]:
        """Give the free metres to the kart in front, and its speed; infinite where there is none."""
        line = self._lane if kart.on_pit_lane else self._lap
        mine = (kart.at_m, kart.number, kart.v_mps)
        if kart.on_pit_lane:
            front = next((other for other in line if other > mine), None)
            room_m = math.inf if front is None else front[0] - kart.at_m
        else:
            front = next((other for other in line if other > mine), line[0] if len(line) > 1 else None)
            room_m = math.inf if front is None else (front[0] - kart.at_m) % self._length_m
            if front is not None and front[1] == kart.number:
                return math.inf, 0.0
        return room_m - LENGTH_M, 0.0 if front is None else front[2]

    def spot_ahead_m(self, kart: Kart) -> float:
        """Metres to the nearest thing on the track ahead (negative just behind it); infinite without."""
        rooms = (
            (at_m - kart.at_m + CARE_M) % self._length_m
            for at_m, number in self.spots
            if number != kart.number
        )
        return min(rooms, default=math.inf) - CARE_M


def _advance(ground: Ground, scene: Scene, heard: Heard, kart: Kart, traffic: _Traffic) -> Kart:
    now_s = scene.time_s + STEP_S
    if kart.trouble:
        if now_s >= kart.until_s:
            kart = recovered(kart)
        elif kart.trouble is not Trouble.INTRUDES:
            return _troubled(ground, kart)
    limit_mps = ROLL_MPS if kart.trouble else ground.limit_mps(kart, heard, now_s)
    match kart.doing:
        case Doing.WAITING:
            return replace(kart, doing=Doing.LEAVING, until_s=math.inf) if limit_mps > 0 else kart
        case Doing.PARKED:
            return kart if limit_mps > 0 or ground.grid else replace(kart, doing=Doing.WAITING)
        case Doing.LEAVING if kart.on_pit_lane:
            return _leave(ground, scene, heard, _drive(ground, kart, traffic, limit_mps))
        case Doing.COMING_IN if kart.on_pit_lane:
            return _stow(ground, _drive(ground, kart, traffic, limit_mps), now_s)
        case _:
            return _lap(ground, heard, kart, _drive(ground, kart, traffic, limit_mps), now_s)


def _drive(ground: Ground, kart: Kart, traffic: _Traffic, limit_mps: float) -> Kart:
    """Move a kart along its path, as fast as limiter, pace and traffic let it."""
    ramp = ground.venue.ramp
    goal = min(kart.pace_mps, limit_mps)
    v = kart.v_mps
    v += min(max(goal - v, -ramp.fall * STEP_S), ramp.rise * STEP_S)
    room_m, front_mps = traffic.ahead(kart)
    allowed = braked_mps(front_mps, room_m - GAP_M)
    side_m = 0.0
    if not kart.on_pit_lane and traffic.spots:
        spot_m = traffic.spot_ahead_m(kart)
        allowed = min(allowed, braked_mps(CARE_MPS, spot_m - CARE_M))
        side_m = -ground.edge_m / 2 if spot_m < 3 * CARE_M else 0.0
    elif kart.on_pit_lane and kart.doing is Doing.COMING_IN:
        allowed = min(allowed, braked_mps(0.3, kart.box_m - kart.at_m))
        side_m = ground.box_left_m if kart.box_m - kart.at_m < CARE_M else 0.0
    if v > allowed:
        v = max(allowed, v - BRAKE_MPS2 * STEP_S)
    ahead_m = min(v * STEP_S, max(0.0, room_m - 0.2))
    return replace(kart, at_m=kart.at_m + ahead_m, v_mps=v, left_m=_slide(kart.left_m, side_m, v))


def _slide(left_m: float, to_m: float, v_mps: float) -> float:
    most = min(SIDE_MPS, v_mps) * STEP_S
    return left_m + min(max(to_m - left_m, -most), most)


def _leave(ground: Ground, scene: Scene, heard: Heard, kart: Kart) -> Kart:
    """Wait at the pit exit for the track; pull out where it is open."""
    length_m = ground.track.pit.length_m
    if kart.at_m < length_m - LENGTH_M:
        return kart
    if kart.trouble is not Trouble.INTRUDES and not ground.exit_open(scene, heard):
        return replace(kart, at_m=length_m - LENGTH_M, v_mps=0.0)
    if kart.at_m < length_m:
        return kart
    at_m = (ground.venue.pit_exit_m + kart.at_m - length_m) % ground.track.length_m
    until_s = scene.time_s + 2.0 if kart.trouble else math.inf
    return replace(kart, at_m=at_m, on_pit_lane=False, doing=Doing.LAPPING, until_s=until_s)


def _stow(ground: Ground, kart: Kart, now_s: float) -> Kart:
    """Stop in the box."""
    if kart.at_m < kart.box_m - 0.05:
        return kart
    return replace(
        kart,
        at_m=kart.box_m,
        v_mps=0.0,
        left_m=ground.box_left_m,
        doing=Doing.PARKED,
        home=False,
        parked_s=now_s,
    )


def _lap(ground: Ground, heard: Heard, before: Kart, kart: Kart, now_s: float) -> Kart:
    """See to what a kart drove over: heads, the start line, the pit entry."""
    track, venue = ground.track, ground.venue
    moved_m = kart.at_m - before.at_m
    kart = replace(kart, at_m=kart.at_m % track.length_m, doing=_on_lap(kart))
    if moved_m <= 0:
        return kart
    for head, at_m in ground.heads:
        if track.ahead_m(before.at_m, at_m) < moved_m:
            kart = _saw(ground, kart, ground.sees(head, heard, now_s))
    if kart.on_grid and track.ahead_m(before.at_m, venue.start_line_m) < moved_m:
        kart = replace(kart, on_grid=False)
    if kart.home and not kart.on_grid and track.ahead_m(before.at_m, venue.pit_entry_m) < moved_m:
        over_m = track.ahead_m(venue.pit_entry_m, kart.at_m)
        return replace(kart, at_m=over_m, on_pit_lane=True, doing=Doing.COMING_IN)
    return kart


def _on_lap(kart: Kart) -> Doing:
    return Doing.COMING_IN if kart.home else Doing.LAPPING


def _saw(ground: Ground, kart: Kart, seen: tuple[Aspect, int | None]) -> Kart:
    """Act on a head: chequered, or the own number, sends home; green sends on."""
    aspect, number = seen
    if aspect is ground.venue.choices.finish_aspect or (aspect is Aspect.NUMBER and number == kart.number):
        return replace(kart, home=True)
    return kart


def _troubled(ground: Ground, kart: Kart) -> Kart:
    """Let trouble take its course: roll out at the edge and stand, be pushed, or drive the wrong way."""
    edge_m = ground.edge_m if kart.number % 2 else -ground.edge_m
    match kart.trouble:
        case Trouble.PUSHED:
            goal, turn = PUSH_MPS, 0.0
        case Trouble.WRONG_WAY:
            goal, turn = -WRONG_WAY_MPS, 180.0
        case Trouble.SPIN:
            goal, turn = 0.0, 150.0
        case _:
            goal, turn = 0.0, 0.0
    hard = BRAKE_MPS2 * STEP_S
    v = kart.v_mps + min(max(goal - kart.v_mps, -hard), hard)
    most = 240 * STEP_S
    return replace(
        kart,
        v_mps=v,
        at_m=(kart.at_m + v * STEP_S) % ground.track.length_m,
        left_m=_slide(kart.left_m, edge_m, SIDE_MPS if v else 0.0),
        turned_deg=kart.turned_deg + min(max(turn - kart.turned_deg, -most), most),
    )


def recovered(kart: Kart) -> Kart:
    """Give a kart whose trouble is over: it turns round where it must, and drives on."""
    return replace(kart, trouble=Trouble.NONE, until_s=math.inf, turned_deg=0.0, v_mps=max(0.0, kart.v_mps))
