"""Colours on a screen against published values; R read in the source's own text, Q quoted, M from memory.

`tests/sim/test_look.py` checks contrast and flashes of the same palette (WCAG 2.2).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from signals.flash import is_saturated_red
from signals.look import DARK, FLASHING, GLYPHS, LIGHT, OF_ASPECT, OF_CONDITION, Mark, Theme, rgb
from signals.words import Aspect

TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
"""sRGB, linear, to CIE XYZ (IEC 61966-2-1)."""


def chromaticity(red: int, green: int, blue: int) -> tuple[float, float]:
    """CIE 1931 (x, y) of an sRGB colour."""
    channels = np.array((red, green, blue)) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    xyz = TO_XYZ @ linear
    return float(xyz[0] / xyz.sum()), float(xyz[1] / xyz.sum())


def is_signal_red(x: float, y: float) -> bool:
    """C1 (Q): colour boundaries of a national aviation-lights standard, signal red."""
    return y >= 0.980 - x and y <= 0.335


def is_signal_yellow(x: float, y: float) -> bool:
    """C1 (Q): the same, signal yellow."""
    return y >= 0.387 and y >= 0.980 - x and y <= 0.727 * x + 0.054


def test_c1_no_red_of_a_screen_is_a_signal_red() -> None:
    """C1 (Q): a screen cannot claim compliance: even its purest red, (0.64, 0.33), lies outside."""
    x, y = chromaticity(255, 0, 0)
    assert (round(x, 2), round(y, 2)) == (0.64, 0.33)
    assert not is_signal_red(x, y)
    assert is_signal_red(0.69, 0.30), "a real red lamp lies inside"
    assert is_signal_yellow(0.58, 0.415), "a real yellow lamp lies inside"


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_c1_ours_are_not_either(theme: Theme) -> None:
    """C1 (Q): so the palette is chosen for screens, and the documents claim nothing of signal colours."""
    assert not is_signal_red(*chromaticity(*rgb(theme.red)))
    assert not is_signal_yellow(*chromaticity(*rgb(theme.yellow)))


def test_c1_the_documents_say_so() -> None:
    """C1 (Q)."""
    said = (Path(__file__).parents[2] / "docs" / "standards.md").read_text(encoding="utf-8")
    assert "A screen cannot show a signal colour" in said


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_f5_nothing_that_flashes_is_a_saturated_red(theme: Theme) -> None:
    """F5 (R): WCAG 2.2, red flash threshold; neither red nor what flashes reaches it."""
    names = {"red"} | {colour for aspect in FLASHING for _, colour in GLYPHS[OF_ASPECT[aspect]].parts}
    assert {"red", "yellow", "blue"} <= names
    for name in names:
        assert not is_saturated_red(*rgb(getattr(theme, name)))


def test_c2_every_lamp_is_told_by_shape_and_letter_beside_its_colour() -> None:
    """C2 (M): Okabe & Ito 2008. Not the only check: shapes are compared pixel by pixel in the look's test."""
    shapes = {mark: (GLYPHS[mark].parts, GLYPHS[mark].lines) for mark in Mark}
    assert len(set(shapes.values())) == len(Mark)
    outlines = [tuple(points for points, _ in GLYPHS[mark].parts) for mark in Mark if GLYPHS[mark].parts]
    assert len(set(outlines)) == len(outlines), "told apart with all colours taken away"
    red, yellow, green = (GLYPHS[OF_ASPECT[aspect]] for aspect in (Aspect.RED, Aspect.YELLOW, Aspect.GREEN))
    assert (red.letter, yellow.letter, green.letter) == ("R", "Y", "G")


def test_c2_conditions_are_told_by_word_and_hatching_too() -> None:
    """C2 (M): Okabe & Ito 2008. Not the only check, see above."""
    assert len({dress.word for dress in OF_CONDITION.values()}) == len(OF_CONDITION)
    assert len({dress.hatch for dress in OF_CONDITION.values()}) == len(OF_CONDITION)
