"""The few shapes a terminal drawing is made of. Black on white; symbols as in circuit diagrams."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape

FONT = "font-family='Liberation Sans, Arial, Helvetica, sans-serif'"
THIN, USUAL = 0.8, 1.6
SMALL, BODY, TITLE = 11, 13, 24


def page(width: int, height: int, shapes: Iterable[str]) -> str:
    """Put shapes on a sheet that prints across an A4 page's width."""
    body = "\n".join(shapes)
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width} {height}' width='277mm' "
        f"height='{277 * height / width:.0f}mm'>\n<rect width='{width}' height='{height}' fill='white'/>\n"
        f"{body}\n</svg>\n"
    )


def text(x: float, y: float, words: str, size: int = BODY, *, bold: bool = False, at: str = "start") -> str:
    """Write words; `at` is where x is: their start, middle or end."""
    weight = " font-weight='bold'" if bold else ""
    place = f" text-anchor='{at}'" if at != "start" else ""
    return f"<text x='{x}' y='{y}' font-size='{size}' {FONT}{weight}{place}>{escape(words)}</text>"


def line(*points: tuple[float, float], width: float = USUAL) -> str:
    """Draw a line through points."""
    way = " ".join(f"{x:g},{y:g}" for x, y in points)
    return f"<polyline points='{way}' fill='none' stroke='black' stroke-width='{width}'/>"


def box(
    x: float, y: float, width: float, height: float, *, stroke: float = USUAL, fill: str = "white"
) -> str:
    """Draw a rectangle."""
    return (
        f"<rect x='{x:g}' y='{y:g}' width='{width:g}' height='{height:g}' fill='{fill}' "
        f"stroke='black' stroke-width='{stroke}'/>"
    )


def dot(x: float, y: float, radius: float, fill: str = "white") -> str:
    """Draw a circle: a lamp, a terminal, or, filled, a joint."""
    return (
        f"<circle cx='{x:g}' cy='{y:g}' r='{radius:g}' fill='{fill}' stroke='black' stroke-width='{USUAL}'/>"
    )


def fuse(x: float, y: float) -> str:
    """Draw a fuse on a line: a box that the line runs through."""
    return box(x, y - 6, 34, 12) + line((x, y), (x + 34, y), width=THIN)


def resistor(x: float, y: float) -> str:
    """Draw a resistor on a line: a box that the line ends at."""
    return box(x, y - 7, 44, 14)


def contact(x: float, y: float, *, closed: bool) -> str:
    """Draw a switch on a line, at rest open or closed; 40 wide."""
    gap = box(x + 8, y - 3, 24, 6, stroke=0)
    if closed:
        return gap + line((x, y), (x + 8, y), (x + 34, y - 9)) + line((x + 32, y - 13), (x + 32, y))
    return gap + line((x, y), (x + 8, y), (x + 30, y - 13))
