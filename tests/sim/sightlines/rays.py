"""What is seen, the plain way: a ray walked in small steps, asked at each whether it is inside a wall.

Shares no geometry with the product but the poses that eyes and heads have.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from signals.venue.model import Barrier, Head
    from signals.venue.sight import Floats

STEP_M = 0.04


def sees(eye: Floats, eye_m: float, head: Head, barriers: Sequence[Barrier]) -> bool:
    """Walk from an eye (x, y, degrees) to a head."""
    way = np.array([head.x_m - eye[0], head.y_m - eye[1]])
    away_m = float(np.sqrt(way @ way))
    looks = np.array([np.cos(np.radians(eye[2])), np.sin(np.radians(eye[2]))])
    shines = np.array([np.cos(np.radians(head.facing_deg)), np.sin(np.radians(head.facing_deg))])
    if way @ looks < 0.0 or -way @ shines < 0.5 * away_m:  # behind the shoulder; more than 60 degrees aside
        return False
    shares = np.linspace(0.0, 1.0, int(away_m / STEP_M) + 2)
    spots = eye[:2] + shares[:, None] * way
    heights = eye_m + shares * (head.height_m - eye_m)
    return not any(_inside(spots, heights, barrier, away_m / (len(shares) - 1)) for barrier in barriers)


def _inside(spots: Floats, heights: Floats, barrier: Barrier, step_m: float) -> bool:
    """Whether a spot is nearer to the barrier's line than half a step, and below its top."""
    low = spots[heights < barrier.height_m]
    for a, b in zip(barrier.points_m, barrier.points_m[1:], strict=False):
        start, along = np.array(a), np.array(b) - np.array(a)
        share = np.clip((low - start) @ along / (along @ along), 0.0, 1.0)
        off = low - start - share[:, None] * along
        if (np.einsum("ij,ij->i", off, off) <= (0.51 * step_m) ** 2).any():
            return True
    return False
