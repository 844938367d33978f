"""The plots of a debrief as inline SVG: the timeline, reaction times beside one's own, the map with where.

Black and white is enough: conditions are hatched and lettered, points differ by shape.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from html import escape

import numpy as np

from signals import say
from signals.look import LIGHT
from signals.venue.model import Sector, Venue
from signals.words import PIT, Condition
from sim.drill import svg
from sim.drill.facts import Facts
from sim.drill.score import TRACK_ROW, Mark, Score
from sim.drill.stretches import Stretch
from sim.drill.svg import WIDE
from sim.drill.trainees import Run
from sim.track import Path, Pose, Track

Fit = Callable[[float, float], tuple[float, float]]
"""From metres to the picture."""
ROW, LABEL, AXIS = 26, 120, 26
STEPS_S = (5, 10, 20, 30, 60, 120)
LETTERS = {Condition.STOP: "R", Condition.CAUTION: "Y", Condition.FINISH: "F"}
HISTORY_HIGH, HISTORY_LEFT = 240, 48
RUNS_SHOWN, APART_PX = 30, 18
MAP_HIGH, BESIDE_M, POST_M = 420, 7.0, 5.5
LABELS, LETTER_FROM = 10, 44
"""Labels of an axis at most; a stretch this wide has its letter in it."""
EDGE = 24


def timeline(venue: Venue, rows: Mapping[str, Sequence[Stretch]], marks: Sequence[Mark], ends_ms: int) -> str:
    """Draw a row per sector: how it stood, what happened, what was called."""
    scale = (WIDE - LABEL - EDGE) / max(1, ends_ms)

    def x(at_ms: float) -> float:
        return LABEL + at_ms * scale

    parts: list[str] = []
    tops = {row: number * ROW for number, row in enumerate(rows)}
    for row, found in rows.items():
        top = tops[row]
        name = "Track" if row == TRACK_ROW else say.sector_name(venue, row)
        parts.append(svg.text(0, top + ROW * 0.65, name))
        parts.append(
            f'<rect x="{LABEL}" y="{top + 2}" width="{WIDE - LABEL - EDGE}" height="{ROW - 4}" '
            f'fill="none" stroke="{LIGHT.hairline}"/>'
        )
        parts += [_stretch(each, x, top) for each in found if each.condition in LETTERS]
    parts += [_mark(mark, x(mark.at_ms), tops.get(mark.row, 0)) for mark in marks]
    ends_s = ends_ms / 1000
    step_s = next((step for step in STEPS_S if ends_s / step <= LABELS), STEPS_S[-1])
    bottom = len(rows) * ROW
    parts += [
        svg.text(x(at_s * 1000), bottom + 16, f"{at_s} s", anchor="middle", muted=True)
        for at_s in range(0, int(ends_s) + 1, step_s)
    ]
    return svg.picture(
        "Timeline: how each sector stood, what happened and what was called", bottom + AXIS, parts
    )


def _stretch(stretch: Stretch, x: Callable[[float], float], top: float) -> str:
    left, right = x(stretch.from_ms), x(stretch.to_ms)
    name = stretch.condition.value
    box = (
        f'<rect x="{left:.1f}" y="{top + 2}" width="{max(1.0, right - left):.1f}" height="{ROW - 4}" '
        f'fill="url(#{name})" stroke="{LIGHT.text}" stroke-width=".6"/>'
    )
    letter = LETTERS[stretch.condition]
    return box + (
        svg.text((left + right) / 2, top + ROW * 0.68, letter, anchor="middle", bold=True)
        if right - left > LETTER_FROM
        else ""
    )


def _mark(mark: Mark, x: float, top: float) -> str:
    """Draw a ring with a point for what happened, a tag for a call, a small ring for a touch."""
    y = top + ROW / 2
    title = f"<title>{mark.at_ms / 1000:.1f} s: {escape(mark.text)}</title>"
    match mark.kind:
        case "happened":
            shape = svg.ring(x, y, 8, LIGHT.text, "#fff") + svg.text(
                x, y + 5, "!", anchor="middle", bold=True
            )
        case "called":
            shape = _tag(x, y, mark.letter, accepted=mark.good is not False)
        case "due":
            shape = _deadline(x, top, mark.letter)
        case "seen" | "did":
            shape = svg.ring(x, y, 4, LIGHT.muted, "none")
        case _:
            return ""
    return f"<g>{title}{shape}</g>"


def _deadline(x: float, top: float, letter: str) -> str:
    """Draw a line by which something was due, with its letter."""
    line = svg.line([(x, top + 3), (x, top + ROW - 3)])
    plate = f'<rect x="{x:.1f}" y="{top + 4}" width="13" height="{ROW - 8}" fill="#fff"/>'
    return plate + line + svg.text(x + 3, top + ROW * 0.68, letter)


def _tag(x: float, y: float, letter: str, *, accepted: bool) -> str:
    fill, ink = (LIGHT.text, "#fff") if accepted else ("#fff", LIGHT.text)
    box = (
        f'<rect x="{x - 8:.1f}" y="{y - 8}" width="16" height="16" rx="2" fill="{fill}" '
        f'stroke="{LIGHT.text}"/>'
    )
    written = (
        f'<text x="{x:.1f}" y="{y + 5}" text-anchor="middle" fill="{ink}" font-weight="600">'
        f"{escape(letter)}</text>"
    )
    crossed = f'<path d="M{x - 8:.1f} {y + 8}L{x + 8:.1f} {y - 8}" stroke="{LIGHT.text}"/>'
    return box + written + ("" if accepted else crossed)


def _across(y: float, *, dashed: bool = False) -> str:
    look = f'stroke="{LIGHT.text}" stroke-dasharray="6 4"' if dashed else f'stroke="{LIGHT.hairline}"'
    return f'<path d="M{HISTORY_LEFT} {y:.1f}H{WIDE - EDGE}" {look}/>'


def history(score: Score, runs: Sequence[Run]) -> str:
    """Draw from visible to called, run by run: this one beside one's own before, and the target.

    Nothing where nothing was called rightly, now or before.
    """
    shown = [run.score for run in runs][-RUNS_SHOWN:]
    wide = (WIDE - HISTORY_LEFT - EDGE) / (len(shown) + 1)
    took = [spot for number, each in enumerate(shown) for spot in _side_by_side(number, each, wide)]
    now = _side_by_side(len(shown), score, wide)
    if not (took or now):
        return ""
    target_s = next((spell.target_s for spell in score.deciding.called), 3.0)
    most_s = max([*(each for _, each in (*took, *now)), target_s, 4.0]) * 1.15

    def spot(number: float, seconds: float) -> tuple[float, float]:
        return HISTORY_LEFT + (number + 0.5) * wide, HISTORY_HIGH - 30 - seconds / most_s * (
            HISTORY_HIGH - 50
        )

    target_y = spot(0, target_s)[1]
    parts = [
        svg.text(0, 14, "s from visible to called", muted=True),
        _across(target_y, dashed=True),
        svg.text(WIDE - EDGE, target_y - 5, f"target {target_s:g} s", anchor="end"),
        svg.text(spot(len(shown), 0)[0], HISTORY_HIGH - 8, "now", anchor="middle", bold=True),
    ]
    for tick_s in range(0, int(most_s) + 1, max(1, int(most_s) // 5)):
        y = spot(0, tick_s)[1]
        parts += [svg.text(HISTORY_LEFT - 8, y + 4, str(tick_s), anchor="end", muted=True), _across(y)]
    parts += [svg.ring(*spot(*each), 4, LIGHT.muted, "none") for each in took]
    parts += [svg.square(*spot(*each)) for each in now]
    if shown:
        before = f"{say.many(len(shown), 'run')} before"
        parts.append(svg.text(HISTORY_LEFT, HISTORY_HIGH - 8, before, muted=True))
    return svg.picture("Reaction times beside one's own before", HISTORY_HIGH, parts)


def _side_by_side(number: int, score: Score, wide_px: float) -> list[tuple[float, float]]:
    """Give a run's times with where they stand, in runs: beside each other, so that none hides another."""
    took_s = [spell.took_s for spell in score.deciding.called]
    apart, middle = min(APART_PX / wide_px, 1 / max(1, len(took_s))), (len(took_s) - 1) / 2
    return [(number + (place - middle) * apart, each_s) for place, each_s in enumerate(took_s)]


