"""What never changes in a world: track and lines, what is seen from where, everyone's place in the pit."""

from __future__ import annotations

import math
from functools import cache, cached_property

from msgspec.structs import replace

from signals.venue.model import Venue
from signals.words import PIT, Aspect, HeadRole
from sim.contact import Box, touching
from sim.drivers import SKILLS, draw
from sim.kart import brake_mps2, grips
from sim.lines import Lane, Line, lines, middle, profile
from sim.scene import ASIDE, Doing, Heard, Kart, Mind, Scene, Trouble
from sim.sight import STEP_M, sightlines
from sim.track import Path, Pose, Rows, Track

BOX_ASIDE_M = 3.0
PULL_IN_M, PULL_IN_S = 12.0, 3.0
"""Free metres and seconds behind the pit exit that a driver waits for before pulling onto the track."""
CLEAR_M = 0.4
"""Between a kart that waits at the pit exit and the track's white line."""
GRID_FIRST_M, GRID_PITCH_M = 4.0, 3.0
HEARD_FOR_S = 2.0
"""A head not heard for longer is dark to drivers."""
TAKEN_FOR_S = 1.5
CREEP_AFTER_S = 3.0
"""A kart whose radio is lost obeys the lower of its limit and caution, after this long creep."""
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
        self.pit_lane = middle(self.track.pit)
        self.road = middle(self.track.lap)
        self.pit_exit_heads = tuple(head.id for head in venue.heads if head.role is HeadRole.PIT_EXIT)
        self.grid = venue.choices.start == "grid"
        self.ramp = (venue.ramp.fall, venue.ramp.rise)
        self.reverse_mps = venue.limits.reverse / 3.6
        self.boost_mps = venue.limits.boost / 3.6
        self.grip = {wet: grips(self.model, wet=wet) for wet in (False, True)}
        """Of the surface, dry and wet: rolling, and sliding."""
        self.box_left_m = BOX_ASIDE_M * self._free_side()
        self._profiles: dict[tuple[int, int, bool], list[float]] = {}

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

    def heads_seen(self, at_m: float) -> tuple[str, ...]:
        """Give the heads a driver at this place of the lap goes by: those of the nearest place ahead."""
        return self.seen[int(at_m) // STEP_M]

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
        stowed = tuple(self.stowed(kart, index) for index, kart in enumerate(karts))
        return Scene(steps=0, seed=seed, wet=wet, karts=stowed)

    def stowed(self, kart: Kart, index: int) -> Kart:
        """Give a kart as it waits for its next run: in its grid slot, or in its box."""
        at_m, left_m = self.slot(index) if self.grid else (kart.box_m, self.box_left_m)
        return replace(
            kart,
            at_m=at_m,
            left_m=left_m,
            course_rad=0.0,
            on_pit_lane=not self.grid,
            on_grid=self.grid,
            doing=Doing.WAITING,
            mind=Mind(),
            home=False,
            gives_way_until_s=-1.0,
            v_mps=0.0,
            throttle=0.0,
            brake=0.0,
            held=True,
            trouble=Trouble.NONE,
            until_s=math.inf,
            turned_deg=0.0,
        )

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

    def limit_mps(self, kart: Kart, heard: Heard, now_s: float) -> float:
        """Give what its limiter was told; without its radio the fail limits of the venue's caps."""
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
        first = next((place for place in self.on_lap[int(self.hold_m) + 1 :] if place), None)
        exit_m = self.venue.pit_exit_m if first is None else first[0]
        length_m = self.track.ahead_m(exit_m, self.venue.pit_exit_m)
        return not any(
            self.track.ahead_m(kart.at_m, exit_m) < max(PULL_IN_M, PULL_IN_S * kart.v_mps)
            or self.track.ahead_m(exit_m, kart.at_m) < length_m + 2 * self.model.length_m
            for kart in scene.karts
            if not (kart.on_pit_lane or kart.on_grid or kart.trouble in ASIDE)
        )


@cache
def _lines(rows: Rows, half_kart_m: float) -> tuple[Line, Line, Line]:
    """Give the lines of a lap; worked out once for a centreline, whoever asks."""
    return lines(Path(rows, closed=True), half_kart_m)
