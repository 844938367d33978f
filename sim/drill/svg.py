"""What plots of drills are drawn of, as inline SVG: text, rings, squares, triangles, and hatching."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from signals.look import LIGHT

WIDE = 960
"""A picture's width, in its own units, unless it says otherwise."""

PATTERNS = f"""<defs>
<pattern id="stop" width="8" height="8" patternUnits="userSpaceOnUse">
<rect width="8" height="8" fill="{LIGHT.red}" fill-opacity=".25"/>
<path d="M0 0L8 8M8 0L0 8" stroke="{LIGHT.red}" stroke-width="1.4"/></pattern>
<pattern id="caution" width="8" height="8" patternUnits="userSpaceOnUse">
<rect width="8" height="8" fill="{LIGHT.yellow}" fill-opacity=".16"/>
<path d="M-2 10L10 -2M-2 2L2 -2M6 10L10 6" stroke="{LIGHT.yellow}" stroke-width="1.6"/></pattern>
<pattern id="finish" width="8" height="8" patternUnits="userSpaceOnUse">
<rect width="8" height="8" fill="{LIGHT.ground}"/>
<path d="M2 0V8" stroke="{LIGHT.text}" stroke-width="1.4"/></pattern>
</defs>"""


def picture(name: str, high: float, parts: Iterable[str], *, wide: float = WIDE, defs: str = PATTERNS) -> str:
    """Give a whole picture; `name` is what is read aloud of it."""
    return (
        f'<svg viewBox="0 0 {wide:.0f} {high:.0f}" role="img" aria-label="{escape(name)}" '
        f'xmlns="http://www.w3.org/2000/svg">{defs}{"".join(parts)}</svg>'
    )


def text(
    x: float,
    y: float,
    text: str,
    *,
    anchor: str = "start",
    bold: bool = False,
    muted: bool = False,
    halo: bool = False,
) -> str:
    """Write something; `anchor` is start, middle or end, a halo keeps it apart from lines below."""
    look = f'fill="{LIGHT.muted if muted else LIGHT.text}"'
    look += ' font-weight="600"' if bold else ""
    look += f' paint-order="stroke" stroke="{LIGHT.ground}" stroke-width="5"' if halo else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {look}>{escape(text)}</text>'


def ring(x: float, y: float, radius: float, colour: str, fill: str, width: float = 2) -> str:
    """Draw a ring."""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="{fill}" stroke="{colour}" '
        f'stroke-width="{width:g}"/>'
    )


def square(x: float, y: float, side: float = 12) -> str:
    """Draw a filled square."""
    left, top = x - side / 2, y - side / 2
    return f'<rect x="{left:.1f}" y="{top:.1f}" width="{side:g}" height="{side:g}" fill="{LIGHT.text}"/>'


def triangle(x: float, y: float, fill: str) -> str:
    """Draw a triangle that stands."""
    return f'<path d="M{x:.1f} {y - 8:.1f}l7 13h-14z" fill="{fill}" stroke="{LIGHT.text}"/>'


def line(spots: Sequence[tuple[float, float]], *, dashed: bool = False, muted: bool = False) -> str:
    """Draw a line through places."""
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
    dash = ' stroke-dasharray="6 4"' if dashed else ""
    colour = LIGHT.hairline if muted else LIGHT.text
    return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="1.5"{dash}/>'