def track_map(known: Facts, score: Score) -> str:
    """Draw the track with its sectors, where things happened (!) and where was called."""
    venue, track = known.venue, known.track
    fit = _fit(track)
    parts = [_road(track.pit, fit, 10), _road(track.lap, fit, 18)]
    for sector in (each for each in venue.sectors if each.id != PIT):
        x, y = fit(*_spot(track, sector.from_m, 0.0))
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{LIGHT.text}"/>')
        beside, across_m = _beside(venue, track, sector)
        anchor = "middle" if abs(across_m) < BESIDE_M / 2 else "start" if across_m > 0 else "end"
        at_x, at_y = fit(beside.x_m, beside.y_m)
        parts.append(svg.text(at_x, at_y + 5, sector.name, anchor=anchor, muted=True))
    for post in venue.posts:
        fill = LIGHT.text if post.id == score.seat else "#fff"
        parts.append(svg.triangle(*fit(*_spot(track, post.at_m, POST_M)), fill))
    parts += [_at(where, number, fit) for number, where in enumerate(_places(known), 1)]
    return svg.picture("Map: where it happened", MAP_HIGH, parts)


def _beside(venue: Venue, track: Track, sector: Sector) -> tuple[Pose, float]:
    """Give where a sector's name has room, and how far east of the road that is."""
    long_m = track.ahead_m(sector.from_m, sector.to_m)
    places = [track.lap.at(sector.from_m + share * long_m) for share in (0.5, 0.35, 0.65)]
    spots = [(place.aside(side * BESIDE_M), place) for place in places for side in (1, -1)]
    beside, place = max(spots, key=lambda each: min(_free_m(venue, track, each[0]), BESIDE_M - 1.0))
    return beside, beside.x_m - place.x_m


