"""What never changes in a world: track and lines, what is seen from where, everyone's place in the pit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache, cached_property
from itertools import accumulate
from typing import overload

from signals.venue.model import Venue
from signals.words import PIT, Aspect, HeadRole
from sim.contact import Box, touching
from sim.course import LANES, NOWHERE, Air, Course
from sim.drivers import SKILLS, draw
from sim.driving import Outlook
from sim.kart import brake_mps2, grips
from sim.lines import Lane, Line, lines, profile
from sim.rolling import ranks
from sim.scene import Doing, Heard, Kart, Scene, stow, twin
from sim.sight import sightlines
from sim.track import Path, Pose, Rows, Track
from sim.traffic import Traffic, room

BOX_ASIDE_M = 3.0
CLEAR_M = 0.4
"""Between a kart that waits at the pit exit and the track's white line."""
GRID_FIRST_M, GRID_PITCH_M = 4.0, 3.0
HEARD_FOR_S = 2.0
"""A head not heard for longer is dark to drivers."""
BRAKE_SHARE = 0.9
"""Of the brakes, by a driver who dares to use all of the grip."""


class Ground:
    """What never changes in a world."""

    def __init__(self, venue: Venue) -> None:
        self.venue = venue
        self.model = venue.kart_model
        self.track = Track(venue)
        self.narrowest_m = min(*self.track.lap.rights, *self.track.lap.lefts)
        self.edge_m = max(0.8, self.track.width_m / 2 - 0.9)
        self.lanes = _lines(venue.centreline_m, self.model.width_m / 2)
        self.pit_exit_heads = tuple(head.id for head in venue.heads if head.role is HeadRole.PIT_EXIT)
        self.grid = venue.choices.start == "grid"
        self.ramp = (venue.ramp.fall, venue.ramp.rise)
        self.reverse_mps = venue.limits.reverse / 3.6
        self.boost_mps = venue.limits.boost / 3.6
        self.grip = {wet: grips(self.model, wet=wet) for wet in (False, True)}
        """Of the surface, dry and wet: rolling, and sliding."""
        self.box_left_m = BOX_ASIDE_M * self._free_side()
        self._profiles: dict[tuple[int, int, bool], list[float]] = {}
        self._room = room(len(venue.karts), 0)
        self.outlooks = [Outlook()]
        """Room for a driver's outlook."""
        self.rolling = ranks(len(venue.karts))
        """Room for the karts that drive in a step."""
        self._head_ids = [head.id for head in venue.heads]

    @cached_property
    def seen(self) -> tuple[tuple[str, ...], ...]:
        """The heads a driver goes by, from each `sight.STEP_M` metres of the lap."""
        return sightlines(self.venue)

    @cached_property
    def on_lap(self) -> list[tuple[float, float] | None]:
        """Where each metre of the pit lane lies on the lap, None where it is clear of it."""
        pit, venue = self.track.pit, self.venue
        room_m = self.model.width_m / 2 + CLEAR_M
        places: list[tuple[float, float] | None] = []
        for metre in range(int(pit.length_m) + 2):
            near_m = venue.pit_entry_m if metre < pit.length_m / 2 else venue.pit_exit_m
            pose = pit.at(metre)
            at_m, left_m = self.track.lap.nearest(pose.x_m, pose.y_m, near_m, pit.length_m / 2)
            right, left = self.track.edges_m(at_m)
            places.append((at_m, left_m) if -right - room_m < left_m < left + room_m else None)
        return places

    @cached_property
    def hold_m(self) -> float:
        """Where on the pit lane a driver waits for the track: as far on as it is clear of it."""
        clear = [metre for metre, place in enumerate(self.on_lap) if place is None]
        return max(clear, default=0.0) - self.model.length_m / 2

    @cached_property
    def pit_side(self) -> Lane:
        """The line of the lap that the pit lane leaves from."""
        place = next((place for place in reversed(self.on_lap[: len(self.on_lap) // 2]) if place), None)
        return Lane.RIGHT if place is None or place[1] < 0 else Lane.LEFT

    def speeds(self, skill: int, lane: int, *, wet: bool) -> list[float]:
        """Give the speeds a driver of that skill dares on a line of the lap (see `lines.profile`)."""
        key = (skill, lane, wet)
        if key not in self._profiles:
            grip = SKILLS[skill] * self.grip[wet][0]
            brake = BRAKE_SHARE * brake_mps2(self.model, grip)
            self._profiles[key] = profile(self.lanes[lane], self.model, grip=grip, brake_mps2=brake)
        return self._profiles[key]

    @cached_property
    def course(self) -> Course:
        """The same as step functions read it."""
        return course_of(self)

    def room(self, others: int) -> Traffic:
        """Give room for the venue's karts and so many things and people."""
        if len(self._room.lap) < 2 * len(self.venue.karts) + others:
            self._room = room(len(self.venue.karts), 2 * others)
        return self._room

    def air(self, scene: Scene, heard: Heard, *, shown: bool = True) -> Air:
        """Give what reaches limiters and drivers, by kart and by head; a head not heard for long is dark.

        Heads are left out where nobody looks at them (`shown`).
        """
        now_s, ramp, numbers = scene.time_s, self.ramp, [kart.number for kart in scene.karts]
        taken = [heard.taken.get(number, (0.0, now_s)) for number in numbers]
        ramps = [heard.ramps.get(number, ramp) for number in numbers]
        heads = [self.sees(head, heard, now_s) for head in self._head_ids] if shown else ()
        return Air(
            [kmh / 3.6 for kmh, _ in taken],
            [at_s for _, at_s in taken],
            [fall for fall, _ in ramps],
            [rise for _, rise in ramps],
            [heard.boosts.get(number, 0) for number in numbers],
            [heard.boosts_mps.get(number, self.boost_mps) for number in numbers],
            [aspect for aspect, _ in heads],
            [number or 0 for _, number in heads],
        )

    def _free_side(self) -> int:
        """Give the side of the pit lane that lies away from the track: 1 left, -1 right."""
        lane, lap = self.track.pit, self.track.lap
        middle_of_it = lane.at(lane.length_m / 2)

        def free_m(side: int) -> float:
            spot = middle_of_it.aside(side * BOX_ASIDE_M)
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

    def begin(self, seed: int, *, wet: bool = False) -> Scene:
        """Place every kart in its box or slot; its driver is drawn from `seed`."""
        karts = (
            Kart(
                number=kart.number,
                driver=draw(seed, kart.number),
                box_m=self.box_m(index),
                at_m=0.0,
                on_pit_lane=True,
            )
            for index, kart in enumerate(self.venue.karts)
        )
        placed = tuple(karts)
        for index, kart in enumerate(placed):
            stow(self.course, kart, index)
        return Scene(steps=0, seed=seed, wet=wet, karts=placed)

    def stowed(self, kart: Kart, index: int) -> Kart:
        """Give a kart as it waits for its next run: in its grid slot, or in its box."""
        made = twin(kart)
        stow(self.course, made, index)
        return made

    def pose(self, kart: Kart) -> Pose:
        """Where a kart stands and looks."""
        path = self.track.pit if kart.on_pit_lane else self.track.lap
        spot = path.at(kart.at_m).aside(kart.left_m)
        heading = spot.heading_deg + math.degrees(kart.course_rad) + kart.turned_deg
        return Pose(spot.x_m, spot.y_m, heading % 360.0)

    def box(self, kart: Kart) -> Box:
        """Give the ground a kart covers."""
        pose = self.pose(kart)
        return Box(pose.x_m, pose.y_m, pose.heading_deg, self.model.length_m, self.model.width_m)

    def contacts(self, scene: Scene) -> frozenset[tuple[int, int]]:
        """Give the pairs of karts that touch, the smaller number first; karts in their boxes aside."""
        away = (Doing.WAITING, Doing.PARKED)
        boxes = [(kart.number, self.box(kart)) for kart in scene.karts if kart.doing not in away]
        return frozenset(touching(boxes))

    def sector(self, kart: Kart) -> str:
        """Which sector a kart is in; the grid before the start line belongs to the pit."""
        return PIT if kart.on_pit_lane or kart.on_grid else self.track.sector_at(kart.at_m)

    def sees(self, head: str, heard: Heard, now_s: float) -> tuple[Aspect, int | None]:
        """Give what a driver sees on a head."""
        aspect, number, at_s = heard.shown.get(head, (Aspect.DARK, None, -math.inf))
        return (aspect, number) if now_s - at_s <= HEARD_FOR_S else (Aspect.DARK, None)


@cache
def _lines(rows: Rows, half_kart_m: float) -> tuple[Line, Line, Line]:
    """Give the lines of a lap; worked out once for a centreline, whoever asks."""
    return lines(Path(rows, closed=True), half_kart_m)


class Speeds(Sequence[float]):
    """Every speed profile of a venue, one after the other, worked out when it is first read.

    Dry and wet; in each every skill; at each place every line: see `sim.driving.profile_of`.
    """

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self.profile = len(ground.speeds(0, Lane.RACING, wet=False))
        self._read: dict[tuple[int, int], list[float]] = {}

    def __len__(self) -> int:
        return 2 * len(SKILLS) * LANES * self.profile

    @overload
    def __getitem__(self, at: int) -> float: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[float]: ...
    def __getitem__(self, at: int | slice) -> float | Sequence[float]:
        if isinstance(at, slice):
            return [self[each] for each in range(*at.indices(len(self)))]
        rest, lane = divmod(at, LANES)
        which, place = divmod(rest, self.profile)
        speeds = self._read.get((which, lane))
        if speeds is None:
            if not 0 <= at < len(self):
                raise IndexError(at)
            surface, skill = divmod(which, len(SKILLS))
            speeds = self._read[which, lane] = self._ground.speeds(skill, lane, wet=bool(surface))
        return speeds[place]


def course_of(ground: Ground) -> Course:
    """Give a ground as step functions read it."""
    venue, lines_, speeds = ground.venue, ground.lanes, Speeds(ground)
    lane = [place or (NOWHERE, 0.0) for place in ground.on_lap]
    slots = [ground.slot(index) for index in range(len(venue.karts))]
    heads = {head.id: number for number, head in enumerate(venue.heads)}
    return Course(
        lap=ground.track.lap.way,
        pit=ground.track.pit.way,
        model=ground.model,
        lines=_side_by_side([column for line in lines_ for column in (line.lefts, line.slopes, line.bends)]),
        speeds=speeds,
        profile=speeds.profile,
        grips=(*ground.grip[False], *ground.grip[True]),
        narrowest_m=ground.narrowest_m,
        edge_m=ground.edge_m,
        pit_entry_m=venue.pit_entry_m,
        pit_exit_m=venue.pit_exit_m,
        start_line_m=venue.start_line_m,
        hold_m=ground.hold_m,
        box_left_m=ground.box_left_m,
        pit_side=ground.pit_side,
        lane_at_m=[at_m for at_m, _ in lane],
        lane_left_m=[left_m for _, left_m in lane],
        grid=ground.grid,
        slots_m=[at_m for at_m, _ in slots],
        slots_left_m=[left_m for _, left_m in slots],
        fall_mps2=venue.ramp.fall,
        rise_mps2=venue.ramp.rise,
        reverse_mps=ground.reverse_mps,
        boost_s=venue.timing.boost / 1000,
        stop_kmh=venue.limits.stop,
        caution_kmh=venue.limits.caution,
        creep_kmh=venue.limits.creep,
        finish_aspect=venue.choices.finish_aspect,
        seen_first=[0, *accumulate(len(each) for each in ground.seen)],
        seen_heads=[heads[head] for each in ground.seen for head in each],
        exit_heads=[heads[head] for head in ground.pit_exit_heads],
    )


def _side_by_side(columns: Sequence[Sequence[float]]) -> list[float]:
    """Give columns as one table: their first numbers, their second ones, and so on."""
    return [number for row in zip(*columns, strict=True) for number in row]
