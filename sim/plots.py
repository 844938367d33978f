"""One look for maps and plots on paper: our colours and type, alike every time they are drawn."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib as mpl
from font_source_sans_pro import SourceSansPro, SourceSansProSemibold
from matplotlib import font_manager
from matplotlib.figure import Figure

from signals.look import LIGHT

DPI = 120
FAMILY = "Source Sans Pro"


@contextmanager
def paper() -> Iterator[None]:
    """Draw as on paper: the light theme, our type, no random names in an SVG."""
    known = {entry.fname for entry in font_manager.fontManager.ttflist}
    for file in (SourceSansPro, SourceSansProSemibold):
        if file not in known:
            font_manager.fontManager.addfont(file)
    with mpl.rc_context(
        {
            "svg.hashsalt": "kerblight",
            "font.family": FAMILY,
            "font.size": 10,
            "figure.facecolor": LIGHT.ground,
            "axes.facecolor": LIGHT.surface,
            "axes.edgecolor": LIGHT.hairline,
            "axes.labelcolor": LIGHT.text,
            "axes.titlecolor": LIGHT.text,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "text.color": LIGHT.text,
            "xtick.color": LIGHT.text,
            "ytick.color": LIGHT.text,
            "grid.color": LIGHT.hairline,
            "grid.linewidth": 0.6,
        }
    ):
        yield


def save(figure: Figure, file: Path) -> None:
    """Write a figure, SVG or PNG by the file's name, without the time it was made."""
    metadata = {"Date": None} if file.suffix.lower() == ".svg" else None
    figure.savefig(file, dpi=DPI, facecolor=LIGHT.ground, metadata=metadata)
