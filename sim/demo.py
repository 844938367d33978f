"""Invented drivers, for groups on simulated tracks."""

from __future__ import annotations

from collections.abc import Collection

from signals.mqtt.contract import Entry
from signals.venue.model import Venue

GROUP_SIZE = 6
_NAMES = (
    "Ada Fenwick", "Bo Lindqvar", "Cleo Marsh", "Dario Pell", "Edda Storrow", "Finn Okabar",
    "Greta Halm", "Hugo Vance", "Ines Tarrow", "Jonas Brill", "Kaya Dunmore", "Lars Ottway",
    "Mira Sedge", "Nico Farrand", "Olga Presk", "Pim Hollis", "Quinn Abery", "Rosa Delmar",
    "Sami Kettle", "Tova Wring", "Uli Cobb", "Vera Nash", "Wim Ferrol", "Yuna Craster",
)  # fmt: skip


def group(venue: Venue, turn: int) -> list[Entry]:
    """Give the demo group of a turn: one class, up to six karts; classes take turns, karts rotate."""
    classes = list(dict.fromkeys(kart.class_ for kart in venue.karts))
    class_ = classes[turn % len(classes)]
    fleet = [kart.number for kart in venue.karts if kart.class_ == class_]
    first = turn // len(classes) * GROUP_SIZE
    chosen = sorted({fleet[(first + place) % len(fleet)] for place in range(min(GROUP_SIZE, len(fleet)))})
    names = (_NAMES[(turn * GROUP_SIZE + place) % len(_NAMES)] for place in range(len(chosen)))
    return [
        Entry(number=number, driver=name, class_=class_) for number, name in zip(chosen, names, strict=True)
    ]


def driver(place: int) -> str:
    """Give the invented driver at a place of a group."""
    return _NAMES[place % len(_NAMES)]


def late(taken: Collection[str]) -> str:
    """Give a driver who comes late: one of the invented who does not drive yet."""
    return next((name for name in _NAMES if name not in taken), _NAMES[0])
