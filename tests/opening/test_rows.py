"""The rows: what a venue file asks for, in which order, and what a change of it touches."""

from __future__ import annotations

import msgspec

from signals.opening.rows import (
    Kind,
    Row,
    aspect_with,
    in_track_order,
    kart_place,
    lamps_of,
    limits_of,
    rows_of,
    shows_itself,
)
from signals.venue.model import Venue
from signals.words import Aspect
from tests.opening.town import small

replace = msgspec.structs.replace


def marks(venue: Venue, run: str = "") -> dict[str, str]:
    return {row.id: row.mark for row in rows_of(venue, cut="h1", run=run)}


def touched(changed: Venue) -> set[str]:
    before, after = marks(small()), marks(changed)
    return {id_ for id_ in before.keys() | after.keys() if before.get(id_) != after.get(id_)}


def of(kind: Kind) -> list[Row]:
    return [row for row in rows_of(small(), cut="h1") if row.kind is kind]


def test_heads_are_walked_from_the_start_line_in_driving_order() -> None:
    heads = [head.id for head in in_track_order(small())]
    assert heads == ["px1", "px2", "h2", "h3", "h1", "h4"]  # the start line is at 10 m
    walked = list(dict.fromkeys(row.place for row in of(Kind.LAMP)))
    assert walked == heads


def test_every_lamp_every_other_aspect_and_darkness_have_a_row() -> None:
    for head in small().heads:
        rows = [row for row in rows_of(small()) if row.place == head.id]
        assert {row.what for row in rows if row.kind is Kind.LAMP} == set(lamps_of(head))
        shown = {Aspect(row.what) for row in rows if row.kind is Kind.SHOWS}
        alone = {aspect_with(head, lamp) for lamp in lamps_of(head) if shows_itself(head, lamp)}
        assert shown | alone == set(head.aspects)
        assert rows[-2].what == Aspect.DARK


def test_what_lights_every_head_comes_when_all_lamps_were_seen() -> None:
    rows = rows_of(small(), cut="h1")
    assert [row.kind for row in rows[-2:]] == [Kind.INPUT, Kind.CUT]


def test_a_kart_is_told_every_limit_once() -> None:
    kart = small().karts[1]
    assert limits_of(small(), kart) == [0, 5, 8, 12, 15, 28]
    told = [float(row.what) for row in of(Kind.LIMIT) if row.place == kart_place(kart.number)]
    assert told == [0, 5, 8, 12, 15, 28]


def test_items_are_asked_once_or_for_every_kart_and_head() -> None:
    places = {row.id: (row.place, row.effect) for row in of(Kind.ITEM)}
    assert places["surface"] == ("track", "restricts")
    assert {"kart-1/brakes", "kart-2/brakes", "h1/seen", "px2/seen"} <= places.keys()


def test_the_order_of_lamps_is_another_on_another_day() -> None:
    orders = {tuple(row.id for row in rows_of(small(), run=f"day {n}")) for n in range(5)}
    assert len(orders) > 1
    assert {frozenset(order) for order in orders} == {frozenset(next(iter(orders)))}


def test_a_moved_head_touches_its_rows_and_no_other() -> None:
    heads = tuple(replace(head, at_m=119) if head.id == "h3" else head for head in small().heads)
    found = touched(replace(small(), heads=heads))
    assert {id_.partition("/")[0] for id_ in found} == {"h3"}
    assert "h3/seen" not in found  # what a person looks at is asked by its own words


def test_another_wire_of_a_head_touches_that_head() -> None:
    wires = tuple(replace(w, address=40) if w.ref == "H1-GRE" else w for w in small().wires)
    assert {id_.partition("/")[0] for id_ in touched(replace(small(), wires=wires))} == {"h1"}


def test_the_day_a_wire_was_tested_touches_nothing() -> None:
    wires = tuple(replace(wire, tested_on="2026-05-31", row=wire.row + 1) for wire in small().wires)
    assert touched(replace(small(), wires=wires)) == set()


def test_another_limit_asks_for_that_limit_of_every_kart() -> None:
    limits = replace(small().limits, pit=7.0)
    assert touched(replace(small(), limits=limits)) == {
        f"kart-{number}/limit/{limit}" for number in (1, 2) for limit in (7, 8)
    }


def test_another_flash_asks_for_every_head() -> None:
    choices = replace(small().choices, flash_lit_ms=600)
    found = touched(replace(small(), choices=choices))
    assert {id_.partition("/")[0] for id_ in found} == {head.id for head in small().heads}


def test_another_text_of_an_item_asks_it_again() -> None:
    items = tuple(
        replace(item, text="Dry, and swept") if item.id == "surface" else item for item in small().check_items
    )
    assert touched(replace(small(), check_items=items)) == {"surface"}
