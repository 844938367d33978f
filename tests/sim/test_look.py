"""The look in numbers: contrast, flashes, shapes told apart without colour and by colour-deficient eyes."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
import pygame
import pytest

from signals import look
from signals.look import DARK, FLASHING, GLYPHS, LIGHT, OF_ASPECT, OF_CONDITION, Mark, Theme, rgb
from signals.venue.model import Venue
from signals.words import Aspect, Condition
from sim.view.paint import Brush

Image = npt.NDArray[np.float64]
SIGNALS = ("red", "yellow", "green", "blue")


def linear(colour: str) -> Image:
    """sRGB to linear light, IEC 61966-2-1 as WCAG 2.2 "relative luminance" has it."""
    channels = np.array(rgb(colour)) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    return float(linear(colour) @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    """WCAG 2.2 "contrast ratio"."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_text_reads_and_signals_stand_out(theme: Theme) -> None:
    # WCAG 2.2: 1.4.3 text at least 4.5, 1.4.6 (AAA) 7, 1.4.11 graphical objects at least 3.
    for ground in (theme.ground, theme.surface):
        assert contrast(theme.text, ground) >= 7
        assert contrast(theme.muted, ground) >= 4.5
        for name in SIGNALS:
            assert contrast(getattr(theme, name), ground) >= 4.5, name
    assert contrast(theme.number, theme.plate) >= 15
    for name in ("red", "yellow", "green"):
        assert contrast(theme.ink, getattr(theme, name)) >= 4.5, name


def test_the_palette_is_as_contrasting_as_it_claims() -> None:
    assert contrast(DARK.text, DARK.ground) == pytest.approx(15.2, abs=0.3)
    assert contrast(DARK.red, DARK.ground) == pytest.approx(6.4, abs=0.3)


def test_no_red_is_a_saturated_red() -> None:
    # WCAG 2.2, definition of the red flash threshold: R/(R+G+B) >= 0.8 is saturated.
    for theme in (DARK, LIGHT):
        red, green, blue = rgb(theme.red)
        assert red / (red + green + blue) < 0.8


def test_signals_stay_apart_for_colour_deficient_eyes() -> None:
    # Vienot, Brettel & Mollon 1999, linear RGB, as M: a sanity check beside shape and letter.
    kinds = {
        "protanopia": [[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]],
        "deuteranopia": [[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]],
    }
    for kind, matrix in kinds.items():
        seen = {name: np.clip(np.array(matrix) @ linear(getattr(DARK, name)), 0, 1) for name in SIGNALS}
        for one, other in combinations(SIGNALS, 2):
            apart = np.abs(seen[one] ** (1 / 2.4) - seen[other] ** (1 / 2.4)).sum()
            assert apart > 0.15, (kind, one, other)


def grey(mark: Mark, size: int) -> Image:
    """A glyph on the ground colour, in greyscale (the luminance of each pixel)."""
    brush = Brush()
    surface = pygame.Surface((size, size))
    surface.fill(brush.colour("ground"))
    surface.blit(brush.glyph(mark, size, 7 if GLYPHS[mark].letter == "#" else None), (0, 0))
    return pygame.surfarray.array3d(surface).astype(float) @ np.array([0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("size", [20, 24, 36])
def test_glyphs_are_told_apart_in_greyscale(size: int) -> None:
    images = {mark: grey(mark, size) for mark in Mark}
    for one, other in combinations(Mark, 2):
        differing = np.mean(np.abs(images[one] - images[other]) > 48)
        assert differing > 0.12, f"{one} and {other} differ in {differing:.0%} of their pixels"


def test_glyphs_are_told_apart_by_outline_alone() -> None:
    filled = [Mark.STOP, Mark.CAUTION, Mark.GO, Mark.FINISH, Mark.MOVE_OVER]
    outlines = {mark: grey(mark, 24) > 60 for mark in filled}
    for one, other in combinations(filled, 2):
        assert np.mean(outlines[one] != outlines[other]) > 0.02, (one, other)


def test_every_aspect_and_condition_has_its_look() -> None:
    assert set(OF_ASPECT) == set(Aspect)
    assert set(OF_CONDITION) == set(Condition)
    hatches = [dress.hatch for dress in OF_CONDITION.values()]
    assert len({str(hatch) for hatch in hatches}) == len(hatches), "conditions are told by hatching alone"


@pytest.mark.parametrize(
    ("period_ms", "lit_ms"), [(1000, 500), (1000, 667), (600, 300), (334, 170), (333, 170), (200, 100)]
)
def test_lamps_never_flash_more_than_3_times_in_any_second(period_ms: int, lit_ms: int) -> None:
    # WCAG 2.2, 2.3.1 (STANDARDS F4): all lamps added; they share one phase, so one lamp is all lamps.
    shown = [look.lit(now_ms, period_ms, lit_ms) for now_ms in range(0, 10_000, 4)]
    rises = [index * 4 for index in range(1, len(shown)) if shown[index] and not shown[index - 1]]
    for start in range(0, 9000, 50):
        assert sum(start <= rise < start + 1000 for rise in rises) <= 3


def test_the_venues_own_rates_are_shown_as_they_are(venue: Venue, quarry: Venue) -> None:
    for each in (venue, quarry):
        period_ms, lit_ms = each.choices.flash_period_ms, each.choices.flash_lit_ms
        share = np.mean([look.lit(now_ms, period_ms, lit_ms) for now_ms in range(period_ms * 4)])
        assert share == pytest.approx(lit_ms / period_ms, abs=0.01)


def test_only_aspects_that_flash_flash() -> None:
    assert {Aspect.YELLOW_FLASH, Aspect.BLUE_FLASH} == FLASHING
