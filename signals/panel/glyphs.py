"""`signals.look` as the page draws it: glyphs and hatching in SVG, colours as a style sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from markupsafe import Markup

from signals.look import DARK, GLYPHS, LIGHT, OF_CONDITION, Dress, Glyph, Mark, Points, Theme

HALF = 50
"""A glyph's half size in units of its symbol."""
LINE = 9
LETTER_DOWN = 0.36
"""From a letter's middle to its base line, in its own height."""


def style_sheet() -> str:
    """Give the colours of both themes as custom properties; the device says which of them it wants."""
    light = f"@media (prefers-color-scheme: light) {{ :root {{ {_properties(LIGHT)} }} }}"
    return f":root {{ color-scheme: dark light; {_properties(DARK)} }}\n{light}\n"


def sprite() -> Markup:
    """Give every glyph as a symbol named `mark-<mark>`, and the hatchings as patterns."""
    symbols = "".join(_symbol(mark, glyph) for mark, glyph in GLYPHS.items())
    patterns = "".join(_pattern(name, dress) for name, dress in OF_CONDITION.items())
    return Markup(  # noqa: S704 - made of our own tables
        f'<svg class="sprite" aria-hidden="true"><defs>{symbols}{patterns}</defs></svg>'
    )


def glyph(mark: str, number: int | None = None) -> Markup:
    """Give a glyph to stand beside words that say the same: screen readers skip it."""
    beside = number is not None and mark == Mark.MOVE_OVER
    middle, wide = (92, 188) if beside else (0, 104)
    plate = "" if number is None else f'<text class="plate-number" x="{middle}" y="18">{number}</text>'
    return Markup(  # noqa: S704 - marks and numbers are checked words
        f'<svg class="glyph m-{Mark(mark)}{" beside" if beside else ""}" viewBox="-52 -52 {wide} 104"'
        ' aria-hidden="true">'
        f'<use href="#mark-{Mark(mark)}" x="-52" y="-52" width="104" height="104"/>{plate}</svg>'
    )


def _properties(theme: Theme) -> str:
    return " ".join(f"--{field.name}: {getattr(theme, field.name)};" for field in fields(theme))


def _points(points: Points) -> str:
    return " ".join(f"{x * HALF:.1f},{y * HALF:.1f}" for x, y in points)


def _symbol(mark: Mark, shape: Glyph) -> str:
    return f'<symbol id="mark-{mark}" viewBox="-52 -52 104 104">{"".join(_drawn(shape))}</symbol>'


def _drawn(shape: Glyph) -> Iterator[str]:
    for points, colour in shape.parts:
        yield f'<polygon points="{_points(points)}" fill="var(--{colour})"/>'
    for points, colour in shape.lines:
        stroke = f'fill="none" stroke="var(--{colour})" stroke-width="{LINE}"'
        yield f'<polyline points="{_points(points)}" {stroke}/>'
    if shape.letter and shape.letter != "#":
        size = shape.letter_size * HALF
        base = shape.letter_y * HALF + size * LETTER_DOWN
        yield (
            f'<text x="0" y="{base:.1f}" font-size="{size:.1f}" fill="var(--{shape.letter_colour})">'
            f"{shape.letter}</text>"
        )


def _pattern(name: str, dress: Dress) -> str:
    """Draw a condition's hatching; its pitch is in screen pixels, the map turns them into metres."""
    if dress.hatch is None:
        return ""
    pitch, width = dress.hatch.pitch_px, dress.hatch.width_px
    lines = "".join(_hatch_line(pitch, dx, dy) for dx, dy in dress.hatch.runs)
    return (
        f'<pattern id="hatch-{name}" width="{pitch}" height="{pitch}" patternUnits="userSpaceOnUse">'
        f'<g stroke="var(--{dress.colour})" stroke-width="{width}" stroke-linecap="square">{lines}</g>'
        "</pattern>"
    )


def _hatch_line(pitch: float, dx: float, dy: float) -> str:
    """Draw one line through a tile, and its neighbours' parts that reach into it."""
    if not dx:
        return f'<path d="M{pitch / 2} 0V{pitch}"/>'
    if not dy:
        return f'<path d="M0 {pitch / 2}H{pitch}"/>'
    start = 0 if dy > 0 else pitch
    rise = pitch if dy > 0 else -pitch
    return "".join(f'<path d="M{shift} {start}l{pitch} {rise}"/>' for shift in (-pitch, 0, pitch))
