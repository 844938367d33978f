"""The rows of the opening check: what a venue file says is to be seen, in the order it is walked.

Head by head around the track from the start line: each lamp lit alone, each other aspect, dark, what is
looked at on a head; then what is looked at once, and kart by kart: which one answers, each limit, what is
looked at. Last come boxes and contacts, and the head that is cut off today: they light red and yellow
everywhere, so every lamp must have been seen before. A row's `mark` is a digest of whatever in the venue
file it depends on: a changed file asks for the touched rows again and leaves the others.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from enum import StrEnum
from hashlib import sha256
from typing import Any, Literal

import msgspec
from msgspec import Struct

from signals.venue.approach import track_of
from signals.venue.model import CheckItem, Head, Kart, Venue
from signals.venue.wires import Wire
from signals.words import Aspect

Effect = Literal["blocks", "restricts", "notes"]
FLASHING = (Aspect.YELLOW_FLASH, Aspect.BLUE_FLASH)
TRACK = "track"
"""The place of what is looked at once, and of causes whose effects are everywhere."""
MARK_CHARACTERS = 12


class Kind(StrEnum):
    """What a row is about."""

    LAMP = "lamp"
    SHOWS = "shows"
    CUT = "cut-off"
    INPUT = "input"
    ANSWERS = "answers"
    LIMIT = "limit"
    ITEM = "item"
    CAUSE = "cause"


class Row(Struct, frozen=True, kw_only=True):
    """One thing to be seen. `place` is a head, an input, `kart-7` or the track; `what` goes by the kind."""

    id: str
    kind: Kind
    place: str
    what: str
    effect: Effect = "blocks"
    mark: str = ""


def rows_of(venue: Venue, *, cut: str | None = None, run: str = "") -> tuple[Row, ...]:
    """Give every row but the causes, in the order of the walk; `cut` is the head to be cut off today.

    `run` decides the order in which a head's lamps are lit and karts are commanded: who always sees
    red first says red without looking.
    """
    dice = random.Random(run)  # noqa: S311 - an order nobody can guess by habit, no secret
    heads = (row for head in in_track_order(venue) for row in _of_head(venue, head, dice))
    once = (_item(item, TRACK) for item in venue.check_items if item.each == "venue")
    return (*heads, *once, *_karts(venue, dice), *_inputs(venue), *_cut(venue, cut))


def in_track_order(venue: Venue) -> list[Head]:
    """Give the heads as a walker meets them, driving direction, from the start line."""
    track = track_of(venue)
    return sorted(venue.heads, key=lambda head: (track.ahead(venue.start_line_m, head.at_m), head.id))


def lamps_of(head: Head) -> tuple[str, ...]:
    """Give a head's lamps, each once, in the order of its aspects."""
    return tuple(dict.fromkeys(lamp for lamps in head.aspects.values() for lamp in lamps))


def aspect_with(head: Head, lamp: str) -> Aspect:
    """Give the aspect under which a lamp is lit in a test: a steady one with the fewest lamps that has it."""
    able = [aspect for aspect, lamps in head.aspects.items() if lamp in lamps]
    return min(able, key=lambda aspect: (aspect in FLASHING, len(head.aspects[aspect])))


def shows_itself(head: Head, lamp: str) -> bool:
    """Whether lighting a lamp alone is an aspect of its own, so that one look proves both."""
    aspect = aspect_with(head, lamp)
    return head.aspects[aspect] == (lamp,) and aspect not in FLASHING


def limits_of(venue: Venue, kart: Kart) -> list[float]:
    """Give every limit a kart is told on a day, km/h, once each, from standing to full speed."""
    limits = venue.limits
    told = {0.0, limits.stop, limits.creep, limits.pit, limits.return_, limits.disqualified}
    return sorted(told | {limits.caution, limits.finish, limits.classes[kart.class_]})


def kart_place(number: int) -> str:
    """Name a kart as a place of rows."""
    return f"kart-{number}"


def kart_of(place: str) -> int:
    """Give the number of a kart from its place."""
    return int(place.removeprefix("kart-"))


def mark_of(*parts: Any) -> str:
    """Digest whatever a row depends on."""
    text = msgspec.json.encode(msgspec.to_builtins(parts), order="sorted")
    return sha256(text).hexdigest()[:MARK_CHARACTERS]


def head_mark(venue: Venue, head: Head) -> str:
    """Digest what a head's rows depend on: the head, its wires, the flash, what it falls to."""
    node = next(node for node in venue.nodes if node.id == head.node)
    choices = venue.choices
    flash = (choices.flash_period_ms, choices.flash_lit_ms, choices.fail_aspect[head.role])
    return mark_of(head, _wires(venue, head.id), flash, node.lease_ms, node.simulated)


def _wires(venue: Venue, place: str) -> list[Wire]:
    """Give a place's wires, without what says nothing of how it is wired."""
    own = (wire for wire in venue.wires if wire.place == place)
    return [msgspec.structs.replace(wire, row=0, tested_on=None) for wire in own]


def _of_head(venue: Venue, head: Head, dice: random.Random) -> Iterator[Row]:
    mark = head_mark(venue, head)

    def row(kind: Kind, what: str) -> Row:
        return Row(id=f"{head.id}/{kind}/{what}", kind=kind, place=head.id, what=what, mark=mark)

    lamps = [row(Kind.LAMP, lamp) for lamp in lamps_of(head)]
    seen = {aspect_with(head, lamp) for lamp in lamps_of(head) if shows_itself(head, lamp)}
    shows = [row(Kind.SHOWS, aspect) for aspect in head.aspects if aspect not in (*seen, Aspect.DARK)]
    dice.shuffle(lamps)
    dice.shuffle(shows)
    yield from (*lamps, *shows, row(Kind.SHOWS, Aspect.DARK))
    yield from (_item(item, head.id) for item in venue.check_items if item.each == "head")


def _cut(venue: Venue, cut: str | None) -> Iterator[Row]:
    for head in venue.heads:
        if head.id == cut:
            what = venue.choices.fail_aspect[head.role]
            mark = head_mark(venue, head)
            yield Row(id=f"{head.id}/{Kind.CUT}", kind=Kind.CUT, place=head.id, what=what, mark=mark)


def _inputs(venue: Venue) -> Iterator[Row]:
    for each in venue.inputs:
        mark = mark_of(each, _wires(venue, each.id))
        yield Row(id=f"{each.id}/pressed", kind=Kind.INPUT, place=each.id, what=each.kind, mark=mark)


def _karts(venue: Venue, dice: random.Random) -> Iterator[Row]:
    called = list(venue.karts)
    dice.shuffle(called)
    for kart in called:
        place = kart_place(kart.number)
        yield Row(
            id=f"{place}/answers",
            kind=Kind.ANSWERS,
            place=place,
            what=str(kart.number),
            mark=mark_of(kart),
        )
    for kart in venue.karts:
        yield from _limits(venue, kart)
        place = kart_place(kart.number)
        yield from (_item(item, place) for item in venue.check_items if item.each == "kart")


def _limits(venue: Venue, kart: Kart) -> Iterator[Row]:
    place = kart_place(kart.number)
    for limit in limits_of(venue, kart):
        what = f"{limit:g}"
        mark = mark_of(kart, limit)
        yield Row(id=f"{place}/limit/{what}", kind=Kind.LIMIT, place=place, what=what, mark=mark)


def _item(item: CheckItem, place: str) -> Row:
    id_ = item.id if place == TRACK else f"{place}/{item.id}"
    return Row(id=id_, kind=Kind.ITEM, place=place, what=item.id, effect=item.effect, mark=mark_of(item))
