"""What never changes in a world: the track, ramps and heads of its venue, everyone's place in the pit."""

from __future__ import annotations

import math

import numpy as np
from msgspec.structs import replace

from signals.venue.model import Venue
from signals.words import PIT, Aspect, HeadRole
from sim.scene import STANDS, Doing, Heard, Kart, Scene, Trouble
from sim.track import Pose, Track

LENGTH_M = 2.0
GAP_M = 2.5
"""Free metres a driver keeps to the kart ahead."""
BOX_ASIDE_M = 3.0
PULL_IN_M = 12.0
"""Free metres behind the pit exit that a driver waits for before pulling onto the track."""
GRID_FIRST_M, GRID_PITCH_M = 4.0, 2.0
HEARD_FOR_S = 2.0
"""A head not heard for longer is dark to drivers."""
TAKEN_FOR_S = 1.5
CREEP_AFTER_S = 3.0
"""A kart whose radio is lost obeys the lower of its limit and caution, after this long creep."""


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
            seed=seed,
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
            gives_way_until_s=-1.0,
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
            if not (kart.on_pit_lane or kart.on_grid or kart.trouble in STANDS)
        )
