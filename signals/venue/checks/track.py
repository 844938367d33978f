"""The track: its direction, what lies along it, its sectors, the pit lane."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from signals.venue.build import holds
from signals.venue.draft import Draft
from signals.venue.form import SectorTable
from signals.venue.geometry import Polyline
from signals.venue.lines import KeyPath
from signals.venue.read import BROKEN, sound
from signals.words import PIT

SHORTEST_M, LONGEST_M = 50, 10_000
SAME_M = 0.005
"""Two written distances nearer than this are one place."""


def runs_as_it_says(draft: Draft) -> None:
    """Report a direction that the centreline contradicts."""
    if draft.track is None or BROKEN in (draft.form.venue, getattr(draft.form.venue, "direction", BROKEN)):
        return
    area = draft.track.area_m2()
    runs = "anticlockwise" if area > 0 else "clockwise"
    if draft.form.venue.direction != runs:
        right = f"the centreline runs {runs} (signed area {area:.0f} m²); reverse its rows or write {runs}"
        draft.say(("venue", "direction"), draft.form.venue.direction, right)


def is_as_long_as_a_track(draft: Draft) -> None:
    """Report a centreline far from any kart track's length, as when its unit is not the metre."""
    if draft.track is None or SHORTEST_M <= draft.track.length_m <= LONGEST_M:
        return
    right = f"must be {SHORTEST_M} to {LONGEST_M} m around; are its points in metres?"
    draft.say(("track",), f"{draft.track.length_m:.1f} m around", right)


def _places(draft: Draft) -> Iterator[tuple[KeyPath, float]]:
    file = draft.form
    for table, names in (("track", ("start_line_m",)), ("pit", ("entry_m", "exit_m"))):
        for _, each in sound((getattr(file, table),)):
            yield from (((table, name), getattr(each, name)) for name in names)
    for table, names in (
        ("sector", ("from_m", "to_m")),
        ("post", ("at_m",)),
        ("loop", ("at_m",)),
        ("head", ("at_m",)),
    ):
        for index, each in sound(getattr(file, table)):
            yield from (((table, index, name), getattr(each, name)) for name in names)


def places_lie_on_it(draft: Draft) -> None:
    """Report distances beyond the track's length."""
    if draft.track is None:
        return
    for path, along_m in _places(draft):
        if along_m is not BROKEN and along_m >= draft.track.length_m:
            draft.say(
                path,
                along_m,
                f"must be below the track's length, {draft.track.length_m:.2f} m (its end is 0)",
            )


def sectors_cover_it_once(draft: Draft) -> None:
    """Report gaps and overlaps between sectors, which must follow one another around the track."""
    sectors = list(sound(draft.form.sector, "id", "from_m", "to_m"))
    if draft.track is None or len(sectors) != len(draft.form.sector):
        return
    joined = True
    for (index, sector), (_, after) in pairwise([*sectors, sectors[0]]):
        if abs(sector.to_m - after.from_m) >= SAME_M:
            joined = False
            right = f"must be {after.from_m:g}, where {after.id} begins: sectors leave no gap and no overlap"
            draft.say(("sector", index, "to_m"), sector.to_m, right)
    if joined:
        _once_around(draft, draft.track, [sector for _, sector in sectors])


def _once_around(draft: Draft, track: Polyline, sectors: list[SectorTable]) -> None:
    lengths = [_length(sector, track, alone=len(sectors) == 1) for sector in sectors]
    if not math.isclose(sum(lengths), track.length_m, abs_tol=SAME_M * len(sectors)):
        cover = f"cover {sum(lengths):.2f} m of {track.length_m:.2f} m"
        right = f"{cover}; write them in driving order, once around"
        draft.say(("sector",), f"{len(sectors)} sectors", right)


def _length(sector: SectorTable, track: Polyline, *, alone: bool) -> float:
    return track.length_m if alone else track.ahead(sector.from_m, sector.to_m)


def pit_lane_joins_it(draft: Draft) -> None:
    """Report a pit lane whose ends are not on the track where it says."""
    track, pit, form = draft.track, draft.pit, draft.form.pit
    if track is None or pit is None or BROKEN in (form.entry_m, form.exit_m):
        return
    if form.entry_m == form.exit_m:
        draft.say(("pit", "exit_m"), form.exit_m, "must differ from entry_m")
    for key, along_m, end, row in (
        ("entry_m", form.entry_m, "first", pit.rows[0]),
        ("exit_m", form.exit_m, "last", pit.rows[-1]),
    ):
        off_m = math.dist(track.point(along_m), row[:2])
        reach_m = max(track.reach_m(along_m)) + max(row[2:])
        if off_m > reach_m:
            off = f"is {off_m:.1f} m from the pit lane's {end} point ({row[0]}, {row[1]})"
            right = f"{off}; at most {reach_m:.1f} m joins"
            draft.say(("pit", key), along_m, right)


def loops_agree(draft: Draft) -> None:
    """Report loops whose sector is neither the pit lane nor the one that holds their place."""
    if draft.track is None:
        return
    for index, loop in sound(draft.form.loop, "at_m", "sector"):
        if loop.sector in (None, PIT):
            continue
        named = [
            each for _, each in sound(draft.form.sector, "id", "from_m", "to_m") if each.id == loop.sector
        ]
        if named and not any(holds(each, loop.at_m, draft.track) for each in named):
            each = named[0]
            right = f"at_m {loop.at_m} is not in it ({each.from_m} to {each.to_m} m)"
            draft.say(("loop", index, "sector"), loop.sector, right)
