"""Where today's walk begins: a fresh sheet, the one under way, or what still counts of one that was signed.

What is of another operating day, or was written before somebody moved the machine's clock, counts for
nothing. What a changed venue file has touched is asked again; everything else stays as it was said.
"""

from __future__ import annotations

import secrets
from importlib.metadata import version

import msgspec
from msgspec import Struct

from signals import say
from signals.controller.day import day_of
from signals.opening.book import Book
from signals.opening.floor import Floor
from signals.opening.places import cut_today, devices_of
from signals.opening.rows import rows_of
from signals.opening.sheet import Sheet
from signals.opening.uptime import moved, stamp
from signals.venue.model import Venue


class Begun(Struct, frozen=True):
    """A sheet to go on with, and whether it is a fresh one."""

    sheet: Sheet
    fresh: bool


def begin(venue: Venue, floor: Floor, book: Book, *, by: str, now_ms: int, causes: dict[str, str]) -> Begun:
    """Give today's sheet; `causes` are the marks of the venue's causes.

    Raises:
        BadInput: the walk under way, or a record, cannot be read.

    """
    kept, day = book.sheet(), day_of(venue.operating, now_ms)
    stale = kept is None or kept.day != day or kept.venue != venue.id
    fresh = _fresh(venue, floor, book, by=by, day=day, now_ms=now_ms)
    if kept is None or stale or moved(kept.clock, stamp(now_ms)):
        return Begun(fresh, fresh=True)
    if kept.digest == venue.digest and kept.signed is None:
        return Begun(kept, fresh=False)
    return Begun(_renewed(kept, fresh, venue, causes), fresh=False)


def _fresh(venue: Venue, floor: Floor, book: Book, *, by: str, day: str, now_ms: int) -> Sheet:
    run = f"{day}-{secrets.token_hex(2)}"
    cut = cut_today(venue, book.signed())
    return Sheet(
        run=run,
        version=version("kerblight"),
        venue=venue.id,
        name=venue.name,
        digest=venue.digest,
        simulated=venue.simulated,
        timezone=venue.operating.timezone,
        day=day,
        post=floor.caller.post,
        post_name=say.post_name(venue, floor.caller.post),
        by=by,
        began_at=now_ms,
        clock=stamp(now_ms),
        cut=cut,
        rows=rows_of(venue, cut=cut, run=run),
        devices=devices_of(venue, floor.ears),
        line_m=tuple((round(x, 1), round(y, 1)) for x, y, *_ in venue.centreline_m),
        spots_m={head.id: (round(head.x_m, 1), round(head.y_m, 1)) for head in venue.heads},
    )


def _renewed(kept: Sheet, fresh: Sheet, venue: Venue, causes: dict[str, str]) -> Sheet:
    """Carry over what still counts: rows of the same mark; it goes on under a new name."""
    cut = kept.cut if kept.cut in {head.id for head in venue.heads} else fresh.cut
    rows = rows_of(venue, cut=cut, run=fresh.run)
    marks = {row.id: row.mark for row in kept.rows}
    same = {row.id for row in rows if marks.get(row.id) == row.mark}
    places = {row.place for row in rows}
    return msgspec.structs.replace(
        fresh,
        cut=cut,
        rows=rows,
        tries={id_: tries for id_, tries in kept.tries.items() if id_ in same},
        causes={id_: found for id_, found in kept.causes.items() if causes.get(id_) == found.mark},
        measures=tuple(measure for measure in kept.measures if measure.place in places),
        retest=tuple(id_ for id_ in kept.retest if id_ in same),
        reopened=tuple(sorted(id_ for id_ in kept.tries if id_ not in same)),
    )
