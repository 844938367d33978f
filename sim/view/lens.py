"""How a person looks at the map: how near, at what, and what is written on it. No call depends on it."""

from __future__ import annotations

from dataclasses import dataclass

ZOOMS = (1.0, 1.5, 2.0, 3.0)
FOLLOWS_FROM = 2
Spot = tuple[float, float]


@dataclass(slots=True)
class Lens:
    """The look at the map. `middle` is a share of the whole map across and down, 0 … 1."""

    step: int = 0
    middle: Spot = (0.5, 0.5)
    follow: bool = False
    """Whether the chosen kart stays in the middle."""
    names: bool = False
    """Whether drivers' names stand beside their karts."""
    signs: bool = True
    """Whether what befell a kart is written beside it; without it one has to see it."""
    steady: bool = False
    """Reduced motion: what flashes or drifts stands still."""

    @property
    def zoom(self) -> float:
        """How many times larger than the whole map."""
        return ZOOMS[self.step]

    def nearer(self, steps: int, at: Spot = (0.5, 0.5)) -> None:
        """Zoom by steps; the place under `at`, a share of what is seen, stays where it is."""
        before = self.zoom
        self.step = max(0, min(len(ZOOMS) - 1, self.step + steps))
        keep = 1 / before - 1 / self.zoom
        x, y = (self.middle[axis] + (at[axis] - 0.5) * keep for axis in (0, 1))
        self.middle = self._within((x, y))

    def turn_follow(self) -> None:
        """Follow the chosen kart, from near, or stop following."""
        self.follow = not self.follow
        if self.follow:
            self.step = max(self.step, FOLLOWS_FROM)

    def whole(self) -> None:
        """Show the whole map again."""
        self.step, self.middle, self.follow = 0, (0.5, 0.5), False

    def look_at(self, middle: Spot) -> None:
        """Move to a place, a share of the whole map."""
        self.middle = self._within(middle)

    def _within(self, middle: Spot) -> Spot:
        half = 0.5 / self.zoom
        x, y = (min(max(each, half), 1 - half) for each in middle)
        return x, y

    def corner(self, size: tuple[int, int]) -> tuple[int, int]:
        """Give the pixel of the enlarged map that stands at the top left of a window of `size`."""
        x, y = (round((self.middle[axis] * self.zoom - 0.5) * size[axis]) for axis in (0, 1))
        return x, y
