"""The map of what is seen: the lap, its heads with their beams, blind and late stretches; SVG or PNG.

Told by thickness and pattern, so that it prints in black and white. No signal colours: nothing here is a
signal.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from signals.look import LIGHT
from signals.venue.model import Head, Venue
from signals.venue.sight import BEAM_DEG
from signals.words import PIT, HeadRole
from sim.plots import paper, save
from sim.sightlines.survey import NOBODY, Survey, View

FORMATS = ("svg", "png")
WIDE_IN = 11.0
WORDS_IN = 1.0
RAY_EVERY_M = 8.0
BEAM, HEAD, NAME = 0.05, 0.012, 0.022
"""Sizes of a head's beam and triangle and how far off its name stands, as shares of the map's width."""
SPARE_M = 9.0
ASIDE_M = 2.5
"""So far beyond the outer edge stand the names of sectors."""


def draw(survey: Survey, view: View, file: Path, title: str) -> None:
    """Draw a view into a file, SVG or PNG by its name; alike for alike views."""
    with paper():
        save(_figure(survey, view, title), file)


def _figure(survey: Survey, view: View, title: str) -> Figure:
    xy = survey.ground.track.lap.xy
    low, high = xy.min(axis=0) - SPARE_M, xy.max(axis=0) + SPARE_M
    wide, tall = high - low
    tall_in = WIDE_IN * tall / wide + WORDS_IN
    figure = Figure(figsize=(WIDE_IN, tall_in))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0 - WORDS_IN / tall_in))
    axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), aspect="equal")
    axes.set_axis_off()
    _track(axes, survey)
    _rays(axes, survey, view)
    _states(axes, survey, view)
    _sectors(axes, survey)
    for head in view.heads:
        _head(axes, head, float(wide))
    for head in survey.venue.heads:
        if head.role is HeadRole.PIT_EXIT:
            _head(axes, head, float(wide), muted=True)
    _words(figure, view, title)
    return figure


def _track(axes: Axes, survey: Survey) -> None:
    lap = survey.ground.track.lap
    normals = np.column_stack([-np.sin(lap.heading_rad), np.cos(lap.heading_rad)])
    left = lap.xy + np.asarray(lap.lefts)[:, None] * normals
    right = lap.xy - np.asarray(lap.rights)[:, None] * normals
    axes.add_patch(Polygon(np.vstack([left, right[::-1]]), facecolor=LIGHT.track, edgecolor="none", zorder=1))
    for edge in (left, right):
        axes.plot(*edge.T, color=LIGHT.hairline, linewidth=0.8, zorder=2)
    axes.plot(*survey.ground.track.pit.xy.T, color=LIGHT.track, linewidth=7, zorder=0.5)
    for barrier in survey.venue.barriers:
        axes.plot(*np.array(barrier.points_m).T, color=LIGHT.text, linewidth=2.2, zorder=3)
        x, y = barrier.points_m[0]
        axes.annotate(
            f"{barrier.height_m:g} m high",
            (x, y),
            xytext=(3, -9),
            textcoords="offset points",
            fontsize=8,
            color=LIGHT.muted,
        )


def _centre(survey: Survey, at_m: float) -> tuple[float, float]:
    pose = survey.ground.track.lap.at(at_m)
    return pose.x_m, pose.y_m


def _rays(axes: Axes, survey: Survey, view: View) -> None:
    """Draw, now and then, the line from a driver to the nearest head he sees."""
    every = max(1, round(RAY_EVERY_M / survey.places.step_m))
    for number in range(0, len(view.at_m), every):
        if view.nearest[number] != NOBODY:
            head = view.heads[view.nearest[number]]
            x, y = _centre(survey, float(view.at_m[number]))
            axes.plot([x, head.x_m], [y, head.y_m], color=LIGHT.muted, linewidth=0.4, alpha=0.6, zorder=4)


def _states(axes: Axes, survey: Survey, view: View) -> None:
    styles: tuple[tuple[Any, float, Any, str], ...] = (
        (view.late_stretches, 2.2, (0, (2.2, 1.4)), "butt"),
        (view.blind_stretches, 6.0, "solid", "butt"),
    )
    for stretches, width, style, cap in styles:
        for stretch in stretches:
            steps = np.arange(0.0, stretch.length_m + 0.5, 1.0)
            line = np.array([_centre(survey, stretch.from_m + step) for step in steps])
            axes.plot(
                *line.T,
                color=LIGHT.text,
                linewidth=width,
                linestyle=style,
                dash_capstyle=cap,
                solid_capstyle=cap,
                zorder=5,
            )


def _sectors(axes: Axes, survey: Survey) -> None:
    """Draw a line across the track where each sector begins, with its name."""
    track = survey.ground.track
    for sector in survey.venue.sectors:
        if sector.id == PIT:
            continue
        right_m, left_m = track.edges_m(sector.from_m)
        pose = track.lap.at(sector.from_m)
        ends = [pose.aside(left_m), pose.aside(-right_m)]
        axes.plot([e.x_m for e in ends], [e.y_m for e in ends], color=LIGHT.ground, linewidth=2, zorder=3)
        length_m = (sector.to_m - sector.from_m) % track.length_m or track.length_m
        at_m = sector.from_m + length_m / 2
        right_m, left_m = track.edges_m(at_m)
        outside = 1 if track.lap.bends[track.lap.sample(at_m)] < 0 else -1
        place = track.lap.at(at_m).aside(outside * ((left_m if outside > 0 else right_m) + ASIDE_M))
        axes.text(
            place.x_m, place.y_m, sector.name, fontsize=11, color=LIGHT.text, ha="center", va="center",
            zorder=7, bbox={"facecolor": LIGHT.ground, "edgecolor": "none", "pad": 1.0, "alpha": 0.8},
        )  # fmt: skip


def _head(axes: Axes, head: Head, wide_m: float, *, muted: bool = False) -> None:
    """Draw a head as a wedge that opens where its light goes."""
    colour = LIGHT.muted if muted else LIGHT.text
    turn, half = math.radians(head.facing_deg), math.radians(BEAM_DEG)
    rim = [_off(head, turn - half + 2 * half * step / 8, BEAM * wide_m) for step in range(9)]
    wedge = [(head.x_m, head.y_m), *rim]
    axes.add_patch(Polygon(wedge, facecolor=colour, edgecolor="none", alpha=0.12, zorder=6))
    tip = [_off(head, turn + corner, HEAD * wide_m) for corner in (0.0, 2.2, -2.2)]
    axes.add_patch(Polygon(tip, facecolor=colour, edgecolor=LIGHT.ground, linewidth=0.5, zorder=8))
    axes.text(
        *_off(head, turn, -NAME * wide_m), head.id, fontsize=9, color=colour, ha="center", va="center",
        fontweight="semibold", zorder=9,
    )  # fmt: skip


def _off(head: Head, turn_rad: float, metres: float) -> tuple[float, float]:
    return head.x_m + metres * math.cos(turn_rad), head.y_m + metres * math.sin(turn_rad)


def _words(figure: Figure, view: View, title: str) -> None:
    """Say on the map what it shows, under what condition, and what its lines mean."""
    top = 1.0 - 0.32 / figure.get_figheight()
    line = 0.26 / figure.get_figheight()
    figure.text(0.02, top, title, fontsize=16, color=LIGHT.text, fontweight="semibold")
    blind = _sum(view.blind_stretches, "no blind stretch", "blind")
    figure.text(
        0.02,
        top - line,
        f"{view.condition}: a head is seen from {view.seen_share:.1%} of the lap, in time from "
        f"{view.in_time_share:.1%}; {blind}",
        fontsize=11.5,
        color=LIGHT.text,
    )
    figure.text(
        0.02,
        top - 2 * line,
        "Thick: no head is seen. Dashed: none that speaks for where a kart would stand. "
        "Fine lines: drivers to the nearest head. Triangles point where heads shine.",
        fontsize=10,
        color=LIGHT.muted,
    )


def _sum(stretches: tuple[Any, ...], none: str, what: str) -> str:
    metres = sum(stretch.length_m for stretch in stretches)
    return f"{metres:.0f} m {what}" if stretches else none


def title_of(venue: Venue, heads: int, *, proposed: bool = False) -> str:
    """Give a map's title."""
    return f"{venue.name}: what drivers see of {heads} {'proposed ' if proposed else ''}heads"