def _free_m(venue: Venue, track: Track, spot: Pose) -> float:
    """Give how far a place is from any road, and from any post's mark."""
    roads = (float(np.hypot(*(path.xy - (spot.x_m, spot.y_m)).T).min()) for path in (track.lap, track.pit))
    posts = (_spot(track, post.at_m, POST_M) for post in venue.posts)
    return min(*roads, *(math.dist(post, (spot.x_m, spot.y_m)) for post in posts))


def _places(known: Facts) -> list[tuple[float, float, str]]:
    """Give where signs began to show: x, y and what."""
    found = []
    for at_ms, cue in known.cues:
        view = known.view_at(at_ms + 1_000)
        if not cue.sign or cue.where is None or view is None:
            continue
        kart = next((each for each in view.karts if each.number == cue.kart), None)
        sector = next((each for each in known.venue.sectors if each.id == cue.where), None)
        if kart is not None:
            found.append((kart.x_m, kart.y_m, cue.event))
        elif sector is not None and sector.id != PIT:
            half_m = known.track.ahead_m(sector.from_m, sector.to_m) / 2
            pose = known.track.lap.at(sector.from_m + half_m)
            found.append((pose.x_m, pose.y_m, cue.event))
    return found


def _at(where: tuple[float, float, str], number: int, fit: Fit) -> str:
    x, y = fit(where[0], where[1])
    what = svg.text(x + 16, y + 5, where[2].replace("-", " "), bold=True, halo=True)
    return (
        svg.ring(x, y, 11, LIGHT.text, "#fff", 3)
        + svg.text(x, y + 5, str(number), anchor="middle", bold=True)
        + what
    )


def _spot(track: Track, at_m: float, aside_m: float) -> tuple[float, float]:
    pose = track.lap.at(at_m).aside(aside_m)
    return pose.x_m, pose.y_m


def _fit(track: Track) -> Fit:
    """Give what brings metres into the picture."""
    xs, ys = track.lap.xy.T
    scale = min((WIDE - 6 * EDGE) / (xs.max() - xs.min()), (MAP_HIGH - 5 * EDGE) / (ys.max() - ys.min()))
    left = (WIDE - (xs.max() - xs.min()) * scale) / 2

    def fit(x_m: float, y_m: float) -> tuple[float, float]:
        return float(left + (x_m - xs.min()) * scale), float(MAP_HIGH - 3 * EDGE - (y_m - ys.min()) * scale)

    return fit


def _road(path: Path, fit: Fit, width: float) -> str:
    spots = [fit(x, y) for x, y in path.xy[::4]]
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
    name = "polygon" if path.closed else "polyline"
    return "".join(
        f'<{name} points="{line}" fill="none" stroke="{colour}" stroke-width="{wide}" '
        'stroke-linejoin="round"/>'
        for colour, wide in ((LIGHT.text, width + 2), (LIGHT.track, width))
    )
