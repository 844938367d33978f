"""What can be seen from a post: how far, and over which walls. From a supervisor's desk, the whole track."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from signals.mqtt.contract import WorldKart, WorldView
from signals.venue.model import Post, Venue
from signals.venue.sight import Mask, hidden, walls
from signals.words import PIT
from sim.people import VERGE_M
from sim.track import Path, Pose, Track

SEEN_M = 50.0
"""From farther away nobody tells for sure what befell a kart; typical, no source."""
STANDING_EYE_M, LOOKED_AT_M = 1.6, 0.6
"""A standing marshal's eye, and the part of a kart or a person that must be seen; typical, no source."""


class Spot(NamedTuple):
    """A place: metres along the lap, or along the pit lane where `in_pit`; and its sector."""

    at_m: float
    in_pit: bool
    sector: str


class Lookout:
    """What one post sees. `stands`: where its marshal stands, on the side that shows more of its sectors."""

    def __init__(self, venue: Venue, track: Track, post: Post) -> None:
        self.post = post
        self.everything = post.supervisor
        self.track = track
        places = [_beside(track, post, side) for side in (1, -1)]
        seen = [(_seen(venue, track.lap, at), _seen(venue, track.pit, at)) for at in places]
        own = _covered(track, post)
        best = max((0, 1), key=lambda side: int((seen[side][0] & own).sum()))
        self.stands = places[best]
        self.lap, self.pit = seen[best]
        """For each metre of the lap and of the pit lane, whether it is seen."""

    def sees(self, spot: Spot) -> bool:
        """Whether something at a place is seen."""
        if self.everything:
            return True
        metres = self.pit if spot.in_pit else self.lap
        return bool(metres[min(int(spot.at_m), len(metres) - 1)])

    def view(self, whole: WorldView) -> WorldView:
        """Give what is seen of the world: karts, people and things within sight."""
        if self.everything:
            return whole
        karts = [kart for kart in whole.karts if self.sees(spot_of(self.track, kart))]
        there = {kart.number for kart in karts}
        return WorldView(
            at_ms=whole.at_ms,
            karts=karts,
            incidents=[each for each in whole.incidents if self._sees_sign(each, there)],
            people=[each for each in whole.people if self._sees_point(each.x_m, each.y_m)],
            steps=whole.steps,
            wet=whole.wet,
        )

    def _sees_sign(self, sign: dict[str, object], karts: set[int]) -> bool:
        if "kart" in sign:
            return sign["kart"] in karts
        return self._sees_point(float(str(sign["x_m"])), float(str(sign["y_m"])))

    def _sees_point(self, x_m: float, y_m: float) -> bool:
        """Whether a place on the ground is seen: as the nearest metre of the lap or of the pit lane."""
        near = [(np.hypot(*(path.xy - (x_m, y_m)).T), path) for path in (self.track.lap, self.track.pit)]
        away, path = min(near, key=lambda each: float(each[0].min()))
        metres = self.lap if path is self.track.lap else self.pit
        return bool(metres[min(int(away.argmin() / path.per_m), len(metres) - 1)])


def spot_of(track: Track, kart: WorldKart) -> Spot:
    """Give the place of a kart."""
    return Spot(kart.at_m, kart.in_pit, PIT if kart.in_pit else track.sector_at(kart.at_m))


def _beside(track: Track, post: Post, side: int) -> Pose:
    right_m, left_m = track.edges_m(post.at_m)
    return track.lap.at(post.at_m).aside(left_m + VERGE_M if side > 0 else -right_m - VERGE_M)


def _seen(venue: Venue, path: Path, stands: Pose) -> Mask:
    """Tell for each metre of a path whether it is seen from a place."""
    poses = [path.at(metre) for metre in range(int(path.length_m) + 1)]
    there = np.array([(pose.x_m, pose.y_m) for pose in poses]).T
    here = np.array([[stands.x_m], [stands.y_m]])
    heights = (STANDING_EYE_M, np.full(there.shape[1], LOOKED_AT_M))
    covered = hidden((np.broadcast_to(here, there.shape), there), heights, walls(venue.barriers))
    near: Mask = np.hypot(*(there - here)) <= SEEN_M
    return near & ~covered


def _covered(track: Track, post: Post) -> Mask:
    metres = range(int(track.lap.length_m) + 1)
    return np.array([track.sector_at(metre) in post.covers for metre in metres])
